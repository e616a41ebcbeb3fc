package store_test

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"limitans/eye"
	"limitans/internal/pgtest"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/internal/vault"
)

// The writer that is killed runs as a process of its own: this test binary,
// told by the environment where to write.
const (
	killPlace = "LIMITANS_TEST_KILL_PLACE" // folder or postgres://…
	killVault = "LIMITANS_TEST_KILL_VAULT"
	// writeAtOnce is how many goroutines of the process write.
	writeAtOnce = 3
)

// TestWriterToBeKilled is the killed process, not a test of its own.
func TestWriterToBeKilled(t *testing.T) {
	place := os.Getenv(killPlace)
	if place == "" {
		return // the ordinary run: TestKilled starts it as a process
	}
	options := store.Options{Folder: place}
	if strings.HasPrefix(place, "postgres://") {
		options = store.Options{Address: place}
	}
	ctx := context.Background()
	s, err := store.Open(ctx, options)
	if err != nil {
		t.Fatal(err)
	}
	v, err := vault.Open(ctx, os.Getenv(killVault), vault.Options{})
	if err != nil {
		t.Fatal(err)
	}
	failed := make(chan error)
	for range writeAtOnce {
		go func() {
			for {
				if err := writeOne(ctx, s, v); err != nil {
					failed <- err
					return
				}
			}
		}()
	}
	t.Fatal(<-failed)
}

