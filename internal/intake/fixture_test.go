package intake

import (
	"bytes"
	"context"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"limitans/eye"
	"limitans/internal/exchange/dicom"
	"limitans/internal/pgtest"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/internal/vault"
	"limitans/internal/work"
	"limitans/oct"
	"limitans/oct/phantom"
)

var (
	nurse = record.Actor{AccountID: "account-1", Place: "clinic"}
	now   = time.Date(2026, 11, 24, 12, 0, 0, 0, time.UTC)
)

const program = "test-1"

// fixture is a record with one patient and both eyes.
type fixture struct {
	t           *testing.T
	options     store.Options
	store       *store.Store
	vault       *vault.Vault
	queue       *work.Queue
	intake      *Intake
	right, left *record.Eye
	person      *record.Person
}

// onBoth runs a test on each database.
func onBoth(t *testing.T, test func(t *testing.T, f *fixture)) {
	t.Helper()
	for name, place := range map[string]func(t *testing.T) store.Options{
		"folder":     func(t *testing.T) store.Options { return store.Options{Folder: t.TempDir()} },
		"postgresql": func(t *testing.T) store.Options { return store.Options{Address: pgtest.Database(t)} },
	} {
		t.Run(name, func(t *testing.T) { test(t, newFixture(t, place(t))) })
	}
}

// inFolder is a fixture on the embedded database, where the two do not differ.
func inFolder(t *testing.T) *fixture {
	t.Helper()
	return newFixture(t, store.Options{Folder: t.TempDir()})
}

func newFixture(t *testing.T, o store.Options) *fixture {
	t.Helper()
	o.Now = func() time.Time { return now }
	f := &fixture{t: t, options: o}
	var err error
	if f.store, err = store.Open(t.Context(), o); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = f.store.Close() })
	if f.vault, err = vault.Open(t.Context(), t.TempDir(), vault.Options{}); err != nil {
		t.Fatal(err)
	}
	if f.queue, err = Queue(t.Context(), f.store, nil, work.Options{}); err != nil {
		t.Fatal(err)
	}
	f.intake = &Intake{Store: f.store, Vault: f.vault, Queue: f.queue, Program: program, Now: o.Now}
	f.write(func(tx *store.Tx) error {
		patient := &record.Patient{BirthYear: 1950, Sex: record.Female}
		if err := f.put(tx, patient); err != nil {
			return err
		}
		f.person = &record.Person{
			PatientID: patient.ID, UnitNumber: "00417", BirthDate: record.Date{Year: 1950, Month: 2, Day: 3},
			Names: []record.PersonName{{Text: "Phantom Invented", Use: record.NameOfficial}},
		}
		f.right = &record.Eye{PatientID: patient.ID, Side: eye.Right}
		f.left = &record.Eye{PatientID: patient.ID, Side: eye.Left}
		f.right.AxialLengths = []record.AxialLength{{LengthMM: 26.5, Method: record.BiometryLight, MediumThen: record.MediumFluid}}
		for _, e := range []record.Entity{f.person, f.right, f.left} {
			if err := f.put(tx, e); err != nil {
				return err
			}
		}
		return nil
	})
	return f
}

func (f *fixture) write(change func(tx *store.Tx) error) {
	f.t.Helper()
	if err := f.store.Write(f.t.Context(), nurse, change); err != nil {
		f.t.Fatal(err)
	}
}

func (f *fixture) put(tx *store.Tx, e record.Entity) (err error) {
	if e.Identity().ID, err = tx.NewID(); err != nil {
		return err
	}
	_, err = tx.Put(f.t.Context(), e, "")
	return err
}

// keep keeps a scan that must be kept.
func (f *fixture) keep(r Request) Kept {
	f.t.Helper()
	kept, err := f.intake.Keep(f.t.Context(), nurse, r)
	if err != nil {
		f.t.Fatal(err)
	}
	return kept
}

// scanOf is a request for the right eye.
func (f *fixture) scanOf(content []byte, name string) Request {
	return Request{
		Kind: record.KindScan, Name: name, Content: bytes.NewReader(content), EyeID: f.right.ID,
		FormSide: eye.Right, FormText: "right", CameFrom: "test",
	}
}

func (f *fixture) course(id record.ID) *store.Course {
	f.t.Helper()
	c, err := f.store.Course(f.t.Context(), id, false)
	if err != nil {
		f.t.Fatal(err)
	}
	return c
}

