package store

import (
	"context"
	"errors"

	"limitans/internal/record"
)

// EyesDiagnosed lists eyes that have, or had, one of the diagnoses, the newest
// in the record first, at most limit of them and of no more than [MaxPage] times
// MaxPage. Eyes and patients that are struck out are left out.
func (s *Store) EyesDiagnosed(ctx context.Context, limit int, codes ...record.DiagnosisCode) (list []record.ID, err error) {
	if len(codes) == 0 || limit < 1 {
		return nil, nil
	}
	args := []any{"~"} // after every identifier
	for _, c := range codes {
		args = append(args, string(c))
	}
	query := queries["eyes diagnosed"] + " (" + places(len(codes)) + ") order by d.eye_id desc limit ?"
	rows, err := s.reader.Query(ctx, query, append(args, min(limit, MaxPage*MaxPage))...)
	if err != nil {
		return nil, explain(s.where, err)
	}
	defer func() { err = explain(s.where, errors.Join(err, rows.Close())) }()
	for rows.Next() {
		var id record.ID
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		list = append(list, id)
	}
	return list, rows.Err()
}
