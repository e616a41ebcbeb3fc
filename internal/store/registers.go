package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/record"
)

// Owner says whose eye a row is about. The person's part is empty where the
// patient has no person.
type Owner struct {
	EyeID, PatientID, PersonID record.ID
	Side                       eye.Laterality
	Name, UnitNumber           string
	DiedOn                     string // ISO 8601; empty while nobody told
}

// DueRow is one reason why an eye is due.
type DueRow struct {
	Owner
	Reason record.DueFor // those of package record, and DueUnsignedPlan
	Source record.ID     // visit, operation or plan that it comes from
	// On is the day agreed, ISO 8601 as far as it is known; empty when the eye
	// holds something that must be seen or removed and nobody agreed a day.
	On    string
	Since string // day of the source
}

// DueQuery says which part of the due list is wanted.
type DueQuery struct {
	// From is the first day, ISO 8601, that is listed; empty begins with what has
	// no day.
	From string
	// Until is the last day, ISO 8601, that is listed; empty lists all days. What
	// has no day comes first, and is listed unless From is told.
	Until string
	// Reasons to list; none lists all.
	Reasons []record.DueFor
	// GasSince, a day in full, leaves out gas checks of eyes filled before it for
	// which no day from then on was agreed: gas that long since must be gone, but
	// nobody saw it. DuePage.Hidden counts them. Empty leaves nothing out.
	GasSince string
	Page     Page
}

// DuePage is a stretch of the due list.
type DuePage struct {
	Rows []DueRow
	// Hidden is how many rows DueQuery.GasSince leaves out of the whole list; who
	// shows the list says so.
	Hidden int64
	Next   string
}

// Due lists which eyes are due, by day, those without a day first. Eyes of
// patients who have died are listed with the day: whoever calls people must
// look at it.
func (s *Store) Due(ctx context.Context, q DueQuery) (page DuePage, err error) {
	limit, err := q.Page.rowLimit()
	if err != nil {
		return page, err
	}
	from, err := parsePosition(q.Page.After)
	if q.Page.After == "" {
		from.Text = q.From
	}
	if err != nil {
		return page, err
	}
	if err := checkGasSince(q.GasSince); err != nil {
		return page, err
	}
	until := q.Until
	if until == "" {
		until = "~" // after every digit
	}
	if q.GasSince != "" {
		if page.Hidden, err = s.oldGas(ctx, q, until); err != nil {
			return page, err
		}
	}
	query, args := dueQuery(q, from, until, limit)
	rows, err := s.reader.Query(ctx, query, args...)
	if err != nil {
		return page, err
	}
	defer func() { err = explain(s.where, errors.Join(err, rows.Close())) }()
	for rows.Next() {
		var r DueRow
		if err := rows.Scan(append(r.targets(), &r.Reason, &r.Source, &r.On, &r.Since)...); err != nil {
			return page, err
		}
		if len(page.Rows) == limit-1 {
			l := page.Rows[len(page.Rows)-1]
			page.Next = position{Text: l.On, ID: l.EyeID, Text2: string(l.Reason) + " " + string(l.Source)}.String()
			return page, nil
		}
		page.Rows = append(page.Rows, r)
	}
	return page, rows.Err()
}

// dueQuery picks a page of each reason for itself and puts them in order together:
// in one go the engine would sort all that is due before it takes the first rows.
func dueQuery(q DueQuery, from position, until string, limit int) (query string, args []any) {
	reason, source, _ := strings.Cut(from.Text2, " ")
	var parts []string
	pick := func(more string, value ...any) {
		args = append(append(args, until, from.Text, from.Text, string(from.ID), string(from.ID), reason, reason, source), value...)
		if q.GasSince != "" {
			more += " and not " + queries["due: old gas"]
			args = append(args, q.GasSince, q.GasSince)
		}
		args = append(args, limit)
		parts = append(parts, fmt.Sprintf("select * from (%s%s %s\n) r%d", queries["due: picked"], more, queries["due: order"], len(parts)))
	}
	if len(q.Reasons) == 0 {
		pick("")
	}
	for i, r := range q.Reasons {
		if !slices.Contains(q.Reasons[:i], r) {
			pick(" and d.reason = ?", string(r))
		}
	}
	query = fmt.Sprintf(queries["due"], strings.Join(parts, " union all ")) + " " + queries["due: order"]
	return query, append(args, limit)
}

// targets are where the columns of "owner" go.
func (o *Owner) targets() []any {
	return []any{&o.EyeID, &o.PatientID, &o.PersonID, sideTarget{&o.Side}, &o.Name, &o.UnitNumber, &o.DiedOn}
}

// sideTarget reads a column that holds a side.
type sideTarget struct{ side *eye.Laterality }

// Scan takes the text that MarshalText writes.
func (t sideTarget) Scan(v any) error {
	switch v := v.(type) {
	case string:
		return t.side.UnmarshalText([]byte(v))
	case []byte:
		return t.side.UnmarshalText(v)
	}
	return &fault.Error{Code: fault.Malformed, Where: "side", What: "is no text"}
}

// InEyeRow is something that is, or may still be, in an eye now.
type InEyeRow struct {
	Owner
	Content record.Content // by the rules of record.InEye
}

