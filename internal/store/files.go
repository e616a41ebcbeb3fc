package store

import (
	"context"
	"database/sql"
	"errors"

	"limitans/internal/record"
)

// queryFunc is the Query of a handle or of a transaction.
type queryFunc func(ctx context.Context, query string, args ...any) (*sql.Rows, error)

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

// NounsWithFile lists the nouns of a kind that name the file with this content
// hash, struck out or not, by identifier, as this transaction sees them.
func (tx *Tx) NounsWithFile(ctx context.Context, kind record.Kind, sha256 string) (ids []record.ID, err error) {
	list, err := tx.Query(ctx, queries["nouns with file"], string(kind), sha256)
	if err != nil {
		return nil, err
	}
	defer func() { err = explain(tx.store.where, errors.Join(err, list.Close())) }()
	for list.Next() {
		var id record.ID
		if err := list.Scan(&id); err != nil {
			return nil, err
		}
		ids = append(ids, id)
	}
	return ids, list.Err()
}
