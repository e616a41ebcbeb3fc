package store

import (
	"context"
	"fmt"

	"limitans/fault"
	"limitans/internal/record"
)

// EyesSince lists the identifiers of the eyes that were made after so many entries
// of the history, and the entries there are now; struck out eyes are among them.
// After 0 entries it lists all eyes, in the order of their identifiers. It is for
// an index of pseudonyms and reads nothing else.
func (s *Store) EyesSince(ctx context.Context, entries int64) (ids []record.ID, now int64, err error) {
	err = s.snapshot(ctx, func(tx *Tx) error {
		head, err := tx.head(ctx)
		if err != nil {
			return err
		}
		now = head.Entries
		query, args := queries["eye ids"], []any(nil)
		if entries > 0 {
			query, args = queries["eyes made since"], []any{entries, now}
		}
		return tx.each(ctx, query, args, func(scan func(...any) error) error {
			var id record.ID
			err := scan(&id)
			ids = append(ids, id)
			return err
		})
	})
	return ids, now, err
}

// DeIdentifiedAround makes the view without identifiers of the patient whose eye it
// is, both eyes, from the clinical tables alone. What the view's report says of
// small groups means nothing for one patient. Error: NotFound, also for an eye that
// is struck out.
func (s *Store) DeIdentifiedAround(ctx context.Context, eyeID record.ID, options record.ViewOptions) (record.View, error) {
	view, err := s.viewOf(ctx, queries["clinical nouns around eye"], []any{string(eyeID)}, options)
	if err != nil {
		return view, err
	}
	wanted := record.Pseudonym(options.Key, eyeID)
	for _, e := range view.Eyes {
		if e.ID == wanted {
			return view, nil
		}
	}
	return record.View{}, &fault.Error{Code: fault.NotFound, Where: "case", What: "there is no such case"}
}

// DeIdentifiedEyes makes the view without identifiers of a few eyes for a list, at
// most MaxPage: the eyes, their patients and the operations of these patients,
// nothing else. Eyes that are struck out are left out.
func (s *Store) DeIdentifiedEyes(ctx context.Context, eyes []record.ID, options record.ViewOptions) (record.View, error) {
	if len(eyes) == 0 || len(eyes) > MaxPage {
		return record.View{}, &fault.Error{Code: fault.Invalid, Where: "cases", What: fmt.Sprintf("%d at once", len(eyes)), Expected: fmt.Sprintf("1 to %d", MaxPage)}
	}
	marks := places(len(eyes))
	var args []any
	for range 3 {
		for _, id := range eyes {
			args = append(args, string(id))
		}
	}
	return s.viewOf(ctx, fmt.Sprintf(queries["eyes for cases"], marks, marks, marks), args, options)
}

// viewOf reads clinical nouns by a query of kind and body.
func (s *Store) viewOf(ctx context.Context, query string, args []any, options record.ViewOptions) (record.View, error) {
	var in record.Clinical
	err := s.snapshot(ctx, func(tx *Tx) error {
		return tx.each(ctx, query, args, func(scan func(...any) error) error {
			var kind record.Kind
			var body string
			if err := scan(&kind, &body); err != nil {
				return err
			}
			e, err := decode(kind, body)
			if err != nil {
				return err
			}
			collect(&in, e)
			return nil
		})
	})
	if err != nil {
		return record.View{}, err
	}
	return record.DeIdentify(in, options)
}
