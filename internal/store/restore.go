package store

import (
	"context"
	"errors"
)

// OpenForRestore opens a record like [Open] but brings its tables only up to a version,
// for a backup that an older program wrote. What is in it can be read and
// changed only after [Store.Upgrade].
func OpenForRestore(ctx context.Context, o Options, version int64) (*Store, error) {
	s, err := connect(o)
	if err != nil {
		return nil, err
	}
	if err := s.recognise(ctx); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	if err := s.migrate(ctx, version); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// Upgrade brings the tables up to this program's version.
func (s *Store) Upgrade(ctx context.Context) error { return s.migrate(ctx, newest) }

// FileHashes lists the content hashes of all files that nouns refer to, struck
// out ones among them, each once and in order.
func (s *Store) FileHashes(ctx context.Context) (hashes []string, err error) {
	rows, err := s.reader.Query(ctx, "select distinct sha256 from file_reference order by sha256")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var hash string
		if err := rows.Scan(&hash); err != nil {
			return nil, explain(s.where, err)
		}
		hashes = append(hashes, hash)
	}
	return hashes, explain(s.where, rows.Err())
}
