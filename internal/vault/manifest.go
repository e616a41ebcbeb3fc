package vault

import (
	"encoding/binary"
	"regexp"

	"limitans/fault"
)

const (
	defaultChunkSize = 4 << 20
	mostChunkSize    = 64 << 20
	mostChunks       = 1 << 20
	mostLocation     = 255
	chunkRecordSize  = 4 + 32
	// mostManifest bounds what is read into memory for one manifest.
	mostManifest = 64 + mostLocation + mostChunks*chunkRecordSize + mostChunks*chunkRecordSize/4096 + ageOverhead
)

// locations are the names a manifest may point to: nothing outside content/.
var locations = regexp.MustCompile(`^content/(?:[0-9a-f]{2}/)?[0-9a-f]{32,64}$`)

// chunk is one verified unit of a content.
type chunk struct {
	stored int  // bytes as stored
	hash   Hash // of the plain bytes
}

// manifest tells where a content is and how to verify it. Its payload, all
// integers big-endian:
//
//	32 bytes  content hash
//	 8 bytes  size, plain bytes
//	 4 bytes  chunk size, plain bytes; the last chunk may be shorter
//	 1 byte   length of the location, then the location
//	 4 bytes  number of chunks = ⌈size / chunk size⌉
//	36 bytes  for each chunk: stored length (4), SHA-256 of the plain bytes (32)
type manifest struct {
	hash      Hash
	size      int64
	chunkSize int
	location  string
	chunks    []chunk
}

// storedSize is the length of the object that the manifest points to.
func storedSize(chunks []chunk) int64 {
	var n int64
	for _, c := range chunks {
		n += int64(c.stored)
	}
	return n
}

// plainLength is the length of chunk i.
func (m *manifest) plainLength(i int) int {
	return int(min(int64(m.chunkSize), m.size-int64(i)*int64(m.chunkSize)))
}

func (m *manifest) encode() []byte {
	b := make([]byte, 0, 64+len(m.location)+len(m.chunks)*chunkRecordSize)
	b = append(b, m.hash[:]...)
	b = binary.BigEndian.AppendUint64(b, uint64(m.size))
	b = binary.BigEndian.AppendUint32(b, uint32(m.chunkSize))
	b = append(b, byte(len(m.location)))
	b = append(b, m.location...)
	return appendChunks(b, m.chunks)
}

func appendChunks(b []byte, chunks []chunk) []byte {
	b = binary.BigEndian.AppendUint32(b, uint32(len(chunks)))
	for _, c := range chunks {
		b = binary.BigEndian.AppendUint32(b, uint32(c.stored))
		b = append(b, c.hash[:]...)
	}
	return b
}

// decodeManifest reads a payload. Sizes are checked before memory is taken;
// what does not fit together is Malformed.
func decodeManifest(where string, payload []byte) (*manifest, error) {
	d := decoder{where: where, rest: payload}
	m := &manifest{}
	copy(m.hash[:], d.bytes(len(m.hash)))
	m.size = d.count(8, int64(mostChunks)*mostChunkSize)
	m.chunkSize = int(d.count(4, mostChunkSize))
	m.location = string(d.bytes(int(d.count(1, mostLocation))))
	m.chunks = d.chunks()
	if err := d.done(); err != nil {
		return nil, err
	}
	if !locations.MatchString(m.location) {
		return nil, malformed(where, "its location is outside the contents")
	}
	if m.chunkSize == 0 || int64(len(m.chunks)) != (m.size+int64(m.chunkSize)-1)/int64(m.chunkSize) {
		return nil, malformed(where, "its number of chunks does not fit its size")
	}
	for i, c := range m.chunks {
		// Neither form of storing shortens a chunk.
		if c.stored < m.plainLength(i) || c.stored > mostStored(m.plainLength(i)) {
			return nil, malformed(where, "a stored length does not fit its chunk")
		}
	}
	return m, nil
}

// mostStored bounds the stored length of a chunk.
func mostStored(plain int) int { return plain + plain/4096 + ageOverhead }

func malformed(where, what string) error {
	return &fault.Error{Code: fault.Malformed, Where: where, What: what, Expected: "it as it was written"}
}

// decoder takes fields from the front of rest; after the first that is not
// there all others are empty and done tells.
type decoder struct {
	where string
	rest  []byte
	bad   bool
}

func (d *decoder) bytes(n int) []byte {
	if d.bad || n < 0 || n > len(d.rest) {
		d.bad = true
		return nil
	}
	b := d.rest[:n]
	d.rest = d.rest[n:]
	return b
}

// count takes an unsigned integer of width bytes that is at most most.
func (d *decoder) count(width int, most int64) int64 {
	var v uint64
	for _, b := range d.bytes(width) {
		v = v<<8 | uint64(b)
	}
	if v > uint64(most) {
		d.bad = true
		return 0
	}
	return int64(v)
}

func (d *decoder) chunks() []chunk {
	n := int(d.count(4, mostChunks))
	if d.bad || n*chunkRecordSize > len(d.rest) {
		d.bad = true
		return nil
	}
	chunks := make([]chunk, n)
	for i := range chunks {
		chunks[i].stored = int(d.count(4, int64(mostStored(mostChunkSize))))
		copy(chunks[i].hash[:], d.bytes(32))
	}
	return chunks
}

func (d *decoder) done() error {
	if d.bad || len(d.rest) != 0 {
		return malformed(d.where, "its fields do not fit its length")
	}
	return nil
}
