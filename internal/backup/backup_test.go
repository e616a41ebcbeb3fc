package backup

import (
	"context"
	"encoding/json"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"filippo.io/age"

	"limitans/fault"
	"limitans/internal/demo"
	"limitans/internal/pgtest"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/internal/vault"
)

var (
	testDay = record.Date{Year: 2026, Month: 11, Day: 24}
	testNow = time.Date(2026, 11, 24, 12, 0, 0, 0, time.UTC)
)

// engines are the places a record can be in.
var engines = map[string]func(t testing.TB) store.Options{
	"folder":     func(t testing.TB) store.Options { return store.Options{Folder: t.TempDir()} },
	"postgresql": func(t testing.TB) store.Options { return store.Options{Address: pgtest.Database(t)} },
}

func openStore(t testing.TB, engine string) *store.Store {
	t.Helper()
	s, err := store.Open(t.Context(), engines[engine](t))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func openVault(t testing.TB) *vault.Vault {
	t.Helper()
	v, err := vault.Open(t.Context(), filepath.Join(t.TempDir(), "vault"), vault.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// filmText is the content of a film: of several chunks of the vault, but in the
// race run, which is slow with long contents.
func filmText() string {
	if testing.Short() {
		return strings.Repeat("film ", 30_000)
	}
	return strings.Repeat("film ", 3_000_000)
}

// filled is a record with an invented clinic and some files.
func filled(t testing.TB, engine string, patients int) (*store.Store, *vault.Vault) {
	t.Helper()
	s, v := openStore(t, engine), openVault(t)
	c, err := demo.New(patients, 8, testDay)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := demo.Fill(t.Context(), c, s, demo.FillOptions{}); err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{"", "a scan that is a line of text", filmText()} {
		if _, err := v.Put(t.Context(), strings.NewReader(text), nil); err != nil {
			t.Fatal(err)
		}
	}
	return s, v
}

// sameRecord compares two records entry by entry of their histories, whatever
// engine they are on, and proves both.
func sameRecord(t *testing.T, a, b *store.Store) {
	t.Helper()
	for _, s := range []*store.Store{a, b} {
		if report, err := s.Verify(t.Context()); err != nil || !report.OK() {
			t.Errorf("%s: %v %+v", s.Where(), err, report)
		}
	}
	first, err := a.HistorySince(t.Context(), 0, 1_000_000)
	if err != nil {
		t.Fatal(err)
	}
	second, err := b.HistorySince(t.Context(), 0, 1_000_000)
	if err != nil {
		t.Fatal(err)
	}
	one, _ := json.Marshal(first)
	two, _ := json.Marshal(second)
	if len(first) == 0 || string(one) != string(two) {
		t.Errorf("the histories differ: %d and %d entries", len(first), len(second))
	}
}

func TestRoundTrip(t *testing.T) {
	patients := 12
	if testing.Short() {
		patients = 2
	}
	for from := range engines {
		for to := range engines {
			t.Run(from+" to "+to, func(t *testing.T) {
				if testing.Short() && from == to {
					t.Skip("one goroutine: runs in the full run of scripts/test, without the race detector")
				}
				s, v := filled(t, from, patients)
				path := filepath.Join(t.TempDir(), "record.backup")
				wrote, err := Write(t.Context(), path, s, v, Options{Program: "test", Now: testNow})
				if err != nil {
					t.Fatal(err)
				}
				if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
					t.Errorf("%v, %v: a backup is for its owner alone", info.Mode(), err)
				}
				checked, err := Check(t.Context(), path)
				if err != nil {
					t.Fatal(err)
				}
				target, files := openStore(t, to), openVault(t)
				restored, err := Restore(t.Context(), path, target, files)
				if err != nil {
					t.Fatal(err)
				}
				one, _ := json.Marshal(wrote)
				two, _ := json.Marshal(checked)
				three, _ := json.Marshal(restored)
				if string(one) != string(two) || string(two) != string(three) || wrote.Files != 3 || wrote.FileBytes < int64(len(filmText())) || wrote.Rows["person"] != int64(patients) {
					t.Errorf("wrote %s\nchecked %s\nrestored %s", one, two, three)
				}
				sameRecord(t, s, target)
				if report, err := files.Verify(t.Context(), nil); err != nil || report.Contents != 3 || len(report.Findings) > 0 {
					t.Errorf("%v %+v", err, report)
				}
				if unit, err := target.Unit(t.Context()); err != nil || unit.DayPhone != "01632 960 142" || unit.Version != 1 {
					t.Errorf("the unit reads %+v (%v)", unit, err)
				}
				// What was restored goes on like the original.
				err = target.Write(t.Context(), record.Actor{AccountID: "a"}, func(tx *store.Tx) error {
					id, err := tx.NewID()
					if err != nil {
						return err
					}
					_, err = tx.Put(t.Context(), &record.Patient{Base: record.Base{ID: id}, BirthYear: 1950}, "")
					return err
				})
				if err != nil {
					t.Error(err)
				}
				if _, err := Restore(t.Context(), path, target, nil); fault.CodeOf(err) != fault.Conflict {
					t.Errorf("restored over a record: %v", err)
				}
			})
		}
	}
}

// TestConsistentWhileWritten: while one goroutine writes patients in pairs, every
// backup holds whole pairs and a history that can be proved.
func TestConsistentWhileWritten(t *testing.T) {
	for engine := range engines {
		t.Run(engine, func(t *testing.T) {
			s := openStore(t, engine)
			ctx, stop := context.WithCancel(t.Context())
			done := make(chan error, 1)
			go func() {
				for ctx.Err() == nil {
					err := s.Write(ctx, record.Actor{AccountID: "writer"}, func(tx *store.Tx) error {
						for range 2 {
							id, err := tx.NewID()
							if err != nil {
								return err
							}
							if _, err := tx.Put(ctx, &record.Patient{Base: record.Base{ID: id}, BirthYear: 1950}, ""); err != nil {
								return err
							}
						}
						return nil
					})
					if err != nil && ctx.Err() == nil {
						done <- err
						return
					}
				}
				done <- nil
			}()
			var last int64
			for i := range 4 {
				path := filepath.Join(t.TempDir(), "b")
				wrote, err := Write(t.Context(), path, s, nil, Options{Now: testNow})
				if err != nil {
					t.Fatal(err)
				}
				if wrote.Rows["patient"]%2 != 0 || wrote.Rows["patient"] != wrote.Head.HistoryEntries || wrote.Head.HistoryEntries < last {
					t.Errorf("backup %d: %d patients, %d entries", i, wrote.Rows["patient"], wrote.Head.HistoryEntries)
				}
				last = wrote.Head.HistoryEntries
				target := openStore(t, "folder")
				if _, err := Restore(t.Context(), path, target, nil); err != nil {
					t.Fatal(err)
				}
				if report, err := target.Verify(t.Context(), store.Head{Entries: wrote.Head.HistoryEntries, Hash: wrote.Head.HistoryHash}); err != nil || !report.OK() {
					t.Errorf("%v %+v", err, report)
				}
			}
			stop()
			if err := <-done; err != nil {
				t.Error(err)
			}
			if last == 0 {
				t.Error("nothing was written meanwhile")
			}
		})
	}
}

func TestEncrypted(t *testing.T) {
	s, v := filled(t, "folder", 3)
	right, err := age.GenerateX25519Identity()
	if err != nil {
		t.Fatal(err)
	}
	wrong, err := age.GenerateX25519Identity()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "b")
	wrote, err := Write(t.Context(), path, s, v, Options{Now: testNow, Recipients: []string{right.Recipient().String()}})
	if err != nil || !wrote.Encrypted {
		t.Fatalf("%v %+v", err, wrote)
	}
	if text, err := os.ReadFile(path); err != nil || strings.Contains(string(text), headName) || strings.Contains(string(text), "film film") {
		t.Errorf("%v: the file can be read without the key", err)
	}
	for name, c := range map[string]struct {
		keys []string
		says string
	}{
		"no key":     {nil, "is encrypted"},
		"wrong key":  {[]string{wrong.String()}, "does not open"},
		"public key": {[]string{right.Recipient().String()}, "cannot be read"},
	} {
		if _, err := Check(t.Context(), path, c.keys...); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", name, err)
		}
	}
	target := openStore(t, "folder")
	if _, err := Restore(t.Context(), path, target, openVault(t), "# a comment\n"+right.String()+"\n"); err != nil {
		t.Fatal(err)
	}
	sameRecord(t, s, target)
	if _, err := Write(t.Context(), filepath.Join(t.TempDir(), "b"), s, v, Options{Recipients: []string{right.String()}}); fault.CodeOf(err) != fault.Invalid || strings.Contains(err.Error(), "AGE-SECRET") && !strings.Contains(err.Error(), "public key") {
		t.Errorf("a secret key was taken for a public one: %v", err)
	}
}

