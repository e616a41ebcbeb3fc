package store

import (
	"context"

	"limitans/fault"
	"limitans/internal/record"
)

// Unit reads the hospital or clinic that keeps the record. While nobody has told
// anything about it, it is empty and at version 0.
func (s *Store) Unit(ctx context.Context) (*record.Unit, error) {
	e, err := s.Get(ctx, record.KindUnit, record.UnitID)
	if fault.CodeOf(err) == fault.NotFound {
		return &record.Unit{Base: record.Base{ID: record.UnitID}}, nil
	}
	if err != nil {
		return nil, err
	}
	return e.(*record.Unit), nil
}
