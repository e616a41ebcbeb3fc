package demo

import (
	"context"
	"testing"
	"time"

	"limitans/internal/pgtest"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/internal/vault"
)

var testNow = time.Date(2026, 11, 24, 12, 0, 0, 0, time.UTC)

// TestClinicIsValid holds every invented noun to the record's own rules.
func TestClinicIsValid(t *testing.T) {
	c := clinicOf(t, 400, 9)
	batches := map[record.ID]*record.Batch{}
	for _, b := range c.Batches() {
		batches[b.ID] = b
		for _, f := range record.Check(b, record.Around{Today: testDay}) {
			if f.Severity != record.Warn {
				t.Errorf("batch %s: %v", b.Lot, f)
			}
		}
	}
	for one, err := range c.Cases() {
		if err != nil {
			t.Fatal(err)
		}
		if _, err := one.takeScans(t.Context(), false, FillOptions{}); err != nil {
			t.Fatal(err)
		}
		eyes := map[record.ID]*record.Eye{}
		for _, e := range one.Entries {
			if x, is := e.Entity.(*record.Eye); is {
				eyes[x.ID] = x
			}
		}
		for _, e := range one.Entries {
			around := record.Around{Today: testDay, Eye: eyes[e.Entity.Links().EyeID], Batches: batches}
			for _, f := range record.Check(e.Entity, around) {
				if f.Severity != record.Warn {
					t.Errorf("patient %d (%s), %s: %s %s: %s", one.Number, one.Course, e.Entity.Kind(), f.Severity, f.Where, f.What)
				}
			}
		}
	}
}

// TestFill writes a small clinic with a drawn eye into both databases and
// proves the record afterwards.
func TestFill(t *testing.T) {
	engines := map[string]func(t *testing.T) store.Options{
		"folder":     func(t *testing.T) store.Options { return store.Options{Folder: t.TempDir()} },
		"postgresql": func(t *testing.T) store.Options { return store.Options{Address: pgtest.Database(t)} },
	}
	for name, options := range engines {
		t.Run(name, func(t *testing.T) {
			s, err := store.Open(t.Context(), options(t))
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			v, err := vault.Open(t.Context(), t.TempDir(), vault.Options{})
			if err != nil {
				t.Fatal(err)
			}
			c := clinicOf(t, 30, 4)
			filled, err := Fill(t.Context(), c, s, FillOptions{Vault: v, DrawnEyes: 1, Now: testNow, Program: "test"})
			if err != nil {
				t.Fatal(err)
			}
			if filled.Patients != 30 || filled.Nouns < 300 || filled.Scans < 1 {
				t.Errorf("%+v", filled)
			}
			var corrected int
			query := "select count(*) from hole_figures where scan_id is not null and body like '%\"corrected\":true%'"
			if err := s.Reader().QueryRow(t.Context(), query).Scan(&corrected); err != nil || corrected != filled.Scans {
				t.Errorf("%d of %d drawn scans are measured with the length of their eye, %v", corrected, filled.Scans, err)
			}
			report, err := s.Verify(t.Context())
			if err != nil || !report.OK() {
				t.Errorf("%v, %+v", err, report)
			}
			files, err := v.Verify(t.Context(), nil)
			if err != nil || files.Contents != 2*filled.Scans || len(files.Findings) > 0 { // each scan and its lines
				t.Errorf("%v, %+v", err, files)
			}
			if _, err := Fill(t.Context(), c, s, FillOptions{}); err == nil {
				t.Error("a record with patients was filled again")
			}
		})
	}
}

func TestFillStops(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	s, err := store.Open(ctx, store.Options{Folder: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	filled, err := Fill(ctx, clinicOf(t, 400, 4), s, FillOptions{Progress: func(done, total int) {
		if done > 100 {
			stop()
		}
	}})
	if err == nil || filled.Patients >= 400 {
		t.Errorf("%v, %+v", err, filled)
	}
}
