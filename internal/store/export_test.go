package store

import "context"

// OpenAt opens a record with the tables of an older version.
func OpenAt(ctx context.Context, o Options, version int64) (*Store, error) {
	s, err := connect(o)
	if err != nil {
		return nil, err
	}
	return s, s.migrate(ctx, version)
}

// HistoryHash is historyHash.
func HistoryHash(previous string, e Entry) string { return historyHash(previous, e) }

// Canonical is canonical.
func Canonical(v any) (string, error) { return canonical(v) }

// QueryTexts are the embedded queries by name.
var QueryTexts = queries

// Explain is explain.
func Explain(where string, err error) error { return explain(where, err) }

// After is after.
func After(prefix string) string { return after(prefix) }
