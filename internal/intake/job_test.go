package intake

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"limitans/internal/backup"
	"limitans/internal/pgtest"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/internal/vault"
	"limitans/internal/work"
	"limitans/oct"
)

// TestMeasuredTwice: a job that runs again finds the figures, a new axial length
// gives new ones beside the old.
func TestMeasuredTwice(t *testing.T) {
	f := inFolder(t)
	kept := f.keep(f.scanOf(rightScan(t), "a.dcm"))
	f.work()
	job, already, err := f.intake.Measure(t.Context(), kept.ID)
	if err != nil || already || job == kept.JobID {
		t.Fatalf("%d, %v, %v", job, already, err)
	}
	jobs := f.work()
	if len(jobs) != 2 || jobs[1].State != work.Done || jobs[1].Progress.Note != "was measured before" {
		t.Errorf("%+v", jobs)
	}
	if n := len(f.course(f.right.ID).Figures); n != 1 {
		t.Errorf("%d figures", n)
	}
	f.write(func(tx *store.Tx) error {
		f.right.Version = 1
		f.right.AxialLengths[0].LengthMM = 25.1
		_, err := tx.Put(t.Context(), f.right, "typed wrongly")
		return err
	})
	if _, _, err := f.intake.Measure(t.Context(), kept.ID); err != nil {
		t.Fatal(err)
	}
	f.work()
	// The test's clock stands still, so that either may be listed first.
	withLength := func(g *record.HoleFigures) bool { return *g.AxialLengthMM == 25.1 }
	if figures := f.course(f.right.ID).Figures; len(figures) != 2 || !slices.ContainsFunc(figures, withLength) {
		t.Errorf("%d figures, none with the new length", len(figures))
	}
}

// TestFiguresAtOnce: two runs of one job that end at the same moment leave one
// set of figures.
func TestFiguresAtOnce(t *testing.T) {
	onBoth(t, func(t *testing.T, f *fixture) {
		kept := f.keep(f.scanOf(rightScan(t), "a.dcm"))
		noun := f.course(f.right.ID).Scans[0]
		bench := Bench{Store: f.store, Vault: f.vault, Program: program, Now: f.options.Now}
		first := &record.HoleFigures{
			PatientID: noun.PatientID, EyeID: noun.EyeID, ScanID: noun.ID, Taken: noun.Taken, MeasuredAt: now, MeasuredBy: Measurer,
			Source: record.FiguresAutomatic, Method: "test", ProgramVersion: program, HolePresent: record.No,
		}
		var group sync.WaitGroup
		failed := make([]error, 4)
		for i := range failed {
			own := *first
			group.Go(func() { failed[i] = bench.put(t.Context(), "scan.measure-1", noun, nil, &own) })
		}
		group.Wait()
		written := 0
		for _, err := range failed {
			if err == nil {
				written++
			} else if !errors.Is(err, errTwin) {
				t.Error(err)
			}
		}
		if figures := f.course(f.right.ID).Figures; written != 1 || len(figures) != 1 || figures[0].ScanID != kept.ID {
			t.Errorf("%d written, %d figures", written, len(figures))
		}
	})
}

// TestLargeScan: a scan whose pixels are too many to look at is kept by its
// header and told its size when it is measured.
func TestLargeScan(t *testing.T) {
	was := glanceLimits
	defer func() { glanceLimits = was }()
	glanceLimits.Samples = 1000
	f := inFolder(t)
	kept := f.keep(f.scanOf(rightScan(t), "a.dcm"))
	if noun := f.course(f.right.ID).Scans[0]; noun.Slices != 0 || noun.LateralUM != nil || kept.Taken.ISO() != "2026-11-22" || len(noun.SideSources) != 2 {
		t.Errorf("%+v", noun)
	}
	glanceLimits = was
	f.work()
	c := f.course(f.right.ID)
	if noun := c.Scans[0]; noun.Slices != drawnSlices || *noun.LateralUM != drawnLateralUM || noun.Version != 2 || len(c.Figures) != 1 {
		t.Errorf("%+v, %d figures", noun, len(c.Figures))
	}
}

// TestJobsThatCannotEndWell fail for good and say why, and leave no copy of the
// scan behind.
func TestJobsThatCannotEndWell(t *testing.T) {
	temporary := t.TempDir()
	t.Setenv("TMPDIR", temporary)
	f := inFolder(t)
	kept := f.keep(f.scanOf(rightScan(t), "a.dcm"))
	missing, _, err := f.intake.Measure(t.Context(), f.right.ID)
	if err != nil {
		t.Fatal(err)
	}
	f.write(func(tx *store.Tx) error {
		return tx.StrikeOut(t.Context(), record.KindScan, kept.ID, 1, "another patient's")
	})
	jobs := f.work()
	for i, part := range []string{"struck out", "there is none in this record"} {
		if jobs[i].State != work.Failed || jobs[i].Attempt != 1 || !strings.Contains(jobs[i].Fault.Error(), part) {
			t.Errorf("%s, attempt %d, %v", jobs[i].State, jobs[i].Attempt, jobs[i].Fault)
		}
	}
	if jobs[1].ID != missing || len(f.course(f.right.ID).Figures) != 0 {
		t.Errorf("%+v", jobs[1])
	}
	if left, err := filepath.Glob(filepath.Join(temporary, "limitans-intake-*")); err != nil || len(left) > 0 {
		t.Errorf("%v, %v", left, err)
	}
}

