package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"limitans/fault"
	"limitans/internal/record"
)

// Contest holds two versions of one noun between which a person must choose.
// Base, Theirs and Yours are whole nouns as JSON.
type Contest struct {
	ID      record.ID   `json:"id"`
	Version int64       `json:"version"` // 1 open, 2 decided
	Kind    record.Kind `json:"kind"`
	Entity  record.ID   `json:"entity"`
	// Base is what yours was made from; null when yours was meant as a new noun.
	Base        json.RawMessage `json:"base"`
	BaseVersion int64           `json:"base_version"`
	// Theirs is what stood when yours came.
	Theirs        json.RawMessage `json:"theirs"`
	TheirsVersion int64           `json:"theirs_version"`
	Yours         json.RawMessage `json:"yours"`

	By       record.Actor    `json:"by"` // who made yours
	At       time.Time       `json:"at"`
	Reason   record.FreeText `json:"reason,omitempty"` // given with yours
	Decision *Decision       `json:"decision,omitempty"`
}

// Decision is how a contest ended.
type Decision struct {
	Choice  Choice          `json:"choice"`
	By      record.Actor    `json:"by"`
	At      time.Time       `json:"at"`
	Reason  record.FreeText `json:"reason"`
	Version int64           `json:"version"` // of the noun, after the decision
}

// Choice says which version a person took.
type Choice string

// The choices. Merged is a third version that the person wrote.
const (
	ChooseTheirs Choice = "theirs"
	ChooseYours  Choice = "yours"
	ChooseMerged Choice = "merged"
)

// Contested is in the chain of the error that [Store.Write] returns when it has
// committed, but a change inside came too late and was kept beside the other.
type Contested struct {
	Contests []record.ID
}

// Error says how many.
func (c *Contested) Error() string { return fmt.Sprintf("%d contested", len(c.Contests)) }

func contestedFault(contests []record.ID) error {
	return &fault.Error{
		Code: fault.Conflict, Where: "record", What: "somebody else changed the same entry meanwhile; both versions are kept",
		Mend: "compare them and decide", Cause: &Contested{Contests: contests},
	}
}

// contest keeps a change that came too late. It is held to the rules as a change
// of what it was made from: that the noun was signed or struck out meanwhile is
// for the person who decides.
func (tx *Tx) contest(ctx context.Context, e record.Entity, now current, reason string) (record.ID, error) {
	if _, err := project(e); err != nil {
		return "", err
	}
	base := e.Identity()
	yours, err := canonicalNoun(e, base.Version, nil)
	if err != nil {
		return "", err
	}
	from, before, err := tx.madeFrom(ctx, e)
	if err != nil {
		return "", err
	}
	if err := tx.check(ctx, e, before); err != nil {
		return "", err
	}
	id, err := tx.NewID()
	if err != nil {
		return "", err
	}
	c := Contest{
		ID: id, Version: 1, Kind: e.Kind(), Entity: base.ID,
		Base: json.RawMessage(from), BaseVersion: base.Version,
		Theirs: json.RawMessage(now.body), TheirsVersion: now.version,
		Yours: json.RawMessage(yours), By: tx.actor, At: tx.at, Reason: record.FreeText(reason),
	}
	body, err := canonical(c)
	if err != nil {
		return "", err
	}
	if _, err := tx.exec(ctx, queries["add contest"], string(id), c.Version, int64(1), string(c.Kind), string(c.Entity), body); err != nil {
		return "", tx.broke(err)
	}
	tx.opened = append(tx.opened, id)
	return id, tx.broke(tx.append(ctx, Entry{Action: ActionContest, Kind: kindContest, Entity: id, Version: 1, After: body, Reason: reason}))
}

// madeFrom is the version that a noun's change started from, as text and noun:
// null and none for a new one.
func (tx *Tx) madeFrom(ctx context.Context, e record.Entity) (string, record.Entity, error) {
	base := e.Identity()
	if base.Version == 0 {
		return "null", nil, nil
	}
	var text string
	err := tx.queryRow(ctx, queries["text of version"], string(e.Kind()), string(base.ID), base.Version).Scan(&text)
	if err != nil {
		return "", nil, explain(tx.store.where, err)
	}
	before, err := decode(e.Kind(), text)
	return text, before, err
}

