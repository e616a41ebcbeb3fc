package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"strconv"
	"time"

	"limitans/fault"
	"limitans/internal/record"
)

// Action says what a change did.
type Action string

// The actions. Their text is stored.
const (
	ActionCreate    Action = "create"
	ActionChange    Action = "change"
	ActionStrikeOut Action = "strike_out"
	ActionRestore   Action = "restore" // a strike-out that was itself a mistake
	ActionContest   Action = "contest" // a change that came too late was put beside the other
	ActionResolve   Action = "resolve" // a person decided a contest
)

// kindContest stands in the history where an entry is about a contest. It is no
// kind of package record.
const kindContest record.Kind = "contest"

// Entry is one entry of the history.
type Entry struct {
	Number  int64 // 1, 2, 3, … without a gap
	At      time.Time
	By      record.Actor
	Action  Action
	Kind    record.Kind
	Entity  record.ID
	Version int64  // of the noun, after the change
	Before  string // the whole noun as canonical JSON; empty when it was not there
	After   string
	Reason  string
	Hash    string // 64 hexadecimal digits
}

// Head is the end of the history: how many entries there are and the hash of
// the last. Kept elsewhere, it proves later that the past was not rewritten.
type Head struct {
	Entries int64
	Hash    string // empty when there are no entries
}

// timeLayout has a fixed width, so that its text sorts as the time does.
const timeLayout = "2006-01-02T15:04:05.000000Z"

func timeText(t time.Time) string { return t.UTC().Format(timeLayout) }

