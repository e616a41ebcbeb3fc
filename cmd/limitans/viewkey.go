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

// viewKeyBytes is how long that key is.
const viewKeyBytes = 32

// viewKey reads the key of the pseudonyms, which is made at the first start so that
// a case keeps its pseudonym. Whoever has it and the record can lead a pseudonym
// back to its eye: it is written for this user alone and is no part of a backup.
func viewKey(path string) ([]byte, error) {
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		if err := makeViewKey(path); err != nil {
			return nil, err
		}
		text, err = os.ReadFile(path)
	}
	if err != nil {
		return nil, &fault.Error{Code: fault.Invalid, Where: path, What: "the key of the pseudonyms cannot be read", Mend: "let this user read it, or name another file with --view-key", Cause: err}
	}
	key, err := hex.DecodeString(strings.TrimSpace(string(text)))
	if err != nil || len(key) != viewKeyBytes {
		return nil, &fault.Error{Code: fault.Malformed, Where: path, What: "is no key of pseudonyms", Expected: fmt.Sprintf("%d hexadecimal digits", 2*viewKeyBytes), Mend: "bring the right file back; another key gives every case another pseudonym"}
	}
	return key, nil
}

// makeViewKey writes a new key. A file that another process has just made stays.
func makeViewKey(path string) error {
	var key [viewKeyBytes]byte
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