// InEyes lists what is in which eye now, of the media given or of all: the
// register of oil, heavy liquid and gas. What has been in longest comes first,
// and before it what has been in since an unknown day.
func (s *Store) InEyes(ctx context.Context, page Page, media ...record.Medium) (list []InEyeRow, next string, err error) {
	limit, err := page.rowLimit()
	if err != nil {
		return nil, "", err
	}
	from, err := parsePosition(page.After)
	if err != nil {
		return nil, "", err
	}
	beyond := from.Number
	if page.After == "" {
		beyond = -1 // before the first
	}
	var args []any
	var parts []string
	pick := func(more string, value ...any) {
		args = append(append(append(args, from.Text, from.Text, string(from.ID), string(from.ID), beyond), value...), limit)
		parts = append(parts, fmt.Sprintf("select * from (%s%s %s\n) r%d", queries["in eyes: picked"], more, queries["in eyes: order"], len(parts)))
	}
	if len(media) == 0 {
		pick("")
	}
	for i, m := range media { // each along its index, as in dueQuery
		if !slices.Contains(media[:i], m) {
			pick(" and i.medium = ?", string(m))
		}
	}
	query := fmt.Sprintf(queries["in eyes"], strings.Join(parts, " union all ")) + " " + queries["in eyes: order"]
	rows, err := s.reader.Query(ctx, query, append(args, limit)...)
	if err != nil {
		return nil, "", err
	}
	defer func() { err = explain(s.where, errors.Join(err, rows.Close())) }()
	var last position
	for rows.Next() {
		var r InEyeRow
		var at position
		var content string
		if err := rows.Scan(append(r.targets(), &at.Text, &at.Number, &content)...); err != nil {
			return nil, "", err
		}
		if len(list) == limit-1 {
			return list, last.String(), nil
		}
		if err := json.Unmarshal([]byte(content), &r.Content); err != nil {
			return nil, "", err
		}
		list = append(list, r)
		at.ID = r.EyeID
		last = at
	}
	return list, "", rows.Err()
}

// LotRow is one use of a lot in an eye.
type LotRow struct {
	Owner
	OperationID record.ID
	Day         string // of the operation
	Class       record.AgentClass
	Action      record.AgentAction
	Product     string
	Lot         string // as on the label
	Expiry      string
	BatchID     record.ID // empty when the use names none
}

// EyesWithLot lists every use of a lot, by the number on the label or that of
// the batch it names, oldest first and without a page: a recall must miss
// nobody. Only letters and digits count, and not their case. Operations that are
// struck out are left out.
//
// Error: Invalid when the number has no letter or digit.
func (s *Store) EyesWithLot(ctx context.Context, lot string) (list []LotRow, err error) {
	key := lotKey(lot)
	if key == "" {
		return nil, &fault.Error{Code: fault.Invalid, Where: "lot", What: "no letter and no digit is given", Expected: "the number on the label"}
	}
	rows, err := s.reader.Query(ctx, queries["eyes with lot"], key, key)
	if err != nil {
		return nil, err
	}
	defer func() { err = explain(s.where, errors.Join(err, rows.Close())) }()
	for rows.Next() {
		var r LotRow
		if err := rows.Scan(append(r.targets(), &r.OperationID, &r.Day, &r.Class, &r.Action, &r.Product, &r.Lot, &r.Expiry, &r.BatchID)...); err != nil {
			return nil, err
		}
		list = append(list, r)
	}
	return list, rows.Err()
}

// Counts are how many there are of what, struck out ones apart.
type Counts struct {
	ByKind       map[record.Kind]int64
	StruckByKind map[record.Kind]int64
	InEyes       map[record.Medium]int64 // what is in eyes now
	Overdue      map[record.DueFor]int64 // due before the day given, or without a day
	OpenContests int64
}

// Counts counts what the record holds. today is the day, ISO 8601, before which
// something is overdue.
func (s *Store) Counts(ctx context.Context, today string) (Counts, error) {
	c := Counts{
		ByKind: map[record.Kind]int64{}, StruckByKind: map[record.Kind]int64{},
		InEyes: map[record.Medium]int64{}, Overdue: map[record.DueFor]int64{},
	}
	err := s.snapshot(ctx, func(tx *Tx) error {
		for kind, t := range nounTables {
			var all, struck int64
			query := "select (select count(*) from " + t.name + "), (select count(*) from " + t.name + " where struck = 1)"
			if err := tx.QueryRow(ctx, query).Scan(&all, &struck); err != nil {
				return err
			}
			c.ByKind[kind], c.StruckByKind[kind] = all-struck, struck
		}
		if err := count(ctx, tx, c.InEyes, queries["count in eyes"]); err != nil {
			return err
		}
		if err := count(ctx, tx, c.Overdue, queries["count overdue"], today); err != nil {
			return err
		}
		return tx.QueryRow(ctx, queries["count contests"]).Scan(&c.OpenContests)
	})
	return c, err
}

// count reads rows of a name and a number.
func count[K ~string](ctx context.Context, tx *Tx, into map[K]int64, query string, args ...any) (err error) {
	rows, err := tx.Query(ctx, query, args...)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var name string
		var n int64
		if err := rows.Scan(&name, &n); err != nil {
			return err
		}
		into[K(name)] = n
	}
	return rows.Err()
}
