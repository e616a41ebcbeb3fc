package vault

import (
	"context"
	"crypto/sha256"
	"errors"
	"hash"
	"io"
	"regexp"

	"limitans/fault"
)

// An Upload is a content on its way in. Bytes given to Append become durable
// part by part (16 MiB); after a crash ResumeUpload goes on behind the last
// durable part, after Park behind the very last byte. An Upload is for one
// goroutine at a time.
//
//	u, err := v.BeginUpload(ctx)      keep u.ID() where it survives
//	err = u.Append(ctx, source, nil)  broke off? seek the source to u.Offset(), Append again
//	content, err := u.Finish(ctx)
type Upload struct {
	v       *Vault
	id      string
	state   state
	hash    hash.Hash
	buffer  []byte // plain bytes of the chunk that is being filled
	begun   bool   // the backend knows of it
	closing bool   // the last chunk, which may be short, is sealed
	ended   error  // why no call is allowed any more
	release func()
}

// uploadIDs are the names that newID gives.
var uploadIDs = regexp.MustCompile(`^[0-9a-f]{32}$`)

// errEnded: the upload was finished, parked or aborted.
var errEnded = errors.New("the upload has ended")

// BeginUpload starts an upload. Nothing is written before the first part is
// full or Park is called. Invalid when the vault was opened read-only.
func (v *Vault) BeginUpload(context.Context) (*Upload, error) {
	if err := v.writable(); err != nil {
		return nil, err
	}
	return &Upload{
		v: v, id: newID(), hash: sha256.New(), release: func() {},
		state: state{chunkSize: v.chunkSize, partSize: v.partSize},
	}, nil
}

// ResumeUpload goes on with an upload that broke off or was parked, also in
// another process. What is there already is compared with what was sent (in an
// object store: with the receipts that it lists). NotFound: no such upload, it
// never became durable, or it was finished; Conflict: it is going on somewhere
// else; Malformed: what is there is damaged, begin again.
func (v *Vault) ResumeUpload(ctx context.Context, id string) (*Upload, error) {
	u, err := v.takeUp(ctx, id)
	if err != nil {
		return nil, err
	}
	if err := u.compare(ctx); err != nil {
		u.end()
		return nil, err
	}
	return u, nil
}

// takeUp holds an upload and loads its state.
func (v *Vault) takeUp(ctx context.Context, id string) (*Upload, error) {
	if err := v.writable(); err != nil {
		return nil, err
	}
	if !uploadIDs.MatchString(id) {
		return nil, &fault.Error{Code: fault.Invalid, Where: "upload", What: "it is not the name of an upload", Expected: "32 hexadecimal digits"}
	}
	release, err := v.backend.resume(ctx, id)
	if err != nil {
		return nil, err
	}
	u := &Upload{v: v, id: id, begun: true, release: release}
	if err := u.load(ctx); err != nil {
		release()
		return nil, err
	}
	return u, nil
}

func (u *Upload) where() string { return u.v.backend.where(uploadFolder(u.id)) }

// ID names the upload for ResumeUpload.
func (u *Upload) ID() string { return u.id }

// Offset is how many bytes were taken: where the source goes on.
func (u *Upload) Offset() int64 { return u.state.size }

// Append takes bytes from r until its end. An error of r or of the store
// leaves the upload as it is; Append may be called again with a source that
// begins at Offset. progress, if not nil, is told the bytes taken so far, after
// each chunk and at the end.
func (u *Upload) Append(ctx context.Context, r io.Reader, progress func(bytes int64)) error {
	if err := u.usable(); err != nil {
		return err
	}
	if u.closing {
		return &fault.Error{Code: fault.Invalid, Where: u.where(), What: "the upload is complete", Mend: "finish it"}
	}
	if u.buffer == nil {
		u.buffer = make([]byte, 0, u.state.chunkSize)
	}
	tell := func() {
		if progress != nil {
			progress(u.state.size)
		}
	}
	for empty := 0; ; {
		if err := ctx.Err(); err != nil {
			return stopped(u.where(), err)
		}
		if len(u.buffer) == cap(u.buffer) {
			if err := u.sealChunk(); err != nil {
				return err
			}
			tell()
		}
		if err := u.flush(ctx, false); err != nil {
			return err
		}
		n, err := r.Read(u.buffer[len(u.buffer):cap(u.buffer)])
		if n < 0 || n > cap(u.buffer)-len(u.buffer) {
			return &fault.Error{Code: fault.Internal, Where: u.where(), What: "the source says it gave more bytes than there is room for"}
		}
		u.hash.Write(u.buffer[len(u.buffer) : len(u.buffer)+n])
		u.buffer = u.buffer[:len(u.buffer)+n]
		u.state.size += int64(n)
		if empty++; n > 0 {
			empty = 0
		}
		switch {
		case err == io.EOF:
			tell()
			return nil
		case err == nil && empty >= 100:
			err = io.ErrNoProgress
			fallthrough
		case err != nil:
			return &fault.Error{
				Code: fault.Internal, Where: u.where(), What: "the source broke off",
				Mend: "go on from where it broke off", Cause: err,
			}
		}
	}
}

