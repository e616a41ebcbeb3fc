package account

import (
	"context"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"io"
	"strings"

	"golang.org/x/crypto/argon2"

	"limitans/fault"
)

// HashCost is what one hash of a passphrase costs: passes over the memory, the
// memory itself and the number of lanes of argon2id (RFC 9106, section 3.1,
// https://doi.org/10.17487/RFC9106).
type HashCost struct {
	Passes    uint32
	MemoryKiB uint32
	Lanes     uint8
}

// DefaultHashCost is the second recommended option of RFC 9106, section 4,
// for machines with less memory: 3 passes over 64 MiB in 4 lanes (read from
// memory; the same numbers stand in the documentation of
// golang.org/x/crypto/argon2, apart from the lanes).
func DefaultHashCost() HashCost { return HashCost{Passes: 3, MemoryKiB: 64 * 1024, Lanes: 4} }

const (
	saltBytes = 16 // RFC 9106, section 3.1: 16 bytes recommended for password hashing
	hashBytes = 32 // 256 bit, as in both options of section 4

	// The largest cost that a stored hash may ask for. A row that someone has
	// altered must not take the machine's memory.
	mostPasses    = 64
	mostMemoryKiB = 1024 * 1024
	mostLanes     = 64
)

func (c HashCost) check() error {
	if c.Passes < 1 || c.Passes > mostPasses || c.Lanes < 1 || c.Lanes > mostLanes ||
		c.MemoryKiB < 8*uint32(c.Lanes) || c.MemoryKiB > mostMemoryKiB {
		return &fault.Error{
			Code: fault.Invalid, Where: "cost of a passphrase hash",
			What:     fmt.Sprintf("%d passes, %d KiB, %d lanes", c.Passes, c.MemoryKiB, c.Lanes),
			Expected: "1-64 passes, 8 KiB a lane to 1 GiB, 1-64 lanes",
		}
	}
	return nil
}

// phc is a hash in the PHC string format,
// $argon2id$v=19$m=65536,t=3,p=4$SALT$HASH with base64 without padding
// (https://github.com/P-H-C/phc-string-format, from memory).
type phc struct {
	cost       HashCost
	salt, hash []byte
}

func (p phc) String() string {
	b64 := base64.RawStdEncoding.Strict().EncodeToString
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s",
		argon2.Version, p.cost.MemoryKiB, p.cost.Passes, p.cost.Lanes, b64(p.salt), b64(p.hash))
}

// parsePHC reads a stored hash. It accepts exactly what String writes.
func parsePHC(text string) (phc, error) {
	malformed := &fault.Error{Code: fault.Malformed, Where: "stored passphrase hash", What: "it is not argon2id in PHC format"}
	var p phc
	fields := strings.Split(text, "$")
	if len(fields) != 6 || fields[0] != "" || fields[1] != "argon2id" {
		return phc{}, malformed
	}
	if _, err := fmt.Sscanf(fields[3], "m=%d,t=%d,p=%d", &p.cost.MemoryKiB, &p.cost.Passes, &p.cost.Lanes); err != nil {
		return phc{}, malformed
	}
	var err error
	b64 := base64.RawStdEncoding.Strict()
	if p.salt, err = b64.DecodeString(fields[4]); err != nil || len(p.salt) < 8 || len(p.salt) > 64 {
		return phc{}, malformed
	}
	if p.hash, err = b64.DecodeString(fields[5]); err != nil || len(p.hash) < 16 || len(p.hash) > 64 {
		return phc{}, malformed
	}
	if p.cost.check() != nil || p.String() != text {
		return phc{}, malformed
	}
	return p, nil
}

// hasher makes and checks passphrase hashes. It lets only as many run at a
// time as it has places, so that a flood of log-ins does not take the memory
// of the machine.
type hasher struct {
	cost   HashCost
	random io.Reader
	places chan struct{}
	dummy  phc
	done   func() // called after every computed hash; tests count here
}

func newHasher(cost HashCost, atATime int, random io.Reader) (*hasher, error) {
	if err := cost.check(); err != nil {
		return nil, err
	}
	h := &hasher{cost: cost, random: random, places: make(chan struct{}, atATime)}
	salt := make([]byte, saltBytes+hashBytes)
	if _, err := io.ReadFull(random, salt); err != nil {
		return nil, fmt.Errorf("random bytes: %w", err)
	}
	// A hash that no passphrase has (but by a chance of 2^-256): checking
	// against it costs the same as against a real one.
	h.dummy = phc{cost: cost, salt: salt[:saltBytes], hash: salt[saltBytes:]}
	return h, nil
}

func (h *hasher) key(ctx context.Context, passphrase string, p phc, size int) ([]byte, error) {
	select {
	case h.places <- struct{}{}:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	defer func() { <-h.places }()
	key := argon2.IDKey([]byte(passphrase), p.salt, p.cost.Passes, p.cost.MemoryKiB, p.cost.Lanes, uint32(size))
	if h.done != nil {
		h.done()
	}
	return key, nil
}

// make hashes a prepared passphrase with a fresh salt.
func (h *hasher) make(ctx context.Context, passphrase string) (string, error) {
	p := phc{cost: h.cost, salt: make([]byte, saltBytes)}
	if _, err := io.ReadFull(h.random, p.salt); err != nil {
		return "", fmt.Errorf("random bytes: %w", err)
	}
	var err error
	if p.hash, err = h.key(ctx, passphrase, p, hashBytes); err != nil {
		return "", err
	}
	return p.String(), nil
}

// check says whether the passphrase has the stored hash, and whether it should
// be hashed anew because the cost asked for today is higher in any part. An
// empty stored hash costs one check against the dummy and is never right.
func (h *hasher) check(ctx context.Context, passphrase, stored string) (right, outdated bool, err error) {
	p := h.dummy
	if stored != "" {
		if p, err = parsePHC(stored); err != nil {
			return false, false, err
		}
	}
	key, err := h.key(ctx, passphrase, p, len(p.hash))
	if err != nil {
		return false, false, err
	}
	right = subtle.ConstantTimeCompare(key, p.hash) == 1 && stored != ""
	outdated = p.cost.Passes < h.cost.Passes || p.cost.MemoryKiB < h.cost.MemoryKiB ||
		p.cost.Lanes < h.cost.Lanes || len(p.hash) < hashBytes
	return right, outdated, nil
}
