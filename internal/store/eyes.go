package store

import (
	"context"
	"errors"
	"strings"

	"limitans/eye"
	"limitans/internal/record"
)

// EyeRow is one eye in a list, with who it belongs to.
type EyeRow struct {
	EyeID, PatientID, PersonID record.ID
	// ReadAs is the person that PersonID is read as after merges; the same when
	// there was none.
	ReadAs     record.ID
	Side       eye.Laterality
	Name       string
	UnitNumber string
	BirthDate  string // ISO 8601, as far as it is known
}

// EyePage is a stretch of a list of eyes.
type EyePage struct {
	Rows []EyeRow
	Next string // for [Page].After; empty at the end

	last position // of Rows
}

// Eyes lists the eyes of persons whose names and numbers hold every fragment of
// text, in any order; an empty text lists all. Case and accents do not matter.
// Eyes and persons that are struck out are left out, and so are eyes of
// patients without a person, whom no name leads to.
//
// Order: by name when text is empty; otherwise beginnings of words before
// fragments inside, shorter words first as the alphabet has it.
func (s *Store) Eyes(ctx context.Context, text string, page Page) (EyePage, error) {
	limit, err := page.rowLimit()
	if err != nil {
		return EyePage{}, err
	}
	from, err := parsePosition(page.After)
	if err != nil {
		return EyePage{}, err
	}
	var found EyePage
	err = s.snapshot(ctx, func(tx *Tx) error {
		if wanted := words(text); len(wanted) > 0 {
			return tx.searchEyes(ctx, wanted, from, limit, &found)
		}
		if strings.TrimSpace(text) != "" {
			return nil // nothing but punctuation: no word holds that
		}
		return tx.allEyes(ctx, from, limit, &found)
	})
	return found, err
}

func (tx *Tx) allEyes(ctx context.Context, from position, limit int, found *EyePage) error {
	rows, err := tx.Query(ctx, queries["all eyes"], from.Text, from.Text, from.Text2, from.Text2, string(from.ID), limit)
	if err != nil {
		return err
	}
	return found.read(rows, limit, func(r EyeRow, _ hit) position {
		return position{Text: r.Name, Text2: string(r.PersonID), ID: r.EyeID}
	})
}

// hit is where a search found a person.
type hit struct {
	suffix string
	person int64
}

// searchEyes walks the range of the rarest fragment, first where it begins a
// word, then inside words; the other fragments must be somewhere in the same
// person.
func (tx *Tx) searchEyes(ctx context.Context, wanted []string, from position, limit int, found *EyePage) error {
	wanted, err := tx.rarestFirst(ctx, wanted)
	if err != nil {
		return err
	}
	low, high := wanted[0], after(wanted[0])
	query := queries["search eyes"]
	var others []any
	for _, w := range wanted[1:] {
		query += " " + queries["search eyes: other fragment"]
		others = append(others, w, after(w))
	}
	query += " " + queries["search eyes: order"]
	for part := from.Part; part <= 1 && found.Next == ""; part++ {
		if part > from.Part {
			from = position{Part: part}
		}
		args := []any{int64(part), low, high, from.Text, from.Text, from.Number, from.Number, string(from.ID), low, high}
		args = append(append(args, others...), limit-len(found.Rows))
		rows, err := tx.Query(ctx, query, args...)
		if err != nil {
			return err
		}
		err = found.read(rows, limit, func(r EyeRow, h hit) position {
			return position{Part: part, Text: h.suffix, Number: h.person, ID: r.EyeID}
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// rarestFirst puts the fragment with the fewest hits first. Counting stops
// where it no longer matters.
func (tx *Tx) rarestFirst(ctx context.Context, wanted []string) ([]string, error) {
	if len(wanted) == 1 {
		return wanted, nil
	}
	const enough = 5000
	best, fewest := 0, enough+1
	for i, w := range wanted {
		var n int
		if err := tx.QueryRow(ctx, queries["count hits"], w, after(w), w, after(w), enough).Scan(&n); err != nil {
			return nil, err
		}
		if n < fewest || n == fewest && len(w) > len(wanted[best]) {
			best, fewest = i, n
		}
	}
	ordered := []string{wanted[best]}
	ordered = append(ordered, wanted[:best]...)
	return append(ordered, wanted[best+1:]...), nil
}

// read takes rows of the shape that the queries of eyes.sql share, up to a page
// and one more, which becomes the mark of the next page.
func (p *EyePage) read(rows rows, limit int, at func(EyeRow, hit) position) (err error) {
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var r EyeRow
		var h hit
		var side string
		if err := rows.Scan(&h.suffix, &h.person, &r.EyeID, &r.PatientID, &r.PersonID, &r.ReadAs, &side, &r.Name, &r.UnitNumber, &r.BirthDate); err != nil {
			return err
		}
		if err := r.Side.UnmarshalText([]byte(side)); err != nil {
			return err
		}
		if len(p.Rows) == limit-1 {
			p.Next = p.last.String()
			break
		}
		p.Rows = append(p.Rows, r)
		p.last = at(r, h)
	}
	return rows.Err()
}

// EyesOfPerson lists the eyes of a person and of everybody who was merged into
// that person.
func (s *Store) EyesOfPerson(ctx context.Context, person record.ID) ([]EyeRow, error) {
	var found EyePage
	err := s.snapshot(ctx, func(tx *Tx) error {
		rows, err := tx.Query(ctx, queries["eyes of person"], string(person), string(person))
		if err != nil {
			return err
		}
		return found.read(rows, MaxPage, func(EyeRow, hit) position { return position{} })
	})
	return found.Rows, err
}
