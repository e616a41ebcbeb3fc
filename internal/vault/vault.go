package vault

import (
	"context"
	"crypto/hmac"
	"encoding/hex"
	"io"
	"os"
	"path/filepath"
	"strings"

	"limitans/fault"
)

// Options are how a vault is opened.
type Options struct {
	// Key opens an encrypted vault; a new vault is encrypted when it is given.
	// nil: a vault without encryption.
	Key *Key
	// ReadOnly refuses everything that writes and makes no new vault.
	ReadOnly bool
	// Getenv reads LIMITANS_S3_KEY, LIMITANS_S3_SECRET and, for keys lent for a
	// time, LIMITANS_S3_TOKEN. nil: the environment of the process.
	Getenv func(string) string
}

// A Vault keeps contents. It may be used by many goroutines, and the place by
// many processes, at once.
type Vault struct {
	backend   backend
	coding    coding
	readOnly  bool
	chunkSize int
	partSize  int
}

// Open opens the vault at an address, or makes one where there is nothing yet.
// An address is a folder's path or
//
//	s3://bucket/prefix?endpoint=https://host:port&region=name
//
// where endpoint may be left out for the store of that protocol's inventor. What
// logs in comes from the environment, never from the address. Invalid: the
// address, or a key that is missing, not wanted or another's; Conflict: the
// place holds something else; NotFound: read-only and there is no vault;
// Unsupported: a later kind of vault.
func Open(ctx context.Context, address string, options Options) (*Vault, error) {
	v := &Vault{coding: coding{options.Key}, readOnly: options.ReadOnly, chunkSize: defaultChunkSize, partSize: 4}
	if scheme, _, found := strings.Cut(address, "://"); !found {
		if address == "" {
			return nil, &fault.Error{Code: fault.Invalid, Where: "address of the vault", What: "it is empty", Expected: "a folder or s3://bucket/prefix"}
		}
		root, err := filepath.Abs(address)
		if err != nil {
			return nil, readFault(address, err)
		}
		v.backend = newLocal(root)
	} else if scheme == "s3" {
		parsed, err := parseS3Address(address)
		if err != nil {
			return nil, err
		}
		getenv := options.Getenv
		if getenv == nil {
			getenv = os.Getenv
		}
		if v.backend, err = newObjectStore(parsed, getenv); err != nil {
			return nil, err
		}
	} else {
		return nil, &fault.Error{Code: fault.Unsupported, Where: "address of the vault", What: "this kind of address is not known", Expected: "a folder or s3://bucket/prefix"}
	}
	if err := v.checkFormat(ctx); err != nil {
		return nil, err
	}
	return v, nil
}

const (
	formatName = "format"
	mostFormat = 256
)

// formatText is what a vault of this kind has in its format file: whether it is
// encrypted, and a check value that only the right key gives.
func (v *Vault) formatText() string {
	if v.coding.key == nil {
		return formatKind + "encryption none\n"
	}
	return formatKind + "encryption age\nkey " + hex.EncodeToString(hmacOf(v.coding.key.seals, []byte(formatKind))) + "\n"
}

func (v *Vault) checkFormat(ctx context.Context) error {
	where := v.backend.where(formatName)
	found, err := v.backend.get(ctx, formatName, mostFormat)
	if isCode(err, fault.NotFound) && fault.CodeOf(v.bucketFault(ctx)) == "" {
		return v.makeFormat(ctx)
	}
	if err != nil {
		return err
	}
	want := v.formatText()
	text := string(found)
	encrypted := strings.HasPrefix(text, formatKind+"encryption age\n")
	switch {
	case hmac.Equal(found, []byte(want)):
		return nil
	case !strings.HasPrefix(text, formatKind) && strings.HasPrefix(text, "limitans vault "):
		return &fault.Error{Code: fault.Unsupported, Where: where, What: "the vault is of another version", Expected: "version 1", Mend: "use the program that made it"}
	case encrypted && v.coding.key == nil:
		return &fault.Error{Code: fault.Invalid, Where: where, What: "the vault is encrypted", Mend: "give its passphrase"}
	case encrypted:
		return &fault.Error{Code: fault.Invalid, Where: where, What: "the key is that of another vault", Mend: "use the key file that belongs to this one"}
	case text == formatKind+"encryption none\n":
		return &fault.Error{Code: fault.Invalid, Where: where, What: "the vault is not encrypted, but a key was given", Mend: "open it without a passphrase, or make a new vault"}
	}
	return malformed(where, "it does not say what kind of vault this is")
}

// bucketFault tells a missing bucket from a missing name: listing works in the
// one case only.
func (v *Vault) bucketFault(ctx context.Context) error {
	return v.backend.list(ctx, formatName, func(string, int64) error { return nil })
}

