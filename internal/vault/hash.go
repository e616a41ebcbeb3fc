package vault

import (
	"crypto/sha256"
	"encoding/hex"

	"limitans/fault"
)

// Hash is the SHA-256 (FIPS 180-4) of a content's plain bytes.
type Hash [sha256.Size]byte

// ParseHash reads the 64 lower-case hexadecimal digits that String writes.
// Anything else is Invalid.
func ParseHash(text string) (Hash, error) {
	var h Hash
	raw, err := hex.DecodeString(text)
	if err != nil || len(raw) != len(h) || hex.EncodeToString(raw) != text {
		return Hash{}, &fault.Error{
			Code: fault.Invalid, Where: "content hash", What: "it is not a content hash",
			Expected: "64 lower-case hexadecimal digits", Cause: err,
		}
	}
	copy(h[:], raw)
	return h, nil
}

// String returns 64 lower-case hexadecimal digits.
func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// Content is what the vault knows about one stored content.
type Content struct {
	Hash  Hash
	Size  int64 // plain bytes
	Known bool  // it was stored before; set by Put and Finish only
}
