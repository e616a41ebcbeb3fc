package store

import (
	"context"
	"encoding/json"
	"errors"
	"strings"

	"limitans/internal/record"
)

// The bounds of [Store.PersonsAlike]: how many persons one word, one number and one
// birth date may bring.
const (
	alikeByWord  = 30
	alikeByBirth = 100
	shortestWord = 3 // characters; shorter ones are in too many names
)

// PersonsAlike lists persons that may be this one: who has one of the words of its
// names, its number without leading zeros, or its birth date. It is what
// record.ProposeDuplicates compares, not an answer; a name with a slip in every word,
// without the number and the birth date, is not found. The person itself and those
// who are struck out are left out.
func (s *Store) PersonsAlike(ctx context.Context, p *record.Person) ([]*record.Person, error) {
	texts := []string{strings.TrimLeft(p.UnitNumber, "0")}
	for _, name := range p.Names {
		for _, word := range strings.Fields(name.Text) {
			if len([]rune(word)) >= shortestWord {
				texts = append(texts, word)
			}
		}
	}
	found := map[record.ID]bool{p.ID: true}
	var out []*record.Person
	take := func(e record.Entity) {
		if one, is := e.(*record.Person); is && !found[one.ID] && !one.Struck() {
			found[one.ID] = true
			out = append(out, one)
		}
	}
	for _, text := range texts {
		if strings.TrimSpace(text) == "" {
			continue
		}
		page, err := s.Eyes(ctx, text, Page{Limit: alikeByWord})
		if err != nil {
			return nil, err
		}
		for _, row := range page.Rows {
			if found[row.PersonID] {
				continue
			}
			e, err := s.Get(ctx, record.KindPerson, row.PersonID)
			if err != nil {
				return nil, err
			}
			take(e)
		}
	}
	if !p.BirthDate.Full() {
		return out, nil
	}
	err := s.bodies(ctx, record.KindPerson, take, queries["persons born on"], p.BirthDate.ISO(), alikeByBirth)
	return out, err
}

// MergesOf lists the merges that stand in which a person takes part.
func (s *Store) MergesOf(ctx context.Context, person record.ID) ([]*record.Merge, error) {
	var out []*record.Merge
	err := s.bodies(ctx, record.KindMerge, func(e record.Entity) { out = append(out, e.(*record.Merge)) }, queries["merges of person"], string(person), string(person))
	return out, err
}

// bodies reads nouns of one kind.
func (s *Store) bodies(ctx context.Context, kind record.Kind, take func(record.Entity), query string, args ...any) (err error) {
	rows, err := s.reader.Query(ctx, query, args...)
	if err != nil {
		return err
	}
	defer func() { err = explain(s.where, errors.Join(err, rows.Close())) }()
	for rows.Next() {
		var body string
		if err := rows.Scan(&body); err != nil {
			return err
		}
		e, err := record.New(kind)
		if err != nil {
			return err
		}
		if err := json.Unmarshal([]byte(body), e); err != nil {
			return err
		}
		take(e)
	}
	return rows.Err()
}
