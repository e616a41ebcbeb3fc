package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"

	"limitans/fault"
	"limitans/internal/record"
)

// Contest reads one contest, open or decided. Error: NotFound.
func (s *Store) Contest(ctx context.Context, id record.ID) (Contest, error) {
	var c Contest
	var body string
	err := s.reader.QueryRow(ctx, queries["one contest"], string(id)).Scan(&body)
	if errors.Is(err, sql.ErrNoRows) {
		return c, notThere(kindContest, id)
	}
	if err != nil {
		return c, explain(s.where, err)
	}
	if err := json.Unmarshal([]byte(body), &c); err != nil {
		return c, &fault.Error{Code: fault.Malformed, Where: "contest " + string(id), What: "cannot be read: " + err.Error(), Cause: err}
	}
	return c, nil
}

// Papers that wait for a signature stand in the due list beside the reasons of
// package record, with a day that no list of days meets.
const (
	// DueUnsignedFigures: figures of a hole that nobody signed and none replaces.
	DueUnsignedFigures record.DueFor = "unsigned_figures"
	// DueUnsignedOperation: an operation whose record nobody signed.
	DueUnsignedOperation record.DueFor = "unsigned_operation"
)

// paperDay is the day of a paper in the due list: after every agreed day.
func paperDay(d record.Date) string { return "~" + d.ISO() }

// deriveFigures keeps the papers of figures up to date: those that changed, and
// those that they replace.
func (tx *Tx) deriveFigures(ctx context.Context, f *record.HoleFigures, struck bool) error {
	if err := tx.deriveOneFigures(ctx, f, struck); err != nil || f.Supersedes == "" {
		return err
	}
	now, there, err := tx.current(ctx, record.KindFigures, f.Supersedes)
	if err != nil || !there {
		return err
	}
	before, err := decode(record.KindFigures, now.body)
	if err != nil {
		return err
	}
	return tx.deriveOneFigures(ctx, before.(*record.HoleFigures), now.struck)
}

func (tx *Tx) deriveOneFigures(ctx context.Context, f *record.HoleFigures, struck bool) error {
	if _, err := tx.exec(ctx, queries["forget paper"], string(f.EyeID), string(DueUnsignedFigures), string(f.ID)); err != nil {
		return err
	}
	if struck || f.Signed != nil {
		return nil
	}
	var replaced int64
	if err := tx.queryRow(ctx, queries["replaced by another"], string(f.ID)).Scan(&replaced); err != nil || replaced > 0 {
		return err
	}
	_, err := tx.exec(ctx, queries["add due"], string(f.EyeID), string(DueUnsignedFigures), string(f.ID), string(f.PatientID), paperDay(f.Taken), f.Taken.ISO())
	return err
}

// Papers lists the newest papers of one sort that wait for a signature, at most
// limit of them, 1 to [MaxPage]. On is empty: nobody agreed a day for them.
func (s *Store) Papers(ctx context.Context, reason record.DueFor, limit int) (list []DueRow, err error) {
	if limit < 1 || limit > MaxPage {
		return nil, &fault.Error{Code: fault.Invalid, Where: "papers", What: "their number is out of range", Expected: "1 to 1000"}
	}
	rows, err := s.reader.Query(ctx, queries["papers"], string(reason), limit)
	if err != nil {
		return nil, err
	}
	defer func() { err = explain(s.where, errors.Join(err, rows.Close())) }()
	for rows.Next() {
		var r DueRow
		if err := rows.Scan(append(r.targets(), &r.Reason, &r.Source, &r.Since)...); err != nil {
			return nil, err
		}
		list = append(list, r)
	}
	return list, rows.Err()
}

// NewestContests lists open contests, the newest first, at most limit of them.
func (s *Store) NewestContests(ctx context.Context, limit int) (list []Contest, err error) {
	rows, err := s.reader.Query(ctx, queries["open contests newest"], limit)
	if err != nil {
		return nil, err
	}
	defer func() { err = explain(s.where, errors.Join(err, rows.Close())) }()
	for rows.Next() {
		var body string
		if err := rows.Scan(&body); err != nil {
			return nil, err
		}
		var c Contest
		if err := json.Unmarshal([]byte(body), &c); err != nil {
			return nil, &fault.Error{Code: fault.Malformed, Where: "contest", What: "cannot be read: " + err.Error(), Cause: err}
		}
		list = append(list, c)
	}
	return list, rows.Err()
}
