package vault

import (
	"bytes"
	"crypto/hkdf"
	"crypto/hmac"
	"crypto/sha256"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"filippo.io/age"

	"limitans/fault"
)

const (
	// scryptWorkFactor is log2 of N: with r = 8 it costs 128 MiB and about half
	// a second, once for each start. It is the smallest that the OWASP cheat
	// sheet on storing passwords gives for scrypt with p = 1 (from memory).
	scryptWorkFactor = 17
	// mostWorkFactor bounds what a key file can make this program spend: 1 GiB.
	mostWorkFactor = 20
	mostKeyFile    = 4 << 10
)

// A Key opens an encrypted vault. It is an age X25519 identity and two keys
// that are derived from it by HKDF-SHA-256 (RFC 5869), for names and seals.
type Key struct {
	identity *age.X25519Identity
	names    []byte
	seals    []byte
}

// CreateKeyFile makes a new key and writes it to a file that is encrypted with
// the passphrase. An empty passphrase is Invalid, an existing file a Conflict:
// overwriting a key loses every content that it opens.
func CreateKeyFile(path, passphrase string) (*Key, error) {
	return createKeyFile(path, passphrase, scryptWorkFactor)
}

func createKeyFile(path, passphrase string, workFactor int) (*Key, error) {
	if passphrase == "" {
		return nil, &fault.Error{Code: fault.Invalid, Where: "passphrase of the vault", What: "it is empty", Mend: "choose one"}
	}
	if _, err := os.Lstat(path); err == nil {
		return nil, &fault.Error{
			Code: fault.Conflict, Where: path, What: "a key file is there already",
			Mend: "open it with its passphrase; without it what it encrypts is lost",
		}
	}
	identity, err := age.GenerateX25519Identity()
	if err != nil {
		return nil, keyFault(path, "no key can be made", err)
	}
	recipient, err := age.NewScryptRecipient(passphrase)
	if err != nil {
		return nil, keyFault(path, "the passphrase cannot be used", err)
	}
	recipient.SetWorkFactor(workFactor)
	var sealed bytes.Buffer
	w, err := age.Encrypt(&sealed, recipient)
	if err == nil {
		_, err = io.WriteString(w, identity.String()+"\n")
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		return nil, keyFault(path, "the key cannot be encrypted", err)
	}
	if err := writeNew(path, sealed.Bytes()); err != nil {
		return nil, err
	}
	return newKey(identity)
}

// writeNew writes a file that must not exist; it is there whole or not at all.
func writeNew(path string, data []byte) error {
	temporary := path + ".new-" + newID()
	f, err := os.OpenFile(temporary, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return writeFault(path, err)
	}
	_, err = f.Write(data)
	err = errors.Join(err, f.Sync(), f.Close())
	if err == nil {
		// A link, unlike a rename, fails when somebody else was faster; where the
		// file system knows no links the look above has to do.
		if err = os.Link(temporary, path); err == nil {
			_ = os.Remove(temporary)
		} else if !errors.Is(err, fs.ErrExist) {
			err = os.Rename(temporary, path)
		}
	}
	if err == nil {
		err = syncFolder(filepath.Dir(path), (*os.File).Sync)
	}
	if err != nil {
		_ = os.Remove(temporary)
		return writeFault(path, err)
	}
	return nil
}

// OpenKeyFile reads a key file. NotFound: there is none; Invalid: the
// passphrase does not open it; Malformed: it is not a key file or damaged.
func OpenKeyFile(path, passphrase string) (*Key, error) {
	f, err := os.Open(path)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil, &fault.Error{Code: fault.NotFound, Where: path, What: "there is no key file", Mend: "bring it back from a backup", Cause: err}
		}
		return nil, keyFault(path, "the key file cannot be read", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, mostKeyFile+1))
	if err != nil {
		return nil, keyFault(path, "the key file cannot be read", err)
	}
	if len(data) > mostKeyFile {
		return nil, &fault.Error{Code: fault.Malformed, Where: path, What: "it is too long for a key file"}
	}
	opener, err := age.NewScryptIdentity(passphrase)
	if err != nil {
		return nil, &fault.Error{Code: fault.Invalid, Where: path, What: "the passphrase is empty", Mend: "give the passphrase of the vault", Cause: err}
	}
	opener.SetMaxWorkFactor(mostWorkFactor)
	r, err := age.Decrypt(bytes.NewReader(data), opener)
	if err != nil {
		var noMatch *age.NoIdentityMatchError
		if errors.As(err, &noMatch) {
			return nil, &fault.Error{Code: fault.Invalid, Where: path, What: "the passphrase does not open it", Mend: "type it again", Cause: err}
		}
		return nil, &fault.Error{Code: fault.Malformed, Where: path, What: "it is no key file or it is damaged", Mend: "bring it back from a backup", Cause: err}
	}
	text, err := io.ReadAll(io.LimitReader(r, mostKeyFile))
	if err != nil {
		return nil, &fault.Error{Code: fault.Malformed, Where: path, What: "it is damaged", Mend: "bring it back from a backup", Cause: err}
	}
	identity, err := age.ParseX25519Identity(strings.TrimSpace(string(text)))
	if err != nil {
		// The cause would quote the key.
		return nil, &fault.Error{Code: fault.Malformed, Where: path, What: "it holds no key of the kind that this program uses"}
	}
	return newKey(identity)
}

func newKey(identity *age.X25519Identity) (*Key, error) {
	k := &Key{identity: identity}
	for _, derived := range []struct {
		to  *[]byte
		use string
	}{{&k.names, "limitans vault 1 names"}, {&k.seals, "limitans vault 1 seals"}} {
		bytes, err := hkdf.Key(sha256.New, []byte(identity.String()), nil, derived.use, sha256.Size)
		if err != nil {
			return nil, keyFault("key of the vault", "no key can be derived", err)
		}
		*derived.to = bytes
	}
	return k, nil
}

// hmacOf is HMAC-SHA-256 (RFC 2104).
func hmacOf(key, data []byte) []byte {
	m := hmac.New(sha256.New, key)
	m.Write(data)
	return m.Sum(nil)
}

func keyFault(path, what string, err error) error {
	return &fault.Error{Code: fault.Internal, Where: path, What: what, Cause: err}
}
