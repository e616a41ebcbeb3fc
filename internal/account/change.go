package account

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// oneTimeFor is how long a one-time code of an administrator can be used: a
// person who gets it on a Friday comes in on Monday. This project's own.
const oneTimeFor = 72 * time.Hour

// The kinds of codes that are stored as hashes.
const (
	kindOneTime  = "one-time"
	kindRecovery = "recovery"
)

// OneTimeCode lets a person set a passphrase, once. Code is shown to the
// administrator who made it and stored as a hash only.
type OneTimeCode struct {
	Code    string // four groups of five letters and digits: 100 random bits
	EndsAt  time.Time
	Account record.AccountID
}

// codeLetters are digits and letters without I, L, O and U, which are taken
// for others: the alphabet known as Crockford's Base32 (from memory). Five
// bits a letter.
const codeLetters = "0123456789abcdefghjkmnpqrstvwxyz"

// spoken writes random bytes in groups of five letters, five bits a letter.
// What is read back goes through foldCode.
func (g *Gate) spoken(letters int) (string, error) {
	b := make([]byte, letters)
	if err := g.fill(b); err != nil {
		return "", err
	}
	var text strings.Builder
	for i, v := range b {
		if i > 0 && i%5 == 0 {
			text.WriteByte('-')
		}
		text.WriteByte(codeLetters[v%32]) // 256 is a multiple of 32: no letter is likelier
	}
	return text.String(), nil
}

// foldCode forgives what people do to a code that they read and type: case,
// spaces, hyphens, the letter O for nought, I and L for one.
func foldCode(code string) string {
	return strings.Map(func(r rune) rune {
		switch r {
		case ' ', '-', '\t':
			return -1
		case 'o':
			return '0'
		case 'i', 'l':
			return '1'
		}
		return r
	}, strings.ToLower(code))
}

// codeHash is SHA-256 over kind, account and code. A slow hash would add
// nothing: codes have 75 random bits or more.
func codeHash(kind string, account record.AccountID, code string) string {
	sum := sha256.Sum256([]byte(kind + "\x00" + string(account) + "\x00" + foldCode(code)))
	return hex.EncodeToString(sum[:])
}

func (g *Gate) newOneTimeCode(ctx context.Context, tx *store.Tx, id record.AccountID) (OneTimeCode, error) {
	text, err := g.spoken(20)
	if err != nil {
		return OneTimeCode{}, err
	}
	if err := voidCodes(ctx, tx, id, kindOneTime, g.millis()); err != nil {
		return OneTimeCode{}, err
	}
	code := OneTimeCode{Code: text, EndsAt: g.now().Add(oneTimeFor).UTC(), Account: id}
	if err := g.storeCode(ctx, tx, kindOneTime, id, text, code.EndsAt.UnixMilli()); err != nil {
		return OneTimeCode{}, err
	}
	return code, g.record(ctx, tx, entry{subject: id, what: "one-time code made", after: "valid until " + code.EndsAt.Format(time.RFC3339)})
}

func (g *Gate) storeCode(ctx context.Context, tx *store.Tx, kind string, id record.AccountID, code string, endsAt int64) error {
	if _, err := exec(ctx, tx, `insert into account_code (hash, account, kind, made_at, ends_at, used_at) values (?, ?, ?, ?, ?, 0)`,
		codeHash(kind, id, code), id, kind, g.millis(), endsAt); err != nil {
		return fmt.Errorf("storing a code: %w", err)
	}
	return nil
}

// voidCodes makes all unused codes of a kind unusable.
func voidCodes(ctx context.Context, tx *store.Tx, id record.AccountID, kind string, now int64) error {
	if _, err := exec(ctx, tx, `update account_code set used_at = ? where account = ? and kind = ? and used_at = 0`, now, id, kind); err != nil {
		return fmt.Errorf("voiding codes: %w", err)
	}
	return nil
}

// useCode uses up a code and says whether there was one to use. Looking a hash
// of a random code up by equality tells nothing through time: nobody can steer
// the hash.
func (g *Gate) useCode(ctx context.Context, tx *store.Tx, kind string, id record.AccountID, code string) (bool, error) {
	n, err := exec(ctx, tx, `update account_code set used_at = ? where hash = ? and account = ? and used_at = 0 and ends_at > ?`,
		g.millis(), codeHash(kind, id, code), id, g.millis())
	if err != nil {
		return false, fmt.Errorf("using a code: %w", err)
	}
	return n == 1, nil
}

// Recover makes a one-time code for a person who cannot log in any more, and
// takes the second factor away if that is lost too. The old passphrase works
// until the code is used. An administrator who cannot log in does it at the
// machine itself (see Console).
func (g *Gate) Recover(ctx context.Context, by Actor, id record.AccountID, factorLost bool, reason string) (OneTimeCode, error) {
	if err := g.needs(false); err != nil {
		return OneTimeCode{}, err
	}
	var code OneTimeCode
	err := g.manage(ctx, by, id, func(tx *store.Tx, a Account) error {
		if a.Federated {
			return &fault.Error{
				Code: fault.Invalid, Where: "account", What: "its passphrase is kept by the identity provider",
				Mend: "recover it there",
			}
		}
		if factorLost && a.SecondFactor {
			if err := g.dropFactor(ctx, tx, a, reason); err != nil {
				return err
			}
		}
		if err := forget(ctx, tx, a.Name); err != nil {
			return err
		}
		var err error
		code, err = g.newOneTimeCode(ctx, tx, id)
		return err
	})
	return code, err
}

