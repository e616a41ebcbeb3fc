package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"

	"limitans/fault"
	"limitans/internal/record"
)

// Contest reads one contest, open or decided. Error: NotFound.
func (s *Store) Contest(ctx context.Context, id record.ID) (Contest, error) {
	var c Contest
	var body string
	err := s.reader.QueryRow(ctx, queries["one contest"], string(id)).Scan(&body)
	if errors.Is(err, sql.ErrNoRows) {
		return c, notThere(kindContest, id)
	}
	if err != nil {
		return c, explain(s.where, err)
	}
	if err := json.Unmarshal([]byte(body), &c); err != nil {
		return c, &fault.Error{Code: fault.Malformed, Where: "contest " + string(id), What: "cannot be read: " + err.Error(), Cause: err}
	}
	return c, nil
}
