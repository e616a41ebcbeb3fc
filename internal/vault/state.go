package vault

import (
	"crypto/sha256"
	"encoding"
	"encoding/binary"
	"errors"
	"hash"
)

const (
	mostReceipt  = 255
	mostToken    = 2048
	mostMidstate = 1024
	mostPart     = 64 << 20 // plain bytes
	// mostState bounds what is read into memory for one state: the chunk list,
	// one part and one chunk.
	mostState = mostManifest + 2*mostPart
)

// state is what is kept of an unfinished upload, enough to go on. The part that
// is not yet durable is in it only after Park.
type state struct {
	token     string
	chunkSize int
	partSize  int // chunks in a part
	size      int64
	complete  bool // all bytes are there; only the commit is left
	midstate  []byte
	parts     []part
	chunks    []chunk
	pending   []byte // encoded chunks that are in no part yet
	fragment  []byte // encoded beginning of a chunk
}

func (s *state) encode() []byte {
	field := func(b, data []byte) []byte {
		return append(binary.BigEndian.AppendUint32(b, uint32(len(data))), data...)
	}
	b := field(nil, []byte(s.token))
	b = binary.BigEndian.AppendUint32(b, uint32(s.chunkSize))
	b = binary.BigEndian.AppendUint32(b, uint32(s.partSize))
	b = binary.BigEndian.AppendUint64(b, uint64(s.size))
	complete := byte(0)
	if s.complete {
		complete = 1
	}
	b = append(b, complete)
	b = field(b, s.midstate)
	b = binary.BigEndian.AppendUint32(b, uint32(len(s.parts)))
	for _, p := range s.parts {
		b = binary.BigEndian.AppendUint64(b, uint64(p.length))
		b = field(b, []byte(p.receipt))
	}
	b = appendChunks(b, s.chunks)
	b = field(b, s.pending)
	return field(b, s.fragment)
}

// decodeState reads what encode wrote; sizes are checked before memory is taken.
func decodeState(where string, payload []byte) (*state, error) {
	d := decoder{where: where, rest: payload}
	field := func(most int64) []byte { return d.bytes(int(d.count(4, most))) }
	s := &state{}
	s.token = string(field(mostToken))
	s.chunkSize = int(d.count(4, mostChunkSize))
	s.partSize = int(d.count(4, mostChunks))
	s.size = d.count(8, int64(mostChunks)*mostChunkSize)
	s.complete = d.count(1, 1) == 1
	s.midstate = field(mostMidstate)
	n := int(d.count(4, mostChunks))
	if d.bad || n*12 > len(d.rest) {
		return nil, malformed(where, "its fields do not fit its length")
	}
	s.parts = make([]part, n)
	for i := range s.parts {
		p := part{number: i, offset: endOf(s.parts[:i]), length: d.count(8, mostState)}
		p.receipt = string(field(mostReceipt))
		s.parts[i] = p
	}
	s.chunks = d.chunks()
	s.pending = field(mostState)
	s.fragment = field(int64(mostStored(mostChunkSize)))
	if err := d.done(); err != nil {
		return nil, err
	}
	whole := int64(len(s.chunks)) * int64(s.chunkSize)
	fits := s.chunkSize > 0 && s.partSize > 0 && s.chunkSize*s.partSize <= mostPart && storedSize(s.chunks) == endOf(s.parts)+int64(len(s.pending))
	if s.complete {
		// The last chunk may be short.
		fits = fits && len(s.pending) == 0 && len(s.fragment) == 0 && s.size <= whole && s.size > whole-int64(s.chunkSize)
	} else {
		fits = fits && s.size >= whole && s.size < whole+int64(s.chunkSize)
	}
	if !fits {
		return nil, malformed(where, "its numbers do not fit together")
	}
	return s, nil
}

// The intermediate state of SHA-256 is written and read by the standard
// library.
func saveHash(h hash.Hash) ([]byte, error) {
	m, is := h.(encoding.BinaryMarshaler)
	if !is {
		return nil, errors.New("this SHA-256 cannot be interrupted")
	}
	return m.MarshalBinary()
}

func loadHash(data []byte) (hash.Hash, error) {
	h := sha256.New()
	u, is := h.(encoding.BinaryUnmarshaler)
	if !is {
		return nil, errors.New("this SHA-256 cannot be interrupted")
	}
	return h, u.UnmarshalBinary(data)
}
