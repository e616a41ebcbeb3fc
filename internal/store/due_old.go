package store

import (
	"context"

	"limitans/fault"
	"limitans/internal/record"
)

// checkGasSince wants the day of [DueQuery.GasSince] told in full, so that which
// fillings are older is no guess.
func checkGasSince(day string) error {
	if day == "" {
		return nil
	}
	if d, err := record.DateFromISO(day); err != nil || !d.Full() || d.Relative {
		return &fault.Error{Code: fault.Invalid, Where: "gas since", What: day + " is no day", Expected: "a day in full, such as 2026-01-31", Cause: err}
	}
	return nil
}

// oldGas counts what [DueQuery.GasSince] leaves out of a list, by the same limits
// of day and reasons.
func (s *Store) oldGas(ctx context.Context, q DueQuery, until string) (hidden int64, err error) {
	if q.GasSince == "" {
		return 0, nil
	}
	query, args := queries["due: count old gas"]+" and "+queries["due: old gas"], []any{until, q.GasSince, q.GasSince}
	if len(q.Reasons) > 0 {
		query += " and d.reason in (" + places(len(q.Reasons)) + ")"
		for _, r := range q.Reasons {
			args = append(args, string(r))
		}
	}
	err = s.reader.QueryRow(ctx, query, args...).Scan(&hidden)
	return hidden, explain(s.where, err)
}
