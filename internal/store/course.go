package store

import (
	"context"
	"encoding/json"
	"errors"

	"limitans/internal/record"
)

// Course is everything that the record knows about one eye, each list in the
// order of its days.
type Course struct {
	record.Course // of the eye
	Patient       *record.Patient
	Persons       []*record.Person // who it is: one, unless a mistake gave the patient two
	// ReadAs is the person that the first of Persons is read as after merges.
	ReadAs   record.ID
	Fellow   []*record.Eye            // the patient's other eyes
	Contacts []*record.ContactAttempt // about the eye, and about the patient as a whole; Documents likewise
	Batches  map[record.ID]*record.Batch
	Due      []DueRow
	InEye    []record.Content
	Contests []Contest // open ones about any of these nouns
}

// Course reads one eye in one snapshot. Nouns that are struck out are left out
// unless withStruck asks for them; the eye itself is returned either way.
// Error: NotFound.
func (s *Store) Course(ctx context.Context, eyeID record.ID, withStruck bool) (*Course, error) {
	c := &Course{Batches: map[record.ID]*record.Batch{}}
	err := s.snapshot(ctx, func(tx *Tx) error {
		e, err := tx.Get(ctx, record.KindEye, eyeID)
		if err != nil {
			return err
		}
		c.Eye = e.(*record.Eye)
		if err := tx.courseNouns(ctx, c, withStruck); err != nil {
			return err
		}
		return tx.courseRegisters(ctx, c)
	})
	if err != nil {
		return nil, err
	}
	return c, nil
}

// courseNouns reads the bodies of all nouns around the eye with one query.
func (tx *Tx) courseNouns(ctx context.Context, c *Course, withStruck bool) (err error) {
	patient, eyeID, most := string(c.Eye.PatientID), string(c.Eye.ID), int64(0)
	if withStruck {
		most = 1
	}
	args := []any{patient, patient, most, patient, eyeID, most}
	for range 6 { // scan, figures, plan, operation, visit, film
		args = append(args, eyeID, most)
	}
	for range 2 { // document, contact_attempt
		args = append(args, patient, eyeID, most)
	}
	rows, err := tx.Query(ctx, queries["course"], append(args, eyeID)...)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var kind record.Kind
		var day, id, body string
		if err := rows.Scan(&kind, &day, &id, &body); err != nil {
			return err
		}
		e, err := decode(kind, body)
		if err != nil {
			return err
		}
		c.take(e)
	}
	return rows.Err()
}

func (c *Course) take(e record.Entity) {
	switch n := e.(type) {
	case *record.Patient:
		c.Patient = n
	case *record.Person:
		c.Persons = append(c.Persons, n)
	case *record.Eye:
		c.Fellow = append(c.Fellow, n)
	case *record.Scan:
		c.Scans = append(c.Scans, n)
	case *record.HoleFigures:
		c.Figures = append(c.Figures, n)
	case *record.Plan:
		c.Plans = append(c.Plans, n)
	case *record.Operation:
		c.Operations = append(c.Operations, n)
	case *record.Visit:
		c.Visits = append(c.Visits, n)
	case *record.Film:
		c.Films = append(c.Films, n)
	case *record.Document:
		c.Documents = append(c.Documents, n)
	case *record.ContactAttempt:
		c.Contacts = append(c.Contacts, n)
	case *record.Batch:
		c.Batches[n.ID] = n
	}
}

// courseRegisters reads what is due, what is in the eye, and the contests.
func (tx *Tx) courseRegisters(ctx context.Context, c *Course) error {
	owner := Owner{EyeID: c.Eye.ID, PatientID: c.Eye.PatientID, Side: c.Eye.Side}
	if len(c.Persons) > 0 {
		p := c.Persons[0]
		owner.PersonID, owner.UnitNumber, owner.DiedOn = p.ID, p.UnitNumber, p.DiedOn.ISO()
		owner.Name, _ = displayName(p).(string)
		if err := tx.QueryRow(ctx, queries["read as"], string(p.ID), string(p.ID)).Scan(&c.ReadAs); err != nil {
			return err
		}
	}
	err := tx.each(ctx, queries["due of eye"], []any{string(c.Eye.ID)}, func(scan func(...any) error) error {
		r := DueRow{Owner: owner}
		err := scan(&r.Reason, &r.Source, &r.On, &r.Since)
		c.Due = append(c.Due, r)
		return err
	})
	if err != nil {
		return err
	}
	err = tx.each(ctx, queries["in this eye"], []any{string(c.Eye.ID)}, func(scan func(...any) error) error {
		var text string
		if err := scan(&text); err != nil {
			return err
		}
		var content record.Content
		err := json.Unmarshal([]byte(text), &content)
		c.InEye = append(c.InEye, content)
		return err
	})
	if err != nil {
		return err
	}
	args := []any{string(c.Eye.ID), string(c.Eye.PatientID), string(c.Eye.PatientID)}
	for range 8 {
		args = append(args, string(c.Eye.ID))
	}
	return tx.each(ctx, queries["contests of eye"], args, func(scan func(...any) error) error {
		var body string
		if err := scan(&body); err != nil {
			return err
		}
		var contest Contest
		err := json.Unmarshal([]byte(body), &contest)
		c.Contests = append(c.Contests, contest)
		return err
	})
}

// each runs a query and hands each row's Scan to take.
func (tx *Tx) each(ctx context.Context, query string, args []any, take func(scan func(...any) error) error) (err error) {
	rows, err := tx.Query(ctx, query, args...)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		if err := take(rows.Scan); err != nil {
			return err
		}
	}
	return rows.Err()
}
