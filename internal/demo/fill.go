package demo

import (
	"context"
	"fmt"
	"io"
	"math"
	"time"

	"limitans/estimate"
	"limitans/fault"
	"limitans/internal/exchange/dicom"
	"limitans/internal/intake"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/internal/vault"
	"limitans/oct"
	"limitans/oct/phantom"
)

// FillOptions say what to write besides the record itself.
type FillOptions struct {
	// Vault takes the scans; nil leaves them out.
	Vault *vault.Vault
	// DrawnEyes is how many eyes get scans with pixels, which are drawn and
	// measured (about a second each); the others get figures typed from
	// elsewhere.
	DrawnEyes int
	Program   string // version of this program
	// Now is when the measurements are made.
	Now time.Time
	// Progress hears how many patients are written; may be nil.
	Progress func(done, total int)
}

// Filled counts what was written.
type Filled struct {
	Patients, Nouns, Scans int
}

// patientsAtOnce is how many patients one transaction holds.
const patientsAtOnce = 40

// Fill writes a clinic into a record. It stops at the first error; what was
// written by then stays.
//
// Errors: Conflict when the record holds something already; those of the record
// and the vault.
func Fill(ctx context.Context, c *Clinic, s *store.Store, o FillOptions) (Filled, error) {
	var out Filled
	head, err := s.Head(ctx)
	if err != nil {
		return out, err
	}
	if head.Entries > 0 {
		return out, &fault.Error{Code: fault.Conflict, Where: s.Where(), What: "the record is not empty", Mend: "invent a clinic in a new place; it must never mix with patients"}
	}
	actor := record.Actor{AccountID: administrator, Place: "invented clinic"}
	err = s.Write(ctx, actor, func(tx *store.Tx) error {
		nouns := []record.Entity{c.Unit()}
		for _, b := range c.batches {
			nouns = append(nouns, b)
		}
		for _, noun := range nouns {
			if _, err := tx.Put(ctx, noun, ""); err != nil {
				return err
			}
			out.Nouns++
		}
		return nil
	})
	if err != nil {
		return out, err
	}
	for first := 0; first < c.patients; first += patientsAtOnce {
		last := min(first+patientsAtOnce, c.patients)
		// Scans are drawn before the transaction, which others wait for.
		cases := make([]*Case, 0, patientsAtOnce)
		for n := first; n < last; n++ {
			one, err := c.Case(n)
			if err != nil {
				return out, err
			}
			scans, err := one.takeScans(ctx, n < o.DrawnEyes, o)
			if err != nil {
				return out, err
			}
			out.Scans += scans
			cases = append(cases, one)
		}
		err := s.Write(ctx, actor, func(tx *store.Tx) error {
			for _, one := range cases {
				for _, e := range one.Entries {
					if _, err := tx.Put(ctx, e.Entity, ""); err != nil {
						return fmt.Errorf("invented patient %d: %w", one.Number, err)
					}
					out.Nouns++
				}
				out.Patients++
			}
			return nil
		})
		if err != nil {
			return out, err
		}
		if o.Progress != nil {
			o.Progress(last, c.patients)
		}
	}
	return out, nil
}

// takeScans replaces each scan of the case by one with pixels in the vault and
// the figures measured on it, or by figures without a scan.
func (one *Case) takeScans(ctx context.Context, draw bool, o FillOptions) (drawn int, err error) {
	if o.Vault == nil {
		draw = false
	}
	var entries []Entry
	ids := randomBytes(0, "figures", one.Number)
	eyes := map[record.ID]*record.Eye{}
	for _, e := range one.Entries {
		if noun, is := e.Entity.(*record.Eye); is {
			eyes[noun.ID] = noun
		}
		scan, is := e.Entity.(*record.Scan)
		if !is {
			entries = append(entries, e)
			continue
		}
		p := one.Drawings[scan.ID]
		var figures *record.HoleFigures
		if draw {
			if figures, err = drawScan(ctx, scan, eyes[scan.EyeID], p, e, o); err != nil {
				return drawn, err
			}
			drawn++
			entries = append(entries, e)
		} else {
			figures = typedFigures(p, scan.Taken, e.At)
			figures.PatientID, figures.EyeID, figures.MeasuredBy = scan.PatientID, scan.EyeID, e.By.AccountID
		}
		if figures.ID, err = record.NewID(e.At.Add(time.Second), ids); err != nil {
			return drawn, err
		}
		entries = append(entries, Entry{At: e.At.Add(time.Second), By: e.By, Entity: figures})
	}
	one.Entries = entries
	return drawn, nil
}

// drawScan draws a scan into the vault and measures it.
func drawScan(ctx context.Context, scan *record.Scan, eye *record.Eye, p phantom.Parameters, e Entry, o FillOptions) (*record.HoleFigures, error) {
	v, _, err := phantom.Make(p)
	if err != nil {
		return nil, err
	}
	content, err := keep(ctx, o.Vault, v, string(scan.ID), e.At)
	if err != nil {
		return nil, err
	}
	scan.File = record.FileRef{SHA256: content.Hash.String(), Bytes: content.Size, MediaType: "application/dicom"}
	return intake.Figures(ctx, v, scan, eye, intake.Measuring{Program: o.Program, Now: o.Now, By: e.By.AccountID, Vault: o.Vault})
}

// keep streams a volume as DICOM into the vault.
func keep(ctx context.Context, into *vault.Vault, v *oct.Volume, seed string, at time.Time) (vault.Content, error) {
	r, w := io.Pipe()
	go func() {
		w.CloseWithError(dicom.WriteOphthalmicTomography(w, v, dicom.OphthalmicMeta{Seed: seed, At: at, Model: "Invented tomograph"}))
	}()
	content, err := into.Put(ctx, r, nil)
	r.CloseWithError(err) // ends the writer when the vault gave up
	return content, err
}

// typedFigures are figures of a scan that was not drawn: the size in the story,
// with a band that a person's reading would have.
func typedFigures(p phantom.Parameters, taken record.Date, at time.Time) *record.HoleFigures {
	f := &record.HoleFigures{
		Taken: taken, MeasuredAt: at, Source: record.FiguresTyped, Method: "invented with the clinic, not measured", HolePresent: record.No,
		Basis: "invented",
	}
	if p.Hole == nil {
		return f
	}
	about := func(um float64) *estimate.Estimate {
		// Half a tenth of the size: nobody measured this band.
		e := estimate.Normal(math.Round(um), um*0.05, "invented with the clinic, not measured")
		return &e
	}
	f.HolePresent = record.Yes
	f.MLDUM, f.BaseUM = about(p.Hole.MinimumUM), about(p.Hole.MinimumUM*p.Hole.BaseRatio)
	f.HeightUM = about(p.Hole.RimHeightUM)
	return f
}
