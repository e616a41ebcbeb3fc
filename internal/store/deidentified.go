package store

import (
	"context"

	"limitans/internal/record"
)

// DeIdentified reads the clinical nouns of the whole record and makes the view
// without identifiers of them. Its query names the clinical tables alone: not a
// table that holds identity, nor the history or the contests, which hold whole
// nouns. What the view leaves out and what it cannot promise stands at
// record.DeIdentify. It holds all nouns in memory at once, about 2 kB each.
func (s *Store) DeIdentified(ctx context.Context, options record.ViewOptions) (record.View, error) {
	return s.viewOf(ctx, queries["clinical nouns"], nil, options)
}

func collect(in *record.Clinical, e record.Entity) {
	switch n := e.(type) {
	case *record.Patient:
		in.Patients = append(in.Patients, n)
	case *record.Eye:
		in.Eyes = append(in.Eyes, n)
	case *record.Scan:
		in.Scans = append(in.Scans, n)
	case *record.HoleFigures:
		in.Figures = append(in.Figures, n)
	case *record.Plan:
		in.Plans = append(in.Plans, n)
	case *record.Operation:
		in.Operations = append(in.Operations, n)
	case *record.Visit:
		in.Visits = append(in.Visits, n)
	case *record.Film:
		in.Films = append(in.Films, n)
	}
}