// Resolution is a person's decision of a contest.
type Resolution struct {
	Choice Choice
	// Merged is the third version; only with ChooseMerged. Its identifier must be
	// that of the contested noun; its version is not looked at.
	Merged record.Entity
	// SeenVersion is the version of the noun that the person saw when deciding.
	SeenVersion int64
	Reason      string // never empty
}

// Resolve decides an open contest and returns the noun's version after it.
//
// Errors: NotFound; Invalid without a reason, with an unknown choice, or when
// the contest is decided already; Conflict when the noun has moved on since the
// person looked; those of [Tx.Put] for the chosen version.
func (tx *Tx) Resolve(ctx context.Context, contest record.ID, r Resolution) (int64, error) {
	where := "contest " + string(contest)
	if strings.TrimSpace(r.Reason) == "" {
		return 0, &fault.Error{Code: fault.Invalid, Where: where, What: "no reason is given", Expected: "a reason in words"}
	}
	if err := tx.lock(ctx); err != nil {
		return 0, err
	}
	var before string
	err := tx.queryRow(ctx, queries["one contest"], string(contest)).Scan(&before)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, notThere(kindContest, contest)
	}
	if err != nil {
		return 0, explain(tx.store.where, err)
	}
	var c Contest
	if err := json.Unmarshal([]byte(before), &c); err != nil {
		return 0, &fault.Error{Code: fault.Malformed, Where: where, What: "cannot be read: " + err.Error(), Cause: err}
	}
	if c.Decision != nil {
		return 0, &fault.Error{Code: fault.Invalid, Where: where, What: "it is decided already"}
	}
	version, err := tx.take(ctx, c, r)
	if err != nil {
		return 0, err
	}
	c.Version = 2
	c.Decision = &Decision{Choice: r.Choice, By: tx.actor, At: tx.at, Reason: record.FreeText(r.Reason), Version: version}
	after, err := canonical(c)
	if err != nil {
		return 0, err
	}
	if _, err := tx.exec(ctx, queries["decide contest"], c.Version, after, string(contest)); err != nil {
		return 0, tx.broke(err)
	}
	return version, tx.broke(tx.append(ctx, Entry{
		Action: ActionResolve, Kind: kindContest, Entity: contest, Version: 2, Before: before, After: after, Reason: r.Reason,
	}))
}

// take brings the chosen version into the noun.
func (tx *Tx) take(ctx context.Context, c Contest, r Resolution) (int64, error) {
	where := string(c.Kind) + " " + string(c.Entity)
	now, there, err := tx.current(ctx, c.Kind, c.Entity)
	if err != nil {
		return 0, err
	}
	if !there {
		return 0, notThere(c.Kind, c.Entity)
	}
	if now.version != r.SeenVersion {
		return 0, &fault.Error{
			Code: fault.Conflict, Where: where, What: fmt.Sprintf("it has moved on to version %d since the contest was looked at", now.version),
			Expected: fmt.Sprintf("version %d", r.SeenVersion), Mend: "look at the contest again",
		}
	}
	chosen := r.Merged
	switch {
	case r.Choice == ChooseTheirs && r.Merged == nil:
		return now.version, nil
	case r.Choice == ChooseYours && r.Merged == nil:
		if chosen, err = decode(c.Kind, string(c.Yours)); err != nil {
			return 0, err
		}
	case r.Choice == ChooseMerged && r.Merged != nil && r.Merged.Kind() == c.Kind && r.Merged.Identity().ID == c.Entity:
	default:
		return 0, &fault.Error{
			Code: fault.Invalid, Where: "contest", What: fmt.Sprintf("%q with this value is no choice", r.Choice),
			Expected: "theirs, yours, or merged with the same noun",
		}
	}
	if err := tx.mayChange(ctx, chosen, now, true); err != nil {
		return 0, err
	}
	return now.version + 1, tx.next(ctx, chosen, now, ActionResolve, nil, r.Reason)
}

// OpenContests lists contests that nobody has decided, oldest first. For one
// noun give its kind and identifier, for all give neither.
func (s *Store) OpenContests(ctx context.Context, kind record.Kind, id record.ID) (list []Contest, err error) {
	rows, err := s.reader.Query(ctx, queries["open contests"], string(id), string(kind), string(id))
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
