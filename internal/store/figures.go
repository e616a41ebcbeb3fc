package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"limitans/internal/record"
)

// FiguresOfScan lists the hole figures of a scan that are not struck out, by
// identifier: by whom and by which program version the scan was measured.
func (s *Store) FiguresOfScan(ctx context.Context, scan record.ID) ([]*record.HoleFigures, error) {
	return figuresOfScan(ctx, s.reader.Query, s.where, scan)
}

// FiguresOfScan lists what [Store.FiguresOfScan] lists, as this transaction sees
// it, its own figures included.
func (tx *Tx) FiguresOfScan(ctx context.Context, scan record.ID) ([]*record.HoleFigures, error) {
	return figuresOfScan(ctx, tx.Query, tx.store.where, scan)
}

func figuresOfScan(ctx context.Context, query queryFunc, where string, scan record.ID) (found []*record.HoleFigures, err error) {
	list, err := query(ctx, queries["figures of scan"], string(scan))
	if err != nil {
		return nil, err
	}
	defer func() { err = explain(where, errors.Join(err, list.Close())) }()
	for list.Next() {
		var body string
		if err := list.Scan(&body); err != nil {
			return nil, err
		}
		f := &record.HoleFigures{}
		if err := json.Unmarshal([]byte(body), f); err != nil {
			return nil, fmt.Errorf("figures of scan %s: %w", scan, err)
		}
		found = append(found, f)
	}
	return found, list.Err()
}
