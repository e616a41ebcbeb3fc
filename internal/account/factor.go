package account

import (
	"context"
	"crypto/cipher"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"image"
	"io"
	"strings"
	"time"

	"github.com/pquerna/otp"
	"github.com/pquerna/otp/totp"
	"golang.org/x/crypto/chacha20poly1305"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// The second factor is a time-based one-time password, RFC 6238
// (https://doi.org/10.17487/RFC6238): HMAC-SHA-1 over the number of the
// 30-second step, six digits, secret of 160 bits as section 5.1 asks for.
// That authenticator programs know no other choice for sure is common
// practice, no source. One step to either side is accepted for clocks that
// differ (section 5.2: at most one for the delay), and none twice.
const (
	stepSeconds   = 30
	stepsAround   = 1
	recoveryCodes = 10
	recoveryChars = 15 // 75 random bits
)

// neverEnds is the end of codes that have none: year 9999 in Unix
// milliseconds.
const neverEnds = 253402300799000

func stepOptions(digits otp.Digits, algorithm otp.Algorithm) totp.ValidateOpts {
	return totp.ValidateOpts{Period: stepSeconds, Digits: digits, Algorithm: algorithm}
}

// codeAt is the code of one step.
func codeAt(secret string, step int64, digits otp.Digits, algorithm otp.Algorithm) (string, error) {
	code, err := totp.GenerateCodeCustom(secret, time.Unix(step*stepSeconds, 0).UTC(), stepOptions(digits, algorithm))
	if err != nil {
		return "", fmt.Errorf("second factor: %w", err)
	}
	return code, nil
}

// matchingStep finds the step around now, later than after, whose code this
// is.
func matchingStep(secret, code string, now time.Time, after int64) (int64, bool, error) {
	found, step := false, int64(0)
	here := now.Unix() / stepSeconds
	for s := here - stepsAround; s <= here+stepsAround; s++ {
		want, err := codeAt(secret, s, otp.DigitsSix, otp.AlgorithmSHA1)
		if err != nil {
			return 0, false, err
		}
		// The latest match counts, so that a code which two steps happen to
		// share is used up for both.
		if subtle.ConstantTimeCompare([]byte(want), []byte(code)) == 1 && s > after {
			found, step = true, s
		}
	}
	return step, found, nil
}

// Enrolment is a second factor before it is confirmed. Secret and Address are
// shown once to the account's holder.
type Enrolment struct {
	Secret  string // base32, to type into an authenticator program
	Address string // otpauth://totp/…, the same as a link
	key     *otp.Key
}

// Picture is Address as a QR code of the given side in pixels.
func (e Enrolment) Picture(sidePixels int) (image.Image, error) {
	picture, err := e.key.Image(sidePixels, sidePixels)
	if err != nil {
		return nil, &fault.Error{Code: fault.Invalid, Where: "QR code", What: err.Error(), Cause: err}
	}
	return picture, nil
}

// BeginSecondFactor makes a secret for the account, whose holder proves the
// passphrase. It binds nothing until ConfirmSecondFactor.
func (g *Gate) BeginSecondFactor(ctx context.Context, id record.AccountID, passphrase, remote string) (Enrolment, error) {
	var enrolment Enrolment
	err := g.withPassphrase(ctx, id, passphrase, remote, func(a Account) (func(tx *store.Tx) error, error) {
		if a.SecondFactor {
			return nil, &fault.Error{Code: fault.Conflict, Where: "second factor", What: "the account has one", Mend: "remove it first"}
		}
		key, err := totp.Generate(totp.GenerateOpts{Issuer: g.unit, AccountName: a.Name, Period: stepSeconds, Rand: g.random})
		if err != nil {
			return nil, fmt.Errorf("second factor: %w", err)
		}
		enrolment = Enrolment{Secret: key.Secret(), Address: key.URL(), key: key}
		sealed, err := g.sealer.seal(key.Secret(), id)
		if err != nil {
			return nil, err
		}
		return func(tx *store.Tx) error {
			if _, err := exec(ctx, tx, `update account set factor_secret = ?, factor_confirmed = 0, factor_step = 0 where id = ?`, sealed, id); err != nil {
				return fmt.Errorf("storing a second factor: %w", err)
			}
			return g.record(ctx, tx, entry{subject: id, what: "second factor begun", reason: g.sealer.words()})
		}, nil
	})
	if err != nil {
		return Enrolment{}, err
	}
	return enrolment, nil
}

// ConfirmSecondFactor binds the second factor that was begun when code is one
// of it, and gives ten recovery codes, each of which stands in for a code
// once. They are stored as hashes. Other sessions end; keep is the present
// one.
func (g *Gate) ConfirmSecondFactor(ctx context.Context, id record.AccountID, code, keep, remote string) ([]string, error) {
	if err := g.needs(false); err != nil {
		return nil, err
	}
	a, err := g.Account(ctx, id)
	if err != nil {
		return nil, err
	}
	attempts, err := g.reserve(ctx, a.Name, remote)
	if err != nil {
		return nil, err
	}
	var codes []string
	var refusal error
	err = g.change(ctx, a.Actor(remote), func(tx *store.Tx) error {
		codes, refusal = nil, nil
		a, err := find(ctx, tx, "id", id)
		if err != nil {
			return err
		}
		if !a.Active || a.SecondFactor || a.factorSecret == "" {
			refusal = &fault.Error{Code: fault.Conflict, Where: "second factor", What: "none is waiting to be confirmed", Mend: "begin again"}
			return takeBack(ctx, tx, attempts)
		}
		passed, err := g.passCode(ctx, tx, a, code)
		if err != nil {
			return err
		}
		if !passed {
			refusal = refused()
			return g.fail(ctx, tx, a, note("wrong code when confirming a second factor", attempts))
		}
		if err := takeBack(ctx, tx, attempts); err != nil {
			return err
		}
		if _, err := exec(ctx, tx, `update account set factor_confirmed = 1 where id = ?`, id); err != nil {
			return fmt.Errorf("confirming a second factor: %w", err)
		}
		for range recoveryCodes {
			text, err := g.spoken(recoveryChars)
			if err != nil {
				return err
			}
			if err := g.storeCode(ctx, tx, kindRecovery, id, text, neverEnds); err != nil {
				return err
			}
			codes = append(codes, text)
		}
		if err := g.endSessions(ctx, tx, id, keep); err != nil {
			return err
		}
		return g.record(ctx, tx, entry{subject: id, what: "second factor bound"})
	})
	if err == nil {
		err = refusal
	}
	if err != nil {
		return nil, err
	}
	return codes, nil
}

// RemoveSecondFactor takes the second factor away again, for the holder who
// proves the passphrase. Administrators do it with Recover.
func (g *Gate) RemoveSecondFactor(ctx context.Context, id record.AccountID, passphrase, remote string) error {
	return g.withPassphrase(ctx, id, passphrase, remote, func(a Account) (func(tx *store.Tx) error, error) {
		return func(tx *store.Tx) error { return g.dropFactor(ctx, tx, a, "by the holder") }, nil
	})
}

func (g *Gate) dropFactor(ctx context.Context, tx *store.Tx, a Account, reason string) error {
	if _, err := exec(ctx, tx, `update account set factor_secret = '', factor_confirmed = 0, factor_step = 0 where id = ?`, a.ID); err != nil {
		return fmt.Errorf("removing a second factor: %w", err)
	}
	if err := voidCodes(ctx, tx, a.ID, kindRecovery, g.millis()); err != nil {
		return err
	}
	return g.record(ctx, tx, entry{subject: a.ID, what: "second factor removed", reason: reason})
}

// passSecondFactor takes a code of the authenticator program or a recovery
// code.
func (g *Gate) passSecondFactor(ctx context.Context, tx *store.Tx, a Account, c Credentials) (bool, error) {
	passed, err := g.passCode(ctx, tx, a, c.Code)
	if passed || err != nil {
		return passed, err
	}
	passed, err = g.useCode(ctx, tx, kindRecovery, a.ID, c.Code)
	if passed && err == nil {
		err = g.record(ctx, tx, entry{subject: a.ID, what: "recovery code used"})
	}
	return passed, err
}

// passCode accepts a code of a step later than the last accepted one and
// remembers the step (RFC 6238, section 5.2: no second acceptance).
func (g *Gate) passCode(ctx context.Context, tx *store.Tx, a Account, code string) (bool, error) {
	secret, err := g.sealer.open(a.factorSecret, a.ID)
	if err != nil {
		return false, err
	}
	step, found, err := matchingStep(secret, strings.ReplaceAll(strings.TrimSpace(code), " ", ""), g.now(), a.factorStep)
	if err != nil || !found {
		return false, err
	}
	n, err := exec(ctx, tx, `update account set factor_step = ? where id = ? and factor_step < ?`, step, a.ID, step)
	if err != nil {
		return false, fmt.Errorf("remembering a used code: %w", err)
	}
	return n == 1, nil
}

// sealer encrypts the secrets of second factors, which unlike passphrases
// cannot be hashed, with XChaCha20-Poly1305 (draft-irtf-cfrg-xchacha, from
// memory), bound to their account. Without a key it only marks them.
type sealer struct {
	aead   cipher.AEAD
	random io.Reader
}

const (
	plainMark  = "plain:1:"
	sealedMark = "xchacha20poly1305:1:"
)

func newSealer(key []byte, random io.Reader) (sealer, error) {
	if key == nil {
		return sealer{}, nil
	}
	aead, err := chacha20poly1305.NewX(key)
	if err != nil {
		return sealer{}, &fault.Error{
			Code: fault.Invalid, Where: "sealing key", What: fmt.Sprintf("it has %d bytes", len(key)),
			Expected: "32 random bytes", Cause: err,
		}
	}
	return sealer{aead, random}, nil
}

func (s sealer) words() string {
	if s.aead == nil {
		return "its secret is stored unencrypted: no sealing key is set"
	}
	return "its secret is stored encrypted"
}

func (s sealer) seal(secret string, id record.AccountID) (string, error) {
	if s.aead == nil {
		return plainMark + secret, nil
	}
	nonce := make([]byte, s.aead.NonceSize(), s.aead.NonceSize()+len(secret)+s.aead.Overhead())
	if _, err := io.ReadFull(s.random, nonce); err != nil {
		return "", fmt.Errorf("random bytes: %w", err)
	}
	return sealedMark + base64.RawStdEncoding.EncodeToString(s.aead.Seal(nonce, nonce, []byte(secret), []byte(id))), nil
}

func (s sealer) open(stored string, id record.AccountID) (string, error) {
	if secret, plain := strings.CutPrefix(stored, plainMark); plain {
		return secret, nil
	}
	box, sealed := strings.CutPrefix(stored, sealedMark)
	if !sealed {
		return "", &fault.Error{Code: fault.Malformed, Where: "stored second factor", What: "neither plain nor sealed"}
	}
	cannot := func(cause error) error {
		return &fault.Error{
			Code: fault.Conflict, Where: "stored second factor", What: "it cannot be opened with the present sealing key",
			Mend: "start with the key it was sealed with, or let an administrator remove the second factor", Cause: cause,
		}
	}
	raw, err := base64.RawStdEncoding.DecodeString(box)
	if s.aead == nil || err != nil || len(raw) < s.aead.NonceSize() {
		return "", cannot(errors.Join(err))
	}
	secret, err := s.aead.Open(nil, raw[:s.aead.NonceSize()], raw[s.aead.NonceSize():], []byte(id))
	if err != nil {
		return "", cannot(err)
	}
	return string(secret), nil
}

// SecondFactorsSealed says whether the secrets of second factors are stored
// encrypted.
func (g *Gate) SecondFactorsSealed() bool { return g.sealer.aead != nil }
