package main

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"limitans/fault"
)

// viewKeyName is the key of the pseudonyms inside a data folder.
const viewKeyName = "view.key"

// keyBytes is how long a key is.
const keyBytes = 32

// keySort is a secret that stands in a file beside the record, never in it: written
// for this user alone and no part of a backup.
type keySort struct{ what, flag, loss string }

var (
	// Whoever has this key and the record can lead a pseudonym back to its eye.
	viewKeySort = keySort{"the key of the pseudonyms", "--view-key", "another key gives every case another pseudonym"}
	// Whoever has this key and the record can make the codes of everybody.
	sealingKeySort = keySort{"the key of the second factors", "--sealing-key", "with another key nobody's second factor opens, and an administrator must take each away"}
)

// read gives the key, which is made at the first start.
func (k keySort) read(path string) ([]byte, error) {
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		if err := makeKey(path); err != nil {
			return nil, err
		}
		text, err = os.ReadFile(path)
	}
	if err != nil {
		return nil, &fault.Error{Code: fault.Invalid, Where: path, What: k.what + " cannot be read", Mend: "let this user read it, or name another file with " + k.flag, Cause: err}
	}
	key, err := hex.DecodeString(strings.TrimSpace(string(text)))
	if err != nil || len(key) != keyBytes {
		return nil, &fault.Error{Code: fault.Malformed, Where: path, What: "is not " + k.what, Expected: fmt.Sprintf("%d hexadecimal digits", 2*keyBytes), Mend: "bring the right file back; " + k.loss}
	}
	return key, nil
}

// makeKey writes a new key. A file that another process has just made stays.
func makeKey(path string) error {
	var key [keyBytes]byte
	if _, err := rand.Read(key[:]); err != nil {
		return err
	}
	file, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return nil
	}
	if err != nil {
		return cannotWrite(path, err)
	}
	_, err = file.WriteString(hex.EncodeToString(key[:]) + "\n")
	if err := errors.Join(err, file.Sync(), file.Close()); err != nil {
		return cannotWrite(path, errors.Join(err, os.Remove(path)))
	}
	return nil
}
