package account

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/netip"
	"time"

	"limitans/internal/store"
)

// Failed attempts are counted for the name that was typed, whether it exists
// or not, and for the remote address. After some free ones each further
// failure doubles the time for which nothing is looked at. Nobody is locked
// for good: the wait has a longest value and the count is forgotten after a
// quiet day, so that nobody can be kept out by someone else's typing for
// longer than that someone goes on, and the last administrator never for ever.
//
// NIST SP 800-63B-4, section 3.2.2 (from memory) wants at most 100 consecutive
// failures and names growing waits as a means; an hour's wait from the
// twelfth failure on leaves a guesser 24 attempts a day. The numbers are this
// project's own.
type backOff struct {
	free    int           // failures without a wait
	first   time.Duration // the wait after the first failure that has one
	longest time.Duration
}

var (
	nameBackOff   = backOff{free: 4, first: 30 * time.Second, longest: time.Hour}
	remoteBackOff = backOff{free: 19, first: 30 * time.Second, longest: 15 * time.Minute}
)

// forgetAfter is how long without a failure until a count is forgotten.
const forgetAfter = 24 * time.Hour

// wait is first·2^(failures−free−1), at most longest, and none while failures
// are free.
func (b backOff) wait(failures int64) time.Duration {
	over := failures - int64(b.free)
	if over <= 0 {
		return 0
	}
	wait := b.first
	for i := int64(1); i < over && wait < b.longest; i++ {
		wait *= 2
	}
	return min(wait, b.longest)
}

// attempt is one counted attempt under one key.
type attempt struct {
	key      string
	back     backOff
	failures int64 // with this one
	until    int64 // Unix milliseconds; the block that this failure would start
	before   int64 // the block before
	unseen   int64 // attempts that came during the block and were not looked at
}

// nameKey and remoteKey are what attempts are counted under. The name is
// hashed because people type their passphrase into it now and then.
func nameKey(name string) string {
	sum := sha256.Sum256([]byte("name\x00" + name))
	return "name:" + hex.EncodeToString(sum[:])
}

// remoteKey takes an address with or without port. Of an IPv6 address the
// first 64 bits count, which is what one subscriber has (RFC 6177).
func remoteKey(remote string) string {
	address, err := netip.ParseAddr(remote)
	if err != nil {
		pair, pairErr := netip.ParseAddrPort(remote)
		if pairErr != nil {
			return "remote:?"
		}
		address = pair.Addr()
	}
	address = address.Unmap().WithZone("")
	if address.Is6() {
		if prefix, err := address.Prefix(64); err == nil {
			return "remote:" + prefix.String()
		}
	}
	return "remote:" + address.String()
}

// reserve counts an attempt as failed before it is looked at, so that a
// thousand attempts at the same moment are not all free. It returns a refusal
// when the name or the address is blocked. Without a name only the address
// counts.
func (g *Gate) reserve(ctx context.Context, name, remote string) ([]attempt, error) {
	var attempts []attempt
	now := g.now()
	var until int64
	err := g.store.Write(ctx, Actor{Account: unknown, Remote: remote}.record(), func(tx *store.Tx) error {
		until = 0
		attempts = []attempt{{key: remoteKey(remote), back: remoteBackOff}}
		if name != "" {
			// Always the name first, so that two transactions do not wait for each other.
			attempts = []attempt{{key: nameKey(name), back: nameBackOff}, attempts[0]}
		}
		for i := range attempts {
			if err := attempts[i].read(ctx, tx, now); err != nil {
				return err
			}
			until = max(until, attempts[i].before)
		}
		for i := range attempts {
			if err := attempts[i].count(ctx, tx, now, until > now.UnixMilli()); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if until > now.UnixMilli() {
		return nil, blockedUntil(time.UnixMilli(until), now)
	}
	return attempts, nil
}

// read locks the key's row, making it if need be, and forgets an old count.
func (a *attempt) read(ctx context.Context, tx *store.Tx, now time.Time) error {
	var last int64
	err := tx.QueryRow(ctx, `insert into account_attempt (key, failures, last_at, blocked_until_at, unseen) values (?, 0, ?, 0, 0)
		on conflict (key) do update set failures = account_attempt.failures
		returning failures, last_at, blocked_until_at, unseen`, a.key, now.UnixMilli()).
		Scan(&a.failures, &last, &a.before, &a.unseen)
	if err != nil {
		return fmt.Errorf("counting attempts: %w", err)
	}
	if now.UnixMilli()-last >= forgetAfter.Milliseconds() {
		a.failures, a.unseen = 0, 0
	}
	return nil
}

func (a *attempt) count(ctx context.Context, tx *store.Tx, now time.Time, blocked bool) error {
	var err error
	if blocked {
		_, err = exec(ctx, tx, `update account_attempt set unseen = unseen + 1 where key = ?`, a.key)
	} else {
		a.failures++
		if wait := a.back.wait(a.failures); wait > 0 {
			a.until = now.Add(wait).UnixMilli()
		}
		_, err = exec(ctx, tx, `update account_attempt set failures = ?, last_at = ?, blocked_until_at = ?, unseen = 0 where key = ?`,
			a.failures, now.UnixMilli(), a.until, a.key)
	}
	if err != nil {
		return fmt.Errorf("counting attempts: %w", err)
	}
	return nil
}

// takeBack uncounts a reserved attempt that was not a failure. Other attempts
// that were counted meanwhile stay, with their block.
func takeBack(ctx context.Context, tx *store.Tx, attempts []attempt) error {
	for _, a := range attempts {
		if _, err := exec(ctx, tx, `update account_attempt set
			blocked_until_at = case when failures = ? then ? else blocked_until_at end,
			failures = case when failures > 0 then failures - 1 else 0 end
			where key = ?`, a.failures, a.before, a.key); err != nil {
			return fmt.Errorf("taking an attempt back: %w", err)
		}
	}
	return nil
}

// forget sets the count of a name to nothing.
func forget(ctx context.Context, tx *store.Tx, name string) error {
	if _, err := exec(ctx, tx, `update account_attempt set failures = 0, blocked_until_at = 0, unseen = 0 where key = ?`, nameKey(name)); err != nil {
		return fmt.Errorf("forgetting failed attempts: %w", err)
	}
	return nil
}

// note says in words what a failed attempt led to.
func note(reason string, attempts []attempt) string {
	for _, a := range attempts {
		kind := "this address"
		if a.key[0] == 'n' {
			kind = "this name"
		}
		if a.unseen > 0 {
			reason += fmt.Sprintf("; %d attempts for %s were not looked at before", a.unseen, kind)
		}
		if a.until > 0 {
			reason += fmt.Sprintf("; failure %d for %s, blocked until %s", a.failures, kind, time.UnixMilli(a.until).UTC().Format(time.RFC3339))
		}
	}
	return reason
}