// Redeem sets a passphrase with a one-time code. It ends all sessions of the
// account. Wrong codes count as failed attempts and are refused with
// ErrRefused; a passphrase that breaks the rules is told before the code is
// looked at.
func (g *Gate) Redeem(ctx context.Context, name, code, passphrase, remote string) (Account, error) {
	if err := g.needs(false); err != nil {
		return Account{}, err
	}
	folded, nameErr := foldName(name)
	if nameErr != nil {
		folded = noName
	}
	// The shown name is not asked of the database, or the answer would tell
	// whether the account exists.
	if err := CheckPassphrase(passphrase, folded, g.unit); err != nil {
		return Account{}, err
	}
	attempts, err := g.reserve(ctx, folded, remote)
	if err != nil {
		return Account{}, err
	}
	hash, err := g.hashNew(ctx, passphrase, Account{Name: folded})
	if err != nil {
		return Account{}, err
	}
	a, err := find(ctx, g.store.Reader(), "name", folded)
	if err != nil && fault.CodeOf(err) != fault.NotFound {
		return Account{}, err
	}
	var refusal error
	err = g.change(ctx, a.actorOrUnknown(remote), func(tx *store.Tx) error {
		if a.ID != "" {
			if a, err = find(ctx, tx, "id", a.ID); err != nil {
				return err
			}
		}
		right, err := g.useCode(ctx, tx, kindOneTime, a.ID, code)
		if err != nil {
			return err
		}
		if !right || !a.Active {
			refusal = refused()
			return g.fail(ctx, tx, a, note("wrong, used or old one-time code", attempts))
		}
		if err := takeBack(ctx, tx, attempts); err != nil {
			return err
		}
		if err := forget(ctx, tx, a.Name); err != nil {
			return err
		}
		return g.setPassphrase(ctx, tx, a, hash, "", "with a one-time code")
	})
	if err != nil {
		return Account{}, err
	}
	if refusal != nil {
		return Account{}, refusal
	}
	return g.Account(ctx, a.ID)
}

// setPassphrase stores a hash and ends the account's sessions but one.
func (g *Gate) setPassphrase(ctx context.Context, tx *store.Tx, a Account, hash, keep, reason string) error {
	if _, err := exec(ctx, tx, `update account set passphrase_hash = ? where id = ?`, hash, a.ID); err != nil {
		return fmt.Errorf("setting a passphrase: %w", err)
	}
	if err := voidCodes(ctx, tx, a.ID, kindOneTime, g.millis()); err != nil {
		return err
	}
	if err := g.endSessions(ctx, tx, a.ID, keep); err != nil {
		return err
	}
	return g.record(ctx, tx, entry{subject: a.ID, what: "passphrase changed", reason: reason})
}

// ChangePassphrase sets a new passphrase for an account whose holder knows the
// old one, and ends its other sessions; keep is the identifier of the present
// one (see Sessions.ID), or empty. Wrong old passphrases count as failed
// attempts.
func (g *Gate) ChangePassphrase(ctx context.Context, id record.AccountID, old, fresh, keep, remote string) error {
	return g.withPassphrase(ctx, id, old, remote, func(a Account) (func(tx *store.Tx) error, error) {
		hash, err := g.hashNew(ctx, fresh, a)
		if err != nil {
			return nil, err
		}
		return func(tx *store.Tx) error {
			return g.setPassphrase(ctx, tx, a, hash, keep, "with the old passphrase")
		}, nil
	})
}

// withPassphrase lets the holder of an account prove the passphrase once more
// before a change. prepare runs before the passphrase is checked, the function
// that it gives afterwards, in the same transaction as the decision.
func (g *Gate) withPassphrase(ctx context.Context, id record.AccountID, passphrase, remote string, prepareChange func(a Account) (func(tx *store.Tx) error, error)) error {
	if err := g.needs(false); err != nil {
		return err
	}
	a, err := g.Account(ctx, id)
	if err != nil {
		return err
	}
	apply, err := prepareChange(a)
	if err != nil {
		return err
	}
	attempts, err := g.reserve(ctx, a.Name, remote)
	if err != nil {
		return err
	}
	prepared, prepareErr := prepare(passphrase)
	right, _, err := g.hasher.check(ctx, prepared, a.hash)
	if err != nil {
		return err
	}
	var refusal error
	err = g.change(ctx, a.Actor(remote), func(tx *store.Tx) error {
		now, err := find(ctx, tx, "id", id)
		if err != nil {
			return err
		}
		if !right || prepareErr != nil || now.hash != a.hash || !now.Active {
			refusal = refused()
			return g.fail(ctx, tx, now, note("wrong passphrase before a change", attempts))
		}
		if err := takeBack(ctx, tx, attempts); err != nil {
			return err
		}
		return apply(tx)
	})
	if err != nil {
		return err
	}
	return refusal
}
