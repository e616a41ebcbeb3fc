package record

import (
	"encoding/binary"
	"encoding/hex"
	"io"
	"time"

	"limitans/fault"
)

// ID identifies a stored noun: 128 bits as text, a UUID of version 7 in lower
// case (RFC 9562, section 5.7; from memory). It begins with the time it was
// made, so that the text order is the order of making. For the same reason an ID
// tells when a record was made and does not belong in a de-identified view.
type ID string

// NewID makes an ID from a time and 8 random bytes of random:
//
//	48 bits   milliseconds since 1970-01-01 UTC
//	 4 bits   version, 7
//	12 bits   fraction of the millisecond in 1/4096 (RFC 9562, method 3)
//	 2 bits   variant, 10
//	62 bits   random
//
// Faults: a time before 1970 or after 10889, or a random source that fails.
func NewID(at time.Time, random io.Reader) (ID, error) {
	ms := at.UnixMilli()
	if ms < 0 || ms >= 1<<48 {
		return "", &fault.Error{Code: fault.Invalid, Where: "ID", What: "the time cannot stand in an ID", Expected: "1970 to 10889"}
	}
	var b [16]byte
	if _, err := io.ReadFull(random, b[8:]); err != nil {
		return "", &fault.Error{Code: fault.Internal, Where: "ID", What: "the random source failed", Cause: err}
	}
	fraction := uint64(at.Nanosecond()%int(time.Millisecond)) * 4096 / uint64(time.Millisecond)
	binary.BigEndian.PutUint64(b[:8], uint64(ms)<<16|7<<12|fraction)
	b[8] = b[8]&0x3f | 0x80
	var text [36]byte
	hex.Encode(text[0:8], b[0:4])
	hex.Encode(text[9:13], b[4:6])
	hex.Encode(text[14:18], b[6:8])
	hex.Encode(text[19:23], b[8:10])
	hex.Encode(text[24:36], b[10:16])
	text[8], text[13], text[18], text[23] = '-', '-', '-', '-'
	return ID(text[:]), nil
}

// Check returns a fault when the text is not an ID in the form [NewID] writes.
func (id ID) Check() error {
	bad := &fault.Error{Code: fault.Malformed, Where: "ID", What: "not an identifier of this record", Expected: "36 characters, UUID of version 7 in lower case"}
	if len(id) != 36 || id[14] != '7' {
		return bad
	}
	for i := range len(id) {
		switch c := id[i]; {
		case i == 8 || i == 13 || i == 18 || i == 23:
			if c != '-' {
				return bad
			}
		case i == 19:
			if c != '8' && c != '9' && c != 'a' && c != 'b' {
				return bad
			}
		case (c < '0' || c > '9') && (c < 'a' || c > 'f'):
			return bad
		}
	}
	return nil
}