// writeOne writes a patient with an eye and a document whose file is in the
// vault, changes the patient in a second transaction, and says after each commit
// what was acknowledged.
func writeOne(ctx context.Context, s *store.Store, v *vault.Vault) error {
	actor := record.Actor{AccountID: "kill"}
	patient, own, document := &record.Patient{BirthYear: 1950}, &record.Eye{Side: eye.Right}, &record.Document{Sort: record.DocumentLetter}
	err := s.Write(ctx, actor, func(tx *store.Tx) error {
		for _, base := range []*record.Base{&patient.Base, &own.Base, &document.Base} {
			id, err := tx.NewID()
			if err != nil {
				return err
			}
			base.ID = id
		}
		return nil
	})
	if err != nil {
		return err
	}
	// The file is named by its content, so that its half would be seen.
	content, err := v.Put(ctx, strings.NewReader(strings.Repeat(string(patient.ID), 2000)), nil)
	if err != nil {
		return err
	}
	own.PatientID, document.PatientID = patient.ID, patient.ID
	document.On = record.Date{Year: 2026, Month: 1, Day: 5}
	document.File = record.FileRef{SHA256: content.Hash.String(), Bytes: content.Size}
	err = s.Write(ctx, actor, func(tx *store.Tx) error {
		for _, e := range []record.Entity{patient, own, document} {
			if _, err := tx.Put(ctx, e, ""); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	fmt.Printf("kept %s %s %s %s\n", patient.ID, own.ID, document.ID, content.Hash)
	patient.Version, patient.Sex = 1, record.Female
	err = s.Write(ctx, actor, func(tx *store.Tx) error {
		_, err := tx.Put(ctx, patient, "")
		return err
	})
	if err != nil {
		return err
	}
	fmt.Printf("changed %s\n", patient.ID)
	return nil
}

// TestKilled kills a process of three writers with SIGKILL at random moments,
// 200 times on each database (6 times under the race detector), on PostgreSQL
// every tenth time the server as well. After each kill everything acknowledged
// is there, and nothing is there by half.
func TestKilled(t *testing.T) {
	rounds := 200
	if testing.Short() {
		rounds = 6
	}
	t.Run("folder", func(t *testing.T) {
		k := newKiller(t, t.TempDir(), store.Options{})
		for round := range rounds {
			k.round(t, round, rounds, nil)
		}
		k.tell(t)
	})
	t.Run("postgresql", func(t *testing.T) {
		server := pgtest.Start(t, true)
		k := newKiller(t, server.Address(), store.Options{})
		for round := range rounds {
			var also func()
			if round%10 == 5 {
				also = func() { server.Kill(); server.Restart() }
			}
			k.round(t, round, rounds, also)
		}
		k.tell(t)
	})
}

// killer remembers what was acknowledged over all rounds.
type killer struct {
	place, vault string
	options      store.Options
	rng          *rand.Rand
	kept         [][]string // of the present round: patient, eye, document, hash
	changed      []string
	all, killed  int
	empty        int // kills before anything was acknowledged
}

func newKiller(t *testing.T, place string, options store.Options) *killer {
	options.Folder = place
	if strings.HasPrefix(place, "postgres://") {
		options.Folder, options.Address = "", place
	}
	// The tables are made before the first kill, so that kills hit writing.
	s, err := store.Open(t.Context(), options)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return &killer{place: place, vault: filepath.Join(t.TempDir(), "vault"), options: options, rng: rand.New(rand.NewPCG(7, 7))}
}

// round starts the writers, kills them and looks.
func (k *killer) round(t *testing.T, round, rounds int, also func()) {
	t.Helper()
	k.run(t, also)
	s, err := store.Open(t.Context(), k.options)
	if err != nil {
		t.Fatalf("round %d: opening after the kill: %v", round, err)
	}
	defer s.Close()
	v, err := vault.Open(t.Context(), k.vault, vault.Options{})
	if err != nil {
		t.Fatalf("round %d: opening the vault after the kill: %v", round, err)
	}
	k.everythingIsThere(t, round, s, v)
	k.nothingIsHalf(t, round, s)
	// The whole proof is long in the end; every tenth round has it, and the last.
	if round%10 == 0 || round == rounds-1 {
		if report, err := s.Verify(t.Context()); err != nil || !report.OK() {
			t.Fatalf("round %d: %v %+v", round, err, report)
		}
		report, err := v.Verify(t.Context(), nil)
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		for _, f := range report.Findings {
			// A content whose storing was cut off before it had a name in the
			// vault: nobody was told that it was kept.
			if f.Kind != vault.Unknown {
				t.Fatalf("round %d: %+v", round, f)
			}
		}
	}
}

// run starts the process, lets it acknowledge a random number of writes within
// a random time, and kills it.
func (k *killer) run(t *testing.T, also func()) {
	t.Helper()
	k.kept, k.changed = nil, nil
	writer := exec.Command(os.Args[0], "-test.run=^TestWriterToBeKilled$", "-test.count=1")
	writer.Env = append(os.Environ(), killPlace+"="+k.place, killVault+"="+k.vault)
	said, err := writer.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	writer.Stderr = os.Stderr
	if err := writer.Start(); err != nil {
		t.Fatal(err)
	}
	lines := make(chan string, 1<<16)
	go func() {
		defer close(lines)
		for scanner := bufio.NewScanner(said); scanner.Scan(); {
			lines <- scanner.Text()
		}
	}()
	// Some kills hit the start, most the writing: the moment is drawn from the
	// first acknowledgement on, or before it.
	if k.rng.IntN(10) > 0 {
		if line, open := <-lines; open {
			k.take(t, line)
		} else {
			t.Fatalf("the writer ended by itself: %v", writer.Wait())
		}
	}
	time.Sleep(time.Duration(k.rng.IntN(150_000)) * time.Microsecond)
	if also != nil {
		also()
	}
	if err := writer.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	for line := range lines {
		k.take(t, line)
	}
	_ = writer.Wait() // killed
	k.killed++
	k.all += len(k.kept) + len(k.changed)
	if len(k.kept) == 0 {
		k.empty++
	}
}

// take notes an acknowledgement. When the server was killed, the writer may end
// with a failure of its own, which is no acknowledgement.
func (k *killer) take(t *testing.T, line string) {
	switch fields := strings.Fields(line); {
	case len(fields) == 5 && fields[0] == "kept":
		k.kept = append(k.kept, fields[1:])
	case len(fields) == 2 && fields[0] == "changed":
		k.changed = append(k.changed, fields[1])
	}
}

func (k *killer) everythingIsThere(t *testing.T, round int, s *store.Store, v *vault.Vault) {
	t.Helper()
	for _, one := range k.kept {
		for i, kind := range []record.Kind{record.KindPatient, record.KindEye, record.KindDocument} {
			if _, err := s.Get(t.Context(), kind, record.ID(one[i])); err != nil {
				t.Fatalf("round %d: acknowledged and lost: %s: %v", round, kind, err)
			}
		}
		hash, err := vault.ParseHash(one[3])
		if err != nil {
			t.Fatal(err)
		}
		if _, err := v.Stat(t.Context(), hash); err != nil {
			t.Fatalf("round %d: acknowledged and lost: %v", round, err)
		}
	}
	for _, id := range k.changed {
		e, err := s.Get(t.Context(), record.KindPatient, record.ID(id))
		if err != nil || e.(*record.Patient).Sex != record.Female || e.Identity().Version != 2 {
			t.Fatalf("round %d: the acknowledged change is lost: %+v %v", round, e, err)
		}
	}
}

// nothingIsHalf: what one transaction wrote is there whole or not at all.
func (k *killer) nothingIsHalf(t *testing.T, round int, s *store.Store) {
	t.Helper()
	var patients, alone int
	const query = `select count(*), coalesce(sum(case when e.id is null or d.id is null then 1 else 0 end), 0) from patient p
		left join eye e on e.patient_id = p.id left join document d on d.patient_id = p.id`
	if err := s.Reader().QueryRow(t.Context(), query).Scan(&patients, &alone); err != nil {
		t.Fatal(err)
	}
	if alone > 0 || patients < len(k.kept) {
		t.Fatalf("round %d: %d of %d patients are there by half", round, alone, patients)
	}
}

func (k *killer) tell(t *testing.T) {
	if k.all < k.killed {
		t.Errorf("only %d writes were acknowledged over %d kills: the kills hit nothing", k.all, k.killed)
	}
	t.Logf("%d kills, %d acknowledged writes, all there; %d kills before the first", k.killed, k.all, k.empty)
}