// nothing fails when anything was kept of the right eye.
func (f *fixture) nothing() {
	f.t.Helper()
	c := f.course(f.right.ID)
	files, err := f.vault.Verify(f.t.Context(), nil)
	jobs, listing := f.queue.List(f.t.Context(), work.Filter{})
	if err != nil || listing != nil || len(c.Scans)+len(c.Films)+len(c.Documents)+files.Contents+len(jobs) > 0 {
		f.t.Errorf("something was kept: %d scans, %d films, %d documents, %d files, %d jobs, %v, %v",
			len(c.Scans), len(c.Films), len(c.Documents), files.Contents, len(jobs), err, listing)
	}
}

// work runs all waiting jobs and returns them in the order of their numbers.
func (f *fixture) work() []work.Job {
	f.t.Helper()
	var kinds work.Kinds
	bench := Bench{Store: f.store, Vault: f.vault, Program: program, Now: f.options.Now}
	if err := bench.Register(&kinds); err != nil {
		f.t.Fatal(err)
	}
	queue, err := Queue(f.t.Context(), f.store, &kinds, work.Options{Poll: 20 * time.Millisecond, Beat: 50 * time.Millisecond, DeadBeats: 100})
	if err != nil {
		f.t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	if err := queue.Start(ctx); err != nil {
		f.t.Fatal(err)
	}
	defer func() { stop(); queue.Wait() }()
	for deadline := time.Now().Add(2 * time.Minute); ; time.Sleep(20 * time.Millisecond) {
		jobs, err := queue.List(ctx, work.Filter{States: []work.State{work.Waiting, work.Running}})
		if err != nil {
			f.t.Fatal(err)
		}
		if len(jobs) == 0 {
			break
		}
		if time.Now().After(deadline) {
			f.t.Fatalf("jobs do not end: %+v", jobs)
		}
	}
	jobs, err := queue.List(ctx, work.Filter{})
	if err != nil {
		f.t.Fatal(err)
	}
	for i, j := 0, len(jobs)-1; i < j; i, j = i+1, j-1 {
		jobs[i], jobs[j] = jobs[j], jobs[i]
	}
	return jobs
}

// The size of the drawings: small, because most tests are not about measuring.
const (
	drawnSlices, drawnRows, drawnColumns = 11, 220, 240
	drawnLateralUM                       = 22.0
)

// drawing is a small phantom with a hole.
func drawing(t testing.TB, side eye.Laterality, axialLengthMM float64) *oct.Volume {
	t.Helper()
	v, err := drawn(side)
	if err != nil {
		t.Fatal(err)
	}
	v.Acquisition.AxialLengthMM = axialLengthMM
	return v
}

func drawn(side eye.Laterality) (*oct.Volume, error) {
	p := phantom.Draw(rand.New(rand.NewPCG(7, 7)), phantom.Large)
	p.Slices, p.Rows, p.Columns = drawnSlices, drawnRows, drawnColumns
	p.DepthUM, p.LateralUM, p.SliceUM = 5, drawnLateralUM, 150
	p.Hole.MinimumUM, p.Hole.BaseRatio = 600, 1.6
	p.BitDepth, p.EpitheliumRow, p.Inverted, p.WhiteWedge = 8, 0, false, false
	p.TiltLateralDeg, p.TiltSliceDeg = 0, 0
	p.Laterality = side
	v, _, err := phantom.Make(p)
	return v, err
}

// drawnObject is a drawing as a DICOM object that was made two days before now.
func drawnObject(side eye.Laterality) ([]byte, error) {
	v, err := drawn(side)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	err = dicom.WriteOphthalmicTomography(&out, v, dicom.OphthalmicMeta{Seed: "intake", At: now.AddDate(0, 0, -2), Model: "Invented tomograph"})
	return out.Bytes(), err
}

// The DICOM objects are drawn once.
var (
	drawnRight = sync.OnceValues(func() ([]byte, error) { return drawnObject(eye.Right) })
	drawnLeft  = sync.OnceValues(func() ([]byte, error) { return drawnObject(eye.Left) })
)

// rightScan is the DICOM object of a right eye.
func rightScan(t testing.TB) []byte {
	t.Helper()
	return must(t, drawnRight)
}

// leftScan is that of a left one.
func leftScan(t testing.TB) []byte {
	t.Helper()
	return must(t, drawnLeft)
}

func must(t testing.TB, make func() ([]byte, error)) []byte {
	t.Helper()
	object, err := make()
	if err != nil {
		t.Fatal(err)
	}
	return object
}

// withText replaces a value of a DICOM object by another of the same length.
func withText(t testing.TB, object []byte, old, replacement string) []byte {
	t.Helper()
	if len(old) != len(replacement) || !bytes.Contains(object, []byte(old)) {
		t.Fatal("no such text, or another length")
	}
	return bytes.Replace(object, []byte(old), []byte(replacement), 1)
}