// sealChunk turns the buffer into a chunk of the pending part.
func (u *Upload) sealChunk() error {
	if len(u.state.chunks) >= mostChunks {
		return &fault.Error{Code: fault.TooLarge, Where: u.where(), What: "the file is longer than the vault takes", Expected: "at most 4 TiB"}
	}
	before := len(u.state.pending)
	if u.state.pending == nil && len(u.buffer) == u.state.chunkSize {
		u.state.pending = make([]byte, 0, u.state.partSize*mostStored(u.state.chunkSize))
	}
	encoded, err := u.v.coding.encode(u.state.pending, u.buffer)
	if err != nil {
		return &fault.Error{Code: fault.Internal, Where: u.where(), What: "a chunk cannot be encrypted", Cause: err}
	}
	u.state.pending = encoded
	u.state.chunks = append(u.state.chunks, chunk{stored: len(encoded) - before, hash: sha256.Sum256(u.buffer)})
	u.buffer = u.buffer[:0]
	return nil
}

// flush makes the pending part durable when it is full, or when it is the last.
func (u *Upload) flush(ctx context.Context, last bool) error {
	sealed := len(u.state.chunks) - u.state.partSize*len(u.state.parts)
	if sealed < u.state.partSize && !last || len(u.state.pending) == 0 {
		return nil
	}
	if err := u.begin(ctx); err != nil {
		return err
	}
	p := part{number: len(u.state.parts), offset: endOf(u.state.parts), length: int64(len(u.state.pending))}
	receipt, err := u.v.backend.putPart(ctx, u.id, u.state.token, p, u.state.pending)
	if err != nil {
		return err
	}
	p.receipt = receipt
	u.state.parts = append(u.state.parts, p)
	u.state.pending = u.state.pending[:0]
	if last {
		return nil // Finish saves the state with more in it
	}
	return u.save(ctx)
}

func (u *Upload) begin(ctx context.Context) error {
	if u.begun {
		return nil
	}
	token, release, err := u.v.backend.begin(ctx, u.id)
	if err != nil {
		return err
	}
	u.begun, u.state.token, u.release = true, token, release
	return nil
}

// save makes the state durable. It is whole at chunk borders and in Park.
func (u *Upload) save(ctx context.Context) error {
	midstate, err := saveHash(u.hash)
	if err != nil {
		return &fault.Error{Code: fault.Internal, Where: u.where(), What: "the upload cannot be interrupted", Cause: err}
	}
	u.state.midstate = midstate
	record, err := u.v.coding.sealRecord(stateKind, u.state.encode())
	if err != nil {
		return &fault.Error{Code: fault.Internal, Where: u.where(), What: "the state cannot be encrypted", Cause: err}
	}
	return u.v.backend.put(ctx, uploadFolder(u.id)+"/state", record)
}

// Park makes everything that was taken so far durable and gives the upload up
// for this process; ResumeUpload goes on with it.
func (u *Upload) Park(ctx context.Context) error {
	if err := u.usable(); err != nil {
		return err
	}
	if err := u.begin(ctx); err != nil {
		return err
	}
	switch {
	case u.state.complete:
	case u.closing:
		if err := u.close(ctx); err != nil {
			return err
		}
	default:
		if len(u.buffer) > 0 && len(u.buffer) == cap(u.buffer) {
			if err := u.sealChunk(); err != nil {
				return err
			}
		}
		if err := u.flush(ctx, false); err != nil {
			return err
		}
		if err := u.saveWhole(ctx); err != nil {
			return err
		}
	}
	u.end()
	return nil
}

