package account

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"limitans/internal/record"
	"limitans/internal/store"
)

// The account history is a chain of its own beside the record's: who may read
// it is another question (ReadAccountHistory, ReadHistory), and a flood of
// failed log-ins must not stand in the way of people who write visits. Like
// the record's, each entry holds the SHA-256 of its content and of the hash
// before.

// What happened, as it is stored. The state of an account can be told from
// these alone, which Verify does.
const (
	whatMade        = "account made"
	whatRoles       = "roles changed"
	whatActivated   = "account activated"
	whatDeactivated = "account deactivated"
)

// entry is one line of the history about an account. It never holds a
// passphrase, a code, a secret or a hash of one. Who and from where come from
// the transaction.
type entry struct {
	subject       record.AccountID
	what          string
	before, after string
	reason        string
}

// Event is one entry of the account history.
type Event struct {
	Number        int64 // 1, 2, 3, … without a gap
	At            time.Time
	By            record.Actor     // "unknown" until someone has proved something
	Account       record.AccountID // "unknown" where a typed name does not exist
	What          string
	Before, After string
	Reason        string
	hash          string
}

// hashAfter is the SHA-256, in lower-case hexadecimal digits, of these texts
// in this order, each as a netstring (its length in bytes in decimal, a colon,
// its bytes, a comma), as in the record's history:
//
//	"limitans account history 1", number, hash before, Unix milliseconds, who,
//	from where, account, what, before, after, reason
func (e Event) hashAfter(previous string) string {
	h := sha256.New()
	for _, part := range []string{
		"limitans account history 1", strconv.FormatInt(e.Number, 10), previous, strconv.FormatInt(e.At.UnixMilli(), 10),
		string(e.By.AccountID), string(e.By.Place), string(e.Account), e.What, e.Before, e.After, e.Reason,
	} {
		_, _ = fmt.Fprintf(h, "%d:%s,", len(part), part) // a hash takes everything
	}
	return hex.EncodeToString(h.Sum(nil))
}

// record appends an entry. The caller has the turn (see change).
func (g *Gate) record(ctx context.Context, tx *store.Tx, e entry) error {
	event := Event{
		At: g.now(), By: tx.Actor(), Account: e.subject,
		What: e.what, Before: e.before, After: e.after, Reason: e.reason,
	}
	// A reason or address with bytes that are no characters would not come back
	// as it was hashed.
	for _, text := range []*string{(*string)(&event.By.Place), &event.Before, &event.After, &event.Reason} {
		*text = strings.ReplaceAll(strings.ToValidUTF8(*text, "\ufffd"), "\x00", "\ufffd")
	}
	var previous string
	err := tx.QueryRow(ctx, `select events, event_hash from account_state where singleton = 1`).Scan(&event.Number, &previous)
	if err != nil {
		return fmt.Errorf("reading the end of the account history: %w", err)
	}
	event.Number++
	hash := event.hashAfter(previous)
	if _, err := exec(ctx, tx, `insert into account_event (number, happened_at, actor, place, account, what, before, after, reason, hash)
		values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`, event.Number, event.At.UnixMilli(), string(event.By.AccountID), string(event.By.Place),
		string(event.Account), event.What, event.Before, event.After, event.Reason, hash); err != nil {
		return fmt.Errorf("writing the account history: %w", err)
	}
	if _, err := exec(ctx, tx, `update account_state set events = ?, event_hash = ? where singleton = 1`, event.Number, hash); err != nil {
		return fmt.Errorf("writing the end of the account history: %w", err)
	}
	return nil
}

// History gives what happened about one account, the oldest first, for its
// holder or for someone who may read the account history. The account
// "unknown" collects log-ins with names that do not exist.
func (g *Gate) History(ctx context.Context, by Actor, account record.AccountID) ([]Event, error) {
	if by.Account != account {
		if err := g.authorise(ctx, g.store.Reader(), by, ReadAccountHistory); err != nil {
			return nil, err
		}
	}
	var all []Event
	err := g.walk(ctx, `where account = ?`, []any{string(account)}, func(e Event) { all = append(all, e) })
	return all, err
}

