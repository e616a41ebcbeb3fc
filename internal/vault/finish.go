package vault

import (
	"context"

	"limitans/fault"
)

// Finish makes the content visible under its hash and returns it. When the vault
// has it already, the stored bytes are read and compared first: what is told to
// be stored is whole. If they are damaged, the new bytes take their place. After
// an error the upload is as before; Finish may be called again, also after
// ResumeUpload.
func (u *Upload) Finish(ctx context.Context) (Content, error) {
	if err := u.usable(); err != nil {
		return Content{}, err
	}
	content := Content{Size: u.state.size}
	copy(content.Hash[:], u.hash.Sum(nil))
	known, err := u.v.intact(ctx, content.Hash)
	if err != nil {
		return Content{}, err
	}
	if known {
		content.Known = true
		// It is stored; what could not be tidied up is left to Sweep.
		_ = u.drop(context.WithoutCancel(ctx))
		return content, nil
	}
	location, err := u.settle(ctx, content.Hash)
	if err != nil {
		return Content{}, err
	}
	m := manifest{
		hash: content.Hash, size: content.Size, chunkSize: u.state.chunkSize,
		location: location, chunks: u.state.chunks,
	}
	name := manifestPath(u.v.coding.name(content.Hash))
	record, err := u.v.coding.sealRecord(manifestKind, m.encode())
	if err != nil {
		return Content{}, &fault.Error{Code: fault.Internal, Where: u.v.backend.where(name), What: "it cannot be encrypted", Cause: err}
	}
	if err := u.v.backend.put(ctx, name, record); err != nil {
		return Content{}, err
	}
	_ = u.drop(context.WithoutCancel(ctx))
	return content, nil
}

// settle makes the bytes durable at their final place.
func (u *Upload) settle(ctx context.Context, h Hash) (string, error) {
	if !u.closing && len(u.buffer) > 0 {
		if err := u.sealChunk(); err != nil {
			return "", err
		}
	}
	u.closing = true
	if !u.begun || u.state.size == 0 {
		return u.v.backend.store(ctx, u.id, u.v.coding.name(h), u.state.pending)
	}
	if err := u.close(ctx); err != nil {
		return "", err
	}
	return u.v.backend.commit(ctx, u.id, u.state.token, u.v.coding.name(h), u.state.parts)
}

// close makes the last part durable, and the state that says so: from here on a
// crash leaves what Finish can go on with.
func (u *Upload) close(ctx context.Context) error {
	if u.state.complete {
		return nil
	}
	if err := u.flush(ctx, true); err != nil {
		return err
	}
	u.state.complete = true
	err := u.save(ctx)
	u.state.complete = err == nil
	return err
}

// intact says whether the vault has a content whole. Damage is not an error
// here, because the caller is about to mend it.
func (v *Vault) intact(ctx context.Context, h Hash) (bool, error) {
	m, err := v.manifestOf(ctx, h)
	if err == nil {
		err = v.verifyContent(ctx, m, nil)
	}
	switch {
	case err == nil:
		return true, nil
	case isCode(err, fault.NotFound), isCode(err, fault.Malformed):
		return false, nil
	}
	return false, err
}
