package store

import (
	"context"

	"limitans/internal/record"
)

// RegisterFacts are what a register says of an eye beside what is in it. Days are
// ISO 8601 and empty where there is none.
type RegisterFacts struct {
	// Due are the days agreed, by reason; empty days are agreed by nobody.
	Due map[record.DueFor]string
	// LastVisit is the day of the last visit of the eye.
	LastVisit string
	// LastContact is the day of the last attempt to reach the patient about the eye
	// or as a whole, and how it ended.
	LastContact string
	Outcome     record.ContactOutcome
}

// RegisterFacts reads them for the eyes of one page, with one query each.
func (s *Store) RegisterFacts(ctx context.Context, eyes []record.ID) (map[record.ID]RegisterFacts, error) {
	out := map[record.ID]RegisterFacts{}
	if len(eyes) == 0 {
		return out, nil
	}
	args := make([]any, len(eyes))
	for i, id := range eyes {
		args[i], out[id] = string(id), RegisterFacts{Due: map[record.DueFor]string{}}
	}
	err := s.snapshot(ctx, func(tx *Tx) error {
		in := " (" + places(len(eyes)) + ")"
		if err := tx.eachWord(ctx, queries["register due"]+in, args, func(id record.ID, what, day string) {
			f := out[id]
			if known, is := f.Due[record.DueFor(what)]; !is || day != "" && day < known {
				f.Due[record.DueFor(what)] = day
			}
		}); err != nil {
			return err
		}
		if err := tx.eachWord(ctx, queries["register visits"]+in+" group by eye_id", args, func(id record.ID, _, day string) {
			f := out[id]
			f.LastVisit = day
			out[id] = f
		}); err != nil {
			return err
		}
		return tx.eachWord(ctx, queries["register contacts"]+in+" order by c.day, c.id", args, func(id record.ID, outcome, day string) {
			f := out[id]
			f.LastContact, f.Outcome = day, record.ContactOutcome(outcome)
			out[id] = f
		})
	})
	return out, err
}

// eachWord reads rows of an eye, a word and a day.
func (tx *Tx) eachWord(ctx context.Context, query string, args []any, take func(id record.ID, word, day string)) error {
	return tx.each(ctx, query, args, func(scan func(...any) error) error {
		var id, word, day string
		err := scan(&id, &word, &day)
		if err == nil {
			take(record.ID(id), word, day)
		}
		return err
	})
}