// TestDamagedContent: a flipped byte in the vault ends the job and not in
// figures.
func TestDamagedContent(t *testing.T) {
	f := inFolder(t)
	root := t.TempDir()
	var err error
	if f.vault, err = vault.Open(t.Context(), root, vault.Options{}); err != nil {
		t.Fatal(err)
	}
	f.intake.Vault = f.vault
	kept := f.keep(f.scanOf(rightScan(t), "a.dcm"))
	hash := kept.File.SHA256
	path := filepath.Join(root, "content", hash[:2], hash)
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	content[len(content)/2] ^= 1
	if err := os.Chmod(path, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	jobs := f.work()
	if jobs[0].State != work.Failed || len(f.course(f.right.ID).Figures) != 0 {
		t.Errorf("%s, %v", jobs[0].State, jobs[0].Fault)
	}
}

// TestAxialLength holds which length counts to the rules of the record.
func TestAxialLength(t *testing.T) {
	light := record.AxialLength{LengthMM: 26, Method: record.BiometryLight, MediumThen: record.MediumFluid}
	inOil := record.AxialLength{LengthMM: 33, Method: record.BiometryUltrasound, MediumThen: record.MediumOil}
	for name, test := range map[string]struct {
		record []record.AxialLength
		file   float64
		want   float64
		note   string
	}{
		"nothing known":            {nil, 0, 0, ""},
		"the record's":             {[]record.AxialLength{light}, 0, 26, ""},
		"the record's first":       {[]record.AxialLength{inOil, light}, 24, 26, "26 mm of the record is used; the file says 24 mm"},
		"both agree":               {[]record.AxialLength{light}, 26, 26, ""},
		"the file's":               {nil, 24, 24, "24 mm of the file is used"},
		"sound in oil":             {[]record.AxialLength{inOil}, 0, 0, "likely falsely long"},
		"sound in oil in the file": {[]record.AxialLength{inOil}, 33, 0, "that of the file, 33 mm, is not used either"},
	} {
		v := &oct.Volume{Notes: []string{"as it was"}}
		v.Acquisition.AxialLengthMM = test.file
		got, mm := axialLength(v, &record.Eye{AxialLengths: test.record})
		last := got.Notes[len(got.Notes)-1]
		if mm != test.want || !strings.Contains(last, test.note) || (test.note == "") != (len(got.Notes) == 1) {
			t.Errorf("%s: %g mm, %q", name, mm, got.Notes)
		}
		if mm == 0 && got.Acquisition.AxialLengthMM != 0 || len(v.Notes) != 1 || v.Acquisition.AxialLengthMM != test.file {
			t.Errorf("%s: %+v, and the caller's %+v", name, got.Acquisition, v)
		}
	}
}

// TestBackupLeavesJobsOut: every table that the queue makes has the prefix that
// a backup leaves out, and a record with jobs comes back without them.
func TestBackupLeavesJobsOut(t *testing.T) {
	onBoth(t, func(t *testing.T, f *fixture) {
		query := "select name from sqlite_master where type = 'table'"
		if f.store.Dialect() == store.PostgreSQL {
			query = "select tablename from pg_tables where schemaname = current_schema()"
		}
		tables := func(s *store.Store) map[string]bool {
			rows, err := s.Reader().Query(t.Context(), query)
			if err != nil {
				t.Fatal(err)
			}
			defer rows.Close()
			found := map[string]bool{}
			for rows.Next() {
				var name string
				if err := rows.Scan(&name); err != nil {
					t.Fatal(err)
				}
				found[name] = true
			}
			return found
		}
		plain := newPlace(t, f)
		before, made := tables(plain), 0
		for name := range tables(f.store) {
			if !before[name] {
				made++
				if !strings.HasPrefix(name, "river_") {
					t.Errorf("the queue makes the table %s", name)
				}
			}
		}
		if made == 0 {
			t.Fatal("the queue makes no table")
		}
		f.keep(f.scanOf(rightScan(t), "a.dcm"))
		file := filepath.Join(t.TempDir(), "a.backup")
		if _, err := backup.Write(t.Context(), file, f.store, f.vault, backup.Options{Program: program, Now: now}); err != nil {
			t.Fatal(err)
		}
		summary, err := backup.Check(t.Context(), file)
		if err != nil || summary.Rows["scan"] != 1 {
			t.Fatalf("%+v, %v", summary, err)
		}
		for name := range summary.Rows {
			if strings.HasPrefix(name, "river_") {
				t.Errorf("the backup holds %s", name)
			}
		}
	})
}

// newPlace is a second, empty record on the database of the fixture's kind.
func newPlace(t *testing.T, f *fixture) *store.Store {
	t.Helper()
	o := store.Options{Folder: t.TempDir()}
	if f.store.Dialect() == store.PostgreSQL {
		o = store.Options{Address: pgtest.Database(t)}
	}
	s, err := store.Open(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return s
}
