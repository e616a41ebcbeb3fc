package vault

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"

	"limitans/fault"
)

// A Reader gives a content's plain bytes, each verified before it is given. It
// is for one goroutine at a time and keeps one chunk in memory.
type Reader struct {
	ctx     context.Context
	v       *Vault
	m       *manifest
	blob    blob
	offsets []int64 // of each stored chunk
	chunks  chunkReader
	at      int64  // next plain byte
	loaded  int    // which chunk plain holds, -1 for none
	plain   []byte // its bytes
	whole   hash.Hash
	hashed  int64 // bytes that whole has seen, from the first on without a gap
	closed  bool
}

// Get opens a content for reading. The context holds for all reads. NotFound:
// the vault has no such content; Malformed: it is damaged, which may show only
// when the damaged chunk is read. A Read never gives a wrong byte: it fails, at
// the latest at the end, where who read everything in order has the whole
// compared with the hash.
func (v *Vault) Get(ctx context.Context, h Hash) (*Reader, error) {
	m, err := v.manifestOf(ctx, h)
	if err != nil {
		return nil, err
	}
	return v.reader(ctx, m)
}

func (v *Vault) reader(ctx context.Context, m *manifest) (*Reader, error) {
	b, err := v.openContent(ctx, m)
	if err != nil {
		return nil, err
	}
	r := &Reader{ctx: ctx, v: v, m: m, blob: b, loaded: -1, whole: sha256.New(), offsets: make([]int64, len(m.chunks))}
	r.chunks = chunkReader{v: v, where: v.backend.where(m.location), m: m}
	var offset int64
	for i, c := range m.chunks {
		r.offsets[i] = offset
		offset += int64(c.stored)
	}
	return r, nil
}

// Size is the number of plain bytes.
func (r *Reader) Size() int64 { return r.m.size }

// Read gives the next bytes; io.EOF after the last.
func (r *Reader) Read(p []byte) (int, error) {
	if r.closed {
		return 0, fs.ErrClosed
	}
	if r.at >= r.m.size {
		return 0, r.end()
	}
	if len(p) == 0 {
		return 0, nil
	}
	i := int(r.at / int64(r.m.chunkSize))
	if i != r.loaded {
		r.loaded = -1
		plain, err := r.chunks.read(r.ctx, r.blob, i, r.offsets[i])
		if err != nil {
			return 0, err
		}
		r.loaded, r.plain = i, plain
	}
	n := copy(p, r.plain[r.at-int64(i)*int64(r.m.chunkSize):])
	if r.at == r.hashed {
		r.whole.Write(p[:n])
		r.hashed += int64(n)
	}
	r.at += int64(n)
	return n, nil
}

// end is io.EOF, unless everything was read in order and is not what the hash
// says.
func (r *Reader) end() error {
	if r.hashed == r.m.size {
		var found Hash
		if copy(found[:], r.whole.Sum(nil)); found != r.m.hash {
			return malformed(r.v.backend.where(r.m.location), "the whole is not content "+r.m.hash.String())
		}
	}
	return io.EOF
}

// Seek sets where the next Read begins, as io.Seeker says. Beyond the end is
// allowed and gives io.EOF.
func (r *Reader) Seek(offset int64, whence int) (int64, error) {
	if r.closed {
		return 0, fs.ErrClosed
	}
	switch whence {
	case io.SeekStart:
	case io.SeekCurrent:
		offset += r.at
	case io.SeekEnd:
		offset += r.m.size
	default:
		return 0, &fault.Error{Code: fault.Invalid, Where: "reader", What: "seeking from an unknown place"}
	}
	if offset < 0 {
		return 0, &fault.Error{Code: fault.Invalid, Where: "reader", What: "seeking before the beginning"}
	}
	r.at = offset
	return offset, nil
}

// Close gives back the file and the memory.
func (r *Reader) Close() error {
	if r.closed {
		return fs.ErrClosed
	}
	r.closed, r.plain, r.chunks = true, nil, chunkReader{}
	return r.blob.Close()
}

// chunkReader fetches chunks and verifies them; its buffers are used again.
type chunkReader struct {
	v      *Vault
	where  string
	m      *manifest
	stored []byte
	plain  []byte
}

// read returns the plain bytes of chunk i, valid until the next call.
func (c *chunkReader) read(ctx context.Context, b blob, i int, offset int64) ([]byte, error) {
	length := c.m.plainLength(i)
	wrong := func(cause error) error {
		return &fault.Error{
			Code: fault.Malformed, Where: c.where,
			What:     fmt.Sprintf("the bytes from %d to %d are damaged", int64(i)*int64(c.m.chunkSize), int64(i)*int64(c.m.chunkSize)+int64(length)),
			Expected: "them as they were written", Mend: "bring the file back from a backup, or store it again", Cause: cause,
		}
	}
	if cap(c.stored) < c.m.chunks[i].stored {
		c.stored = make([]byte, c.m.chunks[i].stored)
	}
	c.stored = c.stored[:c.m.chunks[i].stored]
	if err := b.ReadAt(ctx, c.stored, offset); err != nil {
		return nil, err
	}
	plain := c.stored
	if c.v.coding.key != nil {
		if cap(c.plain) <= length {
			c.plain = make([]byte, 0, length+1)
		}
		var err error
		if plain, err = c.v.coding.decode(c.plain, c.stored, length); err != nil {
			return nil, wrong(err)
		}
		c.plain = plain
	}
	if len(plain) != length {
		return nil, wrong(errors.New("another length"))
	}
	if sha256.Sum256(plain) != c.m.chunks[i].hash {
		return nil, wrong(errors.New("another SHA-256"))
	}
	return plain, nil
}