func (g *Gate) walk(ctx context.Context, where string, args []any, f func(e Event)) (err error) {
	rows, err := g.store.Reader().Query(ctx, `select number, happened_at, actor, place, account, what, before, after, reason, hash
		from account_event `+where+` order by number`, args...)
	if err != nil {
		return fmt.Errorf("reading the account history: %w", err)
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var e Event
		var at int64
		if err := rows.Scan(&e.Number, &at, &e.By.AccountID, &e.By.Place, &e.Account, &e.What, &e.Before, &e.After, &e.Reason, &e.hash); err != nil {
			return fmt.Errorf("reading the account history: %w", err)
		}
		e.At = time.UnixMilli(at).UTC()
		f(e)
	}
	return rows.Err()
}

// Check is the outcome of Verify.
type Check struct {
	Head     store.Head // number of entries and hash of the last
	Problems []string
}

// Verify proves that the account history is as it was written and that the
// accounts are what it says: numbers without a gap, every hash, the head, and
// name, roles and activity of each account as the entries about it left them.
// Heads that were kept elsewhere find a history that was rewritten as a whole.
// Nobody may change accounts meanwhile, or a change between two of its reads
// shows as a problem.
func (g *Gate) Verify(ctx context.Context, kept ...store.Head) (Check, error) {
	var c Check
	add := func(format string, args ...any) { c.Problems = append(c.Problems, fmt.Sprintf(format, args...)) }
	states := map[record.AccountID]string{}
	err := g.walk(ctx, "", nil, func(e Event) {
		if e.Number != c.Head.Entries+1 {
			add("account history: entry %d follows entry %d", e.Number, c.Head.Entries)
		}
		if e.hash != e.hashAfter(c.Head.Hash) {
			add("account history: entry %d or the hash before it was changed", e.Number)
		}
		c.Head = store.Head{Entries: e.Number, Hash: e.hash}
		for _, k := range kept {
			if k.Entries == e.Number && k.Hash != e.hash {
				add("account history: entry %d is not the one that was kept", e.Number)
			}
		}
		switch name, roles, active := split(states[e.Account]); e.What {
		case whatMade:
			states[e.Account] = e.After + "; active"
		case whatRoles:
			states[e.Account] = name + ": " + e.After + "; " + active
		case whatActivated, whatDeactivated:
			states[e.Account] = name + ": " + roles + "; " + e.After
		}
	})
	if err != nil {
		return Check{}, err
	}
	for _, k := range kept {
		if k.Entries > c.Head.Entries {
			add("account history: %d entries were there once, now %d", k.Entries, c.Head.Entries)
		}
	}
	var head store.Head
	if err := g.store.Reader().QueryRow(ctx, `select events, event_hash from account_state where singleton = 1`).Scan(&head.Entries, &head.Hash); err != nil {
		return Check{}, fmt.Errorf("reading the end of the account history: %w", err)
	}
	if head != c.Head {
		add("account history: it ends at entry %d, its head says %d", c.Head.Entries, head.Entries)
	}
	all, err := g.all(ctx)
	if err != nil {
		return Check{}, err
	}
	for _, a := range all {
		if now := a.state(); states[a.ID] != now {
			add("account %s is %q, by the history %q", a.ID, now, states[a.ID])
		}
		delete(states, a.ID)
	}
	for id := range states {
		add("account %s is in the history only", id)
	}
	return c, nil
}

// state is what the history tells about an account: "name: roles; active".
func (a Account) state() string {
	active := "active"
	if !a.Active {
		active = "deactivated"
	}
	return a.Name + ": " + a.Roles.String() + "; " + active
}

func split(state string) (name, roles, active string) {
	rest, active, _ := strings.Cut(state, "; ")
	if at := strings.LastIndex(rest, ": "); at >= 0 {
		return rest[:at], rest[at+2:], active
	}
	return "", "", active
}