// makeFormat turns an empty place into a vault.
func (v *Vault) makeFormat(ctx context.Context) error {
	if v.readOnly {
		return &fault.Error{Code: fault.NotFound, Where: v.backend.where(formatName), What: "there is no vault", Mend: "correct the address, or open it for writing to make one"}
	}
	err := v.backend.list(ctx, "", func(name string, _ int64) error {
		if strings.HasPrefix(name, "uploads/") {
			return nil // a first start that was cut off
		}
		return &fault.Error{
			Code: fault.Conflict, Where: v.backend.where(name), What: "the place of the vault holds something else",
			Expected: "nothing, or a vault", Mend: "choose an empty place",
		}
	})
	if err != nil {
		return err
	}
	return v.backend.put(ctx, formatName, []byte(v.formatText()))
}

func (v *Vault) writable() error {
	if v.readOnly {
		return &fault.Error{Code: fault.Invalid, Where: v.backend.where(formatName), What: "the vault was opened for reading only"}
	}
	return nil
}

// Put stores what r gives until its end and returns its hash. The length need
// not be known; memory stays below 64 MiB. progress, if not nil, is told the
// bytes taken so far. When it fails, the vault is as it was. To be able to go on
// after a broken upload use BeginUpload.
func (v *Vault) Put(ctx context.Context, r io.Reader, progress func(bytes int64)) (Content, error) {
	u, err := v.BeginUpload(ctx)
	if err != nil {
		return Content{}, err
	}
	if err = u.Append(ctx, r, progress); err == nil {
		var content Content
		if content, err = u.Finish(ctx); err == nil {
			return content, nil
		}
	}
	// What cannot be tidied up now is an unfinished upload for Sweep.
	_ = u.drop(context.WithoutCancel(ctx))
	return Content{}, err
}

// manifestOf reads the manifest of a content; NotFound when there is none.
func (v *Vault) manifestOf(ctx context.Context, h Hash) (*manifest, error) {
	name := manifestPath(v.coding.name(h))
	m, err := v.readManifest(ctx, name)
	if err != nil {
		if isCode(err, fault.NotFound) {
			return nil, &fault.Error{Code: fault.NotFound, Where: v.backend.where(name), What: "the vault has no content " + h.String(), Mend: "bring it back from a backup, or store the file again", Cause: err}
		}
		return nil, err
	}
	if m.hash != h {
		return nil, malformed(v.backend.where(name), "the manifest is that of another content")
	}
	return m, nil
}

func (v *Vault) readManifest(ctx context.Context, name string) (*manifest, error) {
	stored, err := v.backend.get(ctx, name, mostManifest)
	if isCode(err, fault.TooLarge) {
		return nil, malformed(v.backend.where(name), "it is too long for a manifest")
	}
	if err != nil {
		return nil, err
	}
	payload, err := v.coding.openRecord(v.backend.where(name), manifestKind, stored)
	if err != nil {
		return nil, err
	}
	return decodeManifest(v.backend.where(name), payload)
}

// Stat returns hash and size of a stored content. NotFound: the vault has no
// such content; Malformed: its manifest is damaged, its bytes are missing or of
// another length. The bytes are not read; see Get and Verify.
func (v *Vault) Stat(ctx context.Context, h Hash) (Content, error) {
	m, err := v.manifestOf(ctx, h)
	if err != nil {
		return Content{}, err
	}
	b, err := v.openContent(ctx, m)
	if err != nil {
		return Content{}, err
	}
	return Content{Hash: m.hash, Size: m.size}, b.Close()
}

// Has says whether the vault has a content; damage is an error, not "no".
func (v *Vault) Has(ctx context.Context, h Hash) (bool, error) {
	_, err := v.Stat(ctx, h)
	if isCode(err, fault.NotFound) {
		return false, nil
	}
	return err == nil, err
}

// openContent opens the bytes; a wrong length is Malformed, and so is missing
// bytes where there is a manifest.
func (v *Vault) openContent(ctx context.Context, m *manifest) (blob, error) {
	b, err := v.backend.open(ctx, m.location)
	if isCode(err, fault.NotFound) {
		return nil, &fault.Error{
			Code: fault.Malformed, Where: v.backend.where(m.location), What: "the bytes of content " + m.hash.String() + " are missing",
			Mend: "bring them back from a backup, or store the file again", Cause: err,
		}
	}
	if err != nil {
		return nil, err
	}
	if b.Size() != storedSize(m.chunks) {
		_ = b.Close()
		return nil, malformed(v.backend.where(m.location), "content "+m.hash.String()+" has another length than its manifest says")
	}
	return b, nil
}

// Walk calls each for every content, in no order. It stops at the first error,
// also at a damaged manifest: Verify names them all.
func (v *Vault) Walk(ctx context.Context, each func(Content) error) error {
	return v.backend.list(ctx, "manifest/", func(name string, _ int64) error {
		m, err := v.readManifest(ctx, name)
		if err != nil {
			return err
		}
		if manifestPath(v.coding.name(m.hash)) != name {
			return malformed(v.backend.where(name), "the manifest is that of another content")
		}
		return each(Content{Hash: m.hash, Size: m.size})
	})
}