// TestDamage: whatever is flipped, cut off or put in, a damaged backup is
// refused or gives exactly what was written, and leaves the record empty.
func TestDamage(t *testing.T) {
	if testing.Short() {
		t.Skip("sixty files in one goroutine: runs in the full run of scripts/test, without the race detector")
	}
	s, v := filled(t, "folder", 2)
	folder := t.TempDir()
	path := filepath.Join(folder, "good")
	if _, err := Write(t.Context(), path, s, v, Options{Now: testNow}); err != nil {
		t.Fatal(err)
	}
	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	bad := filepath.Join(folder, "bad")
	refused := 0
	for i := range 60 {
		text := append([]byte(nil), good...)
		// Most of the file is one large film; half of the tries hit the tables.
		at := rng.IntN(len(text))
		if i%2 == 0 {
			at = rng.IntN(min(len(text), 120_000))
		}
		text[at] ^= 1 << rng.IntN(8)
		if i%10 == 9 {
			text = good[:at]
		}
		if err := os.WriteFile(bad, text, 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := Check(t.Context(), bad)
		if err == nil {
			// Padding between members is no content.
			continue
		}
		refused++
		if !strings.Contains(err.Error(), "bad") {
			t.Errorf("byte %d: %v does not name the file", at, err)
		}
		if i%12 == 0 {
			target := openStore(t, "folder")
			if _, err := Restore(t.Context(), bad, target, nil); err == nil {
				t.Errorf("byte %d: restored although refused", at)
			}
			if head, err := target.Head(t.Context()); err != nil || head.Entries != 0 {
				t.Errorf("byte %d: %v, %+v stands after a refusal", at, err, head)
			}
		}
	}
	if refused < 50 {
		t.Errorf("only %d of 60 damaged files were refused", refused)
	}
	for name, text := range map[string]string{"empty": "", "text": "no backup\n", "cut": string(good[:700])} {
		if err := os.WriteFile(bad, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Check(t.Context(), bad); fault.CodeOf(err) != fault.Malformed {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestNeverOverwrites(t *testing.T) {
	s := openStore(t, "folder")
	path := filepath.Join(t.TempDir(), "b")
	if err := os.WriteFile(path, []byte("kept"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Write(t.Context(), path, s, nil, Options{Now: testNow}); fault.CodeOf(err) != fault.Conflict {
		t.Error(err)
	}
	if text, err := os.ReadFile(path); err != nil || string(text) != "kept" {
		t.Errorf("%q, %v", text, err)
	}
	_, err := Write(t.Context(), filepath.Join(t.TempDir(), "no", "such", "folder"), s, nil, Options{Now: testNow})
	if fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), "cannot be written") {
		t.Error(err)
	}
	if left, err := os.ReadDir(filepath.Dir(path)); err != nil || len(left) != 1 {
		t.Errorf("%v, %v: something was left behind", left, err)
	}
}

func TestOtherVersions(t *testing.T) {
	later := Head{Format: formatNumber, TableVersion: 99, Program: "later"}
	if err := later.check("b", 10); fault.CodeOf(err) != fault.Unsupported || !strings.Contains(err.Error(), "newer program") {
		t.Error(err)
	}
	strange := Head{Format: formatNumber + 1, Program: "later"}
	if err := strange.check("b", 10); fault.CodeOf(err) != fault.Unsupported || !strings.Contains(err.Error(), "layout") {
		t.Error(err)
	}
}

// TestOlderBackup: what a program with fewer migrations wrote is restored at its
// own version and then brought up to this one.
func TestOlderBackup(t *testing.T) {
	const older = 1
	for engine, options := range engines {
		t.Run(engine, func(t *testing.T) {
			s, err := store.OpenForRestore(t.Context(), options(t), older)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			err = s.Write(t.Context(), record.Actor{AccountID: "a"}, func(tx *store.Tx) error {
				id, err := tx.NewID()
				if err != nil {
					return err
				}
				_, err = tx.Put(t.Context(), &record.Patient{Base: record.Base{ID: id}, BirthYear: 1950}, "")
				return err
			})
			if err != nil {
				t.Fatal(err)
			}
			path := filepath.Join(t.TempDir(), "b")
			if _, err := Write(t.Context(), path, s, nil, Options{Now: testNow}); err != nil {
				t.Fatal(err)
			}
			head, err := ReadHead(path)
			if err != nil || head.TableVersion != older {
				t.Fatalf("%+v, %v", head, err)
			}
			if _, err := Restore(t.Context(), path, openStore(t, engine), nil); err == nil {
				t.Error("restored into tables of another version")
			}
			target, err := store.OpenForRestore(t.Context(), options(t), head.TableVersion)
			if err != nil {
				t.Fatal(err)
			}
			defer target.Close()
			if _, err := Restore(t.Context(), path, target, nil); err != nil {
				t.Fatal(err)
			}
			if err := target.Upgrade(t.Context()); err != nil {
				t.Fatal(err)
			}
			if version, err := target.Version(t.Context()); err != nil || version <= older {
				t.Errorf("version %d, %v", version, err)
			}
			if err := s.Upgrade(t.Context()); err != nil { // a record is proved by the tables of its program
				t.Fatal(err)
			}
			sameRecord(t, s, target)
		})
	}
}
