package store

import (
	"context"
	"errors"
	"fmt"
	"sort"

	"limitans/internal/record"
)

// Problem is one place where the record is not as the program wrote it.
type Problem struct {
	Where string // entry, noun or table
	What  string
}

// mostProblems bounds a report: the first ones tell what happened, and a
// rewritten database would give one for each row.
const mostProblems = 200

// Report is the outcome of a verification.
type Report struct {
	Head     Head // as the walk over the entries found it
	Entries  int64
	Nouns    int64
	Contests int64
	Problems []Problem
	// More is how many problems are not listed.
	More int64
}

// OK reports whether nothing was found.
func (r *Report) OK() bool { return len(r.Problems) == 0 }

func (r *Report) add(where, format string, args ...any) {
	if len(r.Problems) == mostProblems {
		r.More++
		return
	}
	r.Problems = append(r.Problems, Problem{Where: where, What: fmt.Sprintf(format, args...)})
}

// Verify checks in one snapshot, while others may write:
//
//   - the history: numbers without a gap, each entry's hash over its content and
//     the hash before, the head's count and hash;
//   - every noun and contest: its body is the text after its last entry, its
//     versions follow each other, each version starts from the text that the one
//     before left, every column and list that repeats the body agrees with it;
//   - that no entry speaks of a noun that is not there;
//   - with anchors, heads that were kept elsewhere: the entry of each number has
//     that hash still.
//
// Problems are in the report; an error means that the check itself failed.
func (s *Store) Verify(ctx context.Context, anchors ...Head) (*Report, error) {
	r := &Report{}
	err := s.snapshot(ctx, func(tx *Tx) error {
		if err := tx.verifyChain(ctx, r, anchors); err != nil {
			return err
		}
		kinds := make([]record.Kind, 0, len(nounTables))
		for kind := range nounTables {
			kinds = append(kinds, kind)
		}
		sort.Slice(kinds, func(i, j int) bool { return kinds[i] < kinds[j] })
		for _, kind := range kinds {
			if err := tx.verifyKind(ctx, r, kind); err != nil {
				return err
			}
		}
		if err := tx.verifyContests(ctx, r); err != nil {
			return err
		}
		return tx.verifyStrangers(ctx, r)
	})
	if err != nil {
		return nil, err
	}
	return r, nil
}

// verifyChain walks all entries in their order.
func (tx *Tx) verifyChain(ctx context.Context, r *Report, anchors []Head) error {
	kept := map[int64][]string{}
	for _, a := range anchors {
		kept[a.Entries] = append(kept[a.Entries], a.Hash)
	}
	anchored := func() {
		for _, hash := range kept[r.Head.Entries] {
			if hash != r.Head.Hash {
				r.add(fmt.Sprintf("history entry %d", r.Head.Entries), "its hash is %s, but %s was kept elsewhere: the past was rewritten", orNone(r.Head.Hash), orNone(hash))
			}
		}
		delete(kept, r.Head.Entries)
	}
	anchored()
	rows, err := tx.Query(ctx, queries["whole history"])
	if err != nil {
		return err
	}
	err = func() (err error) {
		defer func() { err = errors.Join(err, rows.Close()) }()
		for rows.Next() {
			e, err := scanEntry(rows)
			if err != nil {
				return err
			}
			tx.verifyEntry(r, e)
			r.Head = Head{Entries: e.Number, Hash: e.Hash}
			anchored()
		}
		return rows.Err()
	}()
	if err != nil {
		return err
	}
	for number := range kept {
		r.add("history", "entry %d was kept elsewhere and is not there: the end was cut off", number)
	}
	head, err := tx.head(ctx)
	if err != nil {
		return err
	}
	if head != r.Head {
		r.add("history head", "it speaks of %d entries with the last hash %s, but there are entries up to %d with %s", head.Entries, orNone(head.Hash), r.Head.Entries, orNone(r.Head.Hash))
	}
	return nil
}

func orNone(hash string) string {
	if hash == "" {
		return "none"
	}
	return hash
}

// verifyEntry checks one entry against the end of the walk so far.
func (tx *Tx) verifyEntry(r *Report, e Entry) {
	r.Entries++
	where := fmt.Sprintf("history entry %d (%s %s, version %d)", e.Number, e.Kind, e.Entity, e.Version)
	if e.Number != r.Head.Entries+1 {
		r.add(where, "%d entries before it are missing", e.Number-r.Head.Entries-1)
	}
	if want := historyHash(r.Head.Hash, e); want != e.Hash {
		r.add(where, "its hash does not fit its content and the entry before it: something here was changed")
	}
}

// verifyContests compares contests with their entries.
func (tx *Tx) verifyContests(ctx context.Context, r *Report) error {
	var stretch []stored
	err := tx.each(ctx, queries["all contests"], nil, func(scan func(...any) error) error {
		var c stored
		var open int64
		if err := scan(&c.id, &c.version, &open, &c.body); err != nil {
			return err
		}
		r.Contests++
		where := "contest " + c.id
		if (open != 0) != (c.version == 1) {
			r.add(where, "it is marked open or decided against its version %d", c.version)
		}
		stretch = append(stretch, c)
		return nil
	})
	if err != nil || len(stretch) == 0 {
		return err
	}
	return tx.verifyVersions(ctx, r, kindContest, stretch)
}

// verifyStrangers looks for entries that speak of what is not there.
func (tx *Tx) verifyStrangers(ctx context.Context, r *Report) error {
	for kind, t := range nounTables {
		err := tx.each(ctx, "select distinct entity from history h where kind = ? and not exists (select 1 from "+t.name+" n where n.id = h.entity) order by entity",
			[]any{string(kind)}, func(scan func(...any) error) error {
				var id string
				err := scan(&id)
				r.add(string(kind)+" "+id, "the history knows it, but it is not in the record any more")
				return err
			})
		if err != nil {
			return err
		}
	}
	err := tx.each(ctx, queries["strange contests"], []any{string(kindContest)}, func(scan func(...any) error) error {
		var id string
		err := scan(&id)
		r.add("contest "+id, "the history knows it, but it is not in the record any more")
		return err
	})
	if err != nil {
		return err
	}
	known := []any{string(kindContest)}
	for kind := range nounTables {
		known = append(known, string(kind))
	}
	return tx.each(ctx, "select number, kind from history where kind not in ("+places(len(known))+") order by number", known, func(scan func(...any) error) error {
		var number int64
		var kind string
		err := scan(&number, &kind)
		r.add(fmt.Sprintf("history entry %d", number), "there is no kind %q", kind)
		return err
	})
}
