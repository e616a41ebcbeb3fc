package vault

import (
	"bytes"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"

	"filippo.io/age"

	"limitans/fault"
)

// The kinds of record; each has its own seal, so that one cannot stand for
// another.
const (
	manifestKind = "limitans manifest 1\n"
	stateKind    = "limitans upload 1\n"
	formatKind   = "limitans vault 1\n"
)

// ageOverhead bounds how much longer a record is when encrypted: an X25519
// header is 200 bytes; 16 bytes for each 64 KiB.
const ageOverhead = 1 << 10

// coding turns plain bytes into stored bytes and back. Without a key they are
// the same.
type coding struct{ key *Key }

// name is where a content is found: its hash, or with a key a keyed hash of it.
func (c coding) name(h Hash) string {
	if c.key == nil {
		return h.String()
	}
	return hex.EncodeToString(hmacOf(c.key.names, h[:]))
}

// encode appends the stored form of plain to dst.
func (c coding) encode(dst, plain []byte) ([]byte, error) {
	if c.key == nil {
		return append(dst, plain...), nil
	}
	out := bytes.NewBuffer(dst)
	out.Grow(len(plain) + len(plain)/4096 + ageOverhead)
	w, err := age.Encrypt(out, c.key.identity.Recipient())
	if err != nil {
		return dst, err
	}
	if _, err := w.Write(plain); err != nil {
		return dst, err
	}
	if err := w.Close(); err != nil {
		return dst, err
	}
	return out.Bytes(), nil
}

// decode appends the plain form of stored to dst[:0]; at most most bytes.
// Its errors are not faults; the caller knows the place.
func (c coding) decode(dst, stored []byte, most int) ([]byte, error) {
	if c.key == nil {
		if len(stored) > most {
			return nil, errors.New("more bytes than announced")
		}
		return append(dst[:0], stored...), nil
	}
	r, err := age.Decrypt(bytes.NewReader(stored), c.key.identity)
	if err != nil {
		return nil, err
	}
	// A stored form is longer than its plain form: enough room for all of it.
	dst = dst[:0]
	for {
		if len(dst) > most {
			return nil, errors.New("more bytes than announced")
		}
		if len(dst) == cap(dst) {
			dst = append(dst, 0)[:len(dst)]
		}
		n, err := r.Read(dst[len(dst):min(cap(dst), most+1)])
		dst = dst[:len(dst)+n]
		if err == io.EOF {
			return dst, nil
		}
		if err != nil {
			return nil, err
		}
	}
}

// sealOf is the last 32 bytes of a record.
func (c coding) sealOf(kind string, payload []byte) []byte {
	data := append([]byte(kind), payload...)
	if c.key != nil {
		return hmacOf(c.key.seals, data)
	}
	sum := sha256.Sum256(data)
	return sum[:]
}

// sealRecord makes kind ‖ payload ‖ seal and encrypts it.
func (c coding) sealRecord(kind string, payload []byte) ([]byte, error) {
	record := append([]byte(kind), payload...)
	record = append(record, c.sealOf(kind, payload)...)
	return c.encode(nil, record)
}

// openRecord undoes sealRecord; what is wrong is Malformed at where.
func (c coding) openRecord(where, kind string, stored []byte) ([]byte, error) {
	damaged := func(what string, cause error) error {
		return &fault.Error{Code: fault.Malformed, Where: where, What: what, Expected: "it as it was written", Cause: cause}
	}
	record, err := c.decode(nil, stored, len(stored))
	if err != nil {
		return nil, damaged("it cannot be decrypted", err)
	}
	if len(record) < len(kind)+sha256.Size || string(record[:len(kind)]) != kind {
		return nil, damaged("it is not what its place says", nil)
	}
	payload := record[len(kind) : len(record)-sha256.Size]
	if !hmac.Equal(record[len(record)-sha256.Size:], c.sealOf(kind, payload)) {
		return nil, damaged("its seal is broken: it was altered or damaged", nil)
	}
	return payload, nil
}
