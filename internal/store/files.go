package store

import (
	"context"
	"errors"
)

// FileReferenced reports whether a noun names the file with this content hash
// (SHA-256, lower-case hexadecimal), struck out or not.
func (s *Store) FileReferenced(ctx context.Context, sha256 string) (bool, error) {
	var n int64
	err := s.reader.QueryRow(ctx, queries["count file"], sha256).Scan(&n)
	return n > 0, explain(s.where, err)
}

// Files lists the content hashes that nouns name, each once, in their order:
// at most limit of those after the one given, "" for the first. It is what a
// verification of the vault walks along.
func (s *Store) Files(ctx context.Context, after string, limit int) (list []string, err error) {
	rows, err := s.reader.Query(ctx, queries["files"], after, limit)
	if err != nil {
		return nil, err
	}
	defer func() { err = explain(s.where, errors.Join(err, rows.Close())) }()
	for rows.Next() {
		var hash string
		if err := rows.Scan(&hash); err != nil {
			return nil, err
		}
		list = append(list, hash)
	}
	return list, rows.Err()
}