// historyHash is the SHA-256, as 64 lower-case hexadecimal digits, of these
// texts in this order, each as a netstring (its length in bytes in decimal,
// a colon, its bytes, a comma):
//
//	"limitans history 1", number, hash of the entry before ("" for entry 1), at,
//	account, place, action, kind, entity, version, before, after, reason
//
// The lengths keep two entries with differently cut texts apart. Netstrings:
// D. J. Bernstein 1997 (from memory); SHA-256: FIPS 180-4.
func historyHash(previous string, e Entry) string {
	h := sha256.New()
	var b []byte
	for _, part := range []string{
		"limitans history 1", strconv.FormatInt(e.Number, 10), previous, timeText(e.At),
		string(e.By.AccountID), string(e.By.Place), string(e.Action), string(e.Kind), string(e.Entity),
		strconv.FormatInt(e.Version, 10), e.Before, e.After, e.Reason,
	} {
		b = strconv.AppendInt(b[:0], int64(len(part)), 10)
		b = append(b, ':')
		b = append(b, part...)
		b = append(b, ',')
		h.Write(b)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// canonical is the JSON form of a value in which objects have their keys in
// order and there is no white space, so that equal values have equal text.
// Numbers stay as they were written. Text that is no UTF-8 would be changed by
// the encoding and is refused.
func canonical(value any) (string, error) { return canonicalWith(value, nil) }

// canonicalWith is canonical with a change to the outermost object.
func canonicalWith(value any, change func(map[string]any)) (string, error) {
	first, err := json.Marshal(value)
	if err != nil {
		return "", &fault.Error{Code: fault.Invalid, Where: "record", What: "cannot be written as JSON: " + err.Error(), Cause: err}
	}
	if replaced(first) {
		return "", &fault.Error{Code: fault.Malformed, Where: "record", What: "a text holds bytes that are no characters", Expected: "UTF-8"}
	}
	decoder := json.NewDecoder(bytes.NewReader(first))
	decoder.UseNumber()
	var tree any
	if err := decoder.Decode(&tree); err != nil {
		return "", &fault.Error{Code: fault.Internal, Where: "record", What: err.Error(), Cause: err}
	}
	if object, is := tree.(map[string]any); is && change != nil {
		change(object)
	}
	var b bytes.Buffer
	encoder := json.NewEncoder(&b)
	encoder.SetEscapeHTML(false)
	if err := encoder.Encode(tree); err != nil {
		return "", &fault.Error{Code: fault.Internal, Where: "record", What: err.Error(), Cause: err}
	}
	return string(bytes.TrimSuffix(b.Bytes(), []byte("\n"))), nil
}

// replaced reports whether the encoder put a replacement character for bytes
// that are no UTF-8: it then writes the six characters \ufffd, while a
// replacement character that was typed is written as itself.
func replaced(text []byte) bool {
	for rest := text; ; {
		at := bytes.Index(rest, []byte(`\ufffd`))
		if at < 0 {
			return false
		}
		slashes := 0
		for i := at - 1; i >= 0 && rest[i] == '\\'; i-- {
			slashes++
		}
		if slashes%2 == 0 {
			return true
		}
		rest = rest[at+1:]
	}
}

// append writes an entry. The caller holds the lock; the head is read once in a
// transaction and moved once, before its commit.
func (tx *Tx) append(ctx context.Context, e Entry) error {
	if tx.end == nil {
		head, err := tx.head(ctx)
		if err != nil {
			return err
		}
		tx.end = &head
	}
	e.Number, e.At, e.By = tx.end.Entries+1, tx.at, tx.actor
	e.Hash = historyHash(tx.end.Hash, e)
	_, err := tx.exec(ctx, queries["append history"], e.Number, timeText(e.At), string(e.By.AccountID), string(e.By.Place),
		string(e.Action), string(e.Kind), string(e.Entity), e.Version, e.Before, e.After, e.Reason, e.Hash)
	if err != nil {
		return err
	}
	*tx.end = Head{Entries: e.Number, Hash: e.Hash}
	return nil
}

// moveHead writes the head that append has kept.
func (tx *Tx) moveHead(ctx context.Context) error {
	if tx.end == nil {
		return nil
	}
	_, err := tx.exec(ctx, queries["move head"], tx.end.Entries, tx.end.Hash)
	return err
}

func (tx *Tx) head(ctx context.Context) (Head, error) {
	var h Head
	err := tx.queryRow(ctx, queries["head"]).Scan(&h.Entries, &h.Hash)
	return h, explain(tx.store.where, err)
}

// Head reads the end of the history.
func (s *Store) Head(ctx context.Context) (Head, error) {
	var h Head
	err := s.reader.QueryRow(ctx, queries["head"]).Scan(&h.Entries, &h.Hash)
	return h, explain(s.where, err)
}

// History returns the entries of one noun, oldest first.
func (s *Store) History(ctx context.Context, kind record.Kind, id record.ID) ([]Entry, error) {
	rows, err := s.reader.Query(ctx, queries["history of"], string(kind), string(id))
	if err != nil {
		return nil, err
	}
	return s.entries(rows)
}

// HistorySince returns at most limit entries after the one with this number,
// oldest first: what happened in the whole record.
func (s *Store) HistorySince(ctx context.Context, number int64, limit int) ([]Entry, error) {
	rows, err := s.reader.Query(ctx, queries["history since"], number, limit)
	if err != nil {
		return nil, err
	}
	return s.entries(rows)
}

func (s *Store) entries(rows rows) (list []Entry, err error) {
	defer func() { err = explain(s.where, errors.Join(err, rows.Close())) }()
	for rows.Next() {
		e, err := scanEntry(rows)
		if err != nil {
			return nil, err
		}
		list = append(list, e)
	}
	return list, rows.Err()
}

// rows is what is used of *sql.Rows.
type rows interface {
	Next() bool
	Scan(...any) error
	Err() error
	Close() error
}

// scanEntry reads the columns of "history columns". A time that cannot be read
// is left zero: the hash then no longer fits, which is how it is found.
func scanEntry(r rows) (Entry, error) {
	var e Entry
	var at string
	err := r.Scan(&e.Number, &at, &e.By.AccountID, &e.By.Place, &e.Action, &e.Kind, &e.Entity, &e.Version,
		&e.Before, &e.After, &e.Reason, &e.Hash)
	if t, bad := time.Parse(timeLayout, at); bad == nil && timeText(t) == at {
		e.At = t
	}
	return e, err
}