// saveWhole saves the state with the beginning of a chunk in it.
func (u *Upload) saveWhole(ctx context.Context) error {
	if len(u.buffer) > 0 {
		fragment, err := u.v.coding.encode(nil, u.buffer)
		if err != nil {
			return &fault.Error{Code: fault.Internal, Where: u.where(), What: "a chunk cannot be encrypted", Cause: err}
		}
		u.state.fragment = fragment
		defer func() { u.state.fragment = nil }()
	}
	return u.save(ctx)
}

// load brings an upload back from its state.
func (u *Upload) load(ctx context.Context) error {
	name := uploadFolder(u.id) + "/state"
	stored, err := u.v.backend.get(ctx, name, mostState)
	if err != nil {
		return err
	}
	where := u.v.backend.where(name)
	payload, err := u.v.coding.openRecord(where, stateKind, stored)
	if err != nil {
		return err
	}
	s, err := decodeState(where, payload)
	if err != nil {
		return err
	}
	u.state = *s
	if u.hash, err = loadHash(s.midstate); err != nil {
		return &fault.Error{Code: fault.Malformed, Where: where, What: "the hash so far cannot be gone on with", Mend: "store the file again", Cause: err}
	}
	if s.complete {
		u.closing = true
		return nil
	}
	if len(s.fragment) == 0 {
		u.buffer = nil
	} else if u.buffer, err = u.v.coding.decode(nil, s.fragment, s.chunkSize); err != nil {
		return &fault.Error{Code: fault.Malformed, Where: where, What: "its last bytes cannot be decrypted", Mend: "store the file again", Cause: err}
	}
	if int64(len(u.buffer)) != s.size-int64(len(s.chunks))*int64(s.chunkSize) {
		return malformed(where, "its last bytes do not fit its size")
	}
	// Exactly the capacity of a chunk: Append takes a full buffer for a chunk.
	u.buffer = append(make([]byte, 0, s.chunkSize), u.buffer...)
	u.state.fragment = nil
	u.state.pending = append(make([]byte, 0, s.partSize*mostStored(s.chunkSize)), s.pending...)
	return nil
}

// compare looks at the durable parts again: their bytes where they can be read,
// else their receipts. When only the commit is left, that finds out by itself
// what is there.
func (u *Upload) compare(ctx context.Context) error {
	if u.state.complete {
		return nil
	}
	if err := u.v.backend.checkParts(ctx, u.id, u.state.token, u.state.parts); err != nil {
		return err
	}
	b, err := u.v.backend.openParts(ctx, u.id)
	if err != nil || b == nil {
		return err
	}
	defer b.Close()
	m := manifest{size: u.state.size, chunkSize: u.state.chunkSize, chunks: u.state.chunks}
	var offset int64
	work := chunkReader{v: u.v, where: u.where(), m: &m}
	for i, c := range u.state.chunks {
		if offset >= endOf(u.state.parts) {
			break // it is in the state itself, under its seal
		}
		if _, err := work.read(ctx, b, i, offset); err != nil {
			return err
		}
		offset += int64(c.stored)
	}
	return nil
}

// Abort ends the upload and removes what was written of it.
func (u *Upload) Abort(ctx context.Context) error {
	if err := u.usable(); err != nil {
		return err
	}
	return u.drop(ctx)
}

func (u *Upload) drop(ctx context.Context) error {
	begun := u.begun
	u.end()
	if !begun {
		return nil
	}
	return u.v.backend.discard(ctx, u.id)
}

func (u *Upload) usable() error {
	if u.ended != nil {
		return &fault.Error{Code: fault.Invalid, Where: u.where(), What: u.ended.Error(), Mend: "resume it or begin a new one", Cause: u.ended}
	}
	return nil
}

// end gives up the hold and the memory.
func (u *Upload) end() {
	u.ended = errEnded
	u.release()
	u.buffer, u.state.pending, u.begun = nil, nil, false
}
