package vault

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"limitans/fault"
)

// cheap is a scrypt work factor for tests: 2^10.
const cheap = 10

func TestKeyFiles(t *testing.T) {
	path := filepath.Join(t.TempDir(), "vault.key")
	if _, err := OpenKeyFile(path, "x"); !isCode(err, fault.NotFound) {
		t.Errorf("no file: %v", err)
	}
	if _, err := CreateKeyFile(path, ""); !isCode(err, fault.Invalid) {
		t.Errorf("no passphrase: %v", err)
	}
	const passphrase = "correct horse battery staple"
	made, err := createKeyFile(path, passphrase, cheap)
	if err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != fileMode {
		t.Errorf("%v, %v", info.Mode(), err)
	}
	if _, err := CreateKeyFile(path, "another"); !isCode(err, fault.Conflict) {
		t.Errorf("a key is overwritten: %v", err)
	}
	opened, err := OpenKeyFile(path, passphrase)
	if err != nil {
		t.Fatal(err)
	}
	if opened.identity.String() != made.identity.String() || !bytes.Equal(opened.names, made.names) || !bytes.Equal(opened.seals, made.seals) {
		t.Error("another key comes back")
	}
	if bytes.Equal(made.names, made.seals) {
		t.Error("one key serves two ends")
	}
	for _, wrong := range []string{"Correct horse battery staple", passphrase + " ", ""} {
		_, err := OpenKeyFile(path, wrong)
		if !isCode(err, fault.Invalid) {
			t.Errorf("passphrase %q: %v", wrong, err)
		}
		if wrong != "" && strings.Contains(err.Error(), wrong) {
			t.Errorf("the fault tells the passphrase: %v", err)
		}
	}
	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(good, []byte("AGE-SECRET-KEY")) {
		t.Error("the key lies open")
	}
	for name, text := range map[string][]byte{
		"empty": nil, "cut": good[:len(good)-1], "too long": append(bytes.Clone(good), make([]byte, mostKeyFile)...),
		"other": []byte("age-encryption.org/v1\n"), "flipped": flip(good, len(good)-5),
	} {
		if err := os.WriteFile(path, text, fileMode); err != nil {
			t.Fatal(err)
		}
		if _, err := OpenKeyFile(path, passphrase); !isCode(err, fault.Malformed) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if left, err := os.ReadDir(filepath.Dir(path)); err != nil || len(left) != 1 {
		t.Errorf("left in the folder: %v, %v", left, err)
	}
}

func flip(data []byte, at int) []byte {
	data = bytes.Clone(data)
	data[at] ^= 1
	return data
}

// A vault made with a key file opens with it after a restart.
func TestVaultWithAKeyFile(t *testing.T) {
	folder := t.TempDir()
	key, err := createKeyFile(filepath.Join(folder, "vault.key"), "p", cheap)
	if err != nil {
		t.Fatal(err)
	}
	v, err := Open(t.Context(), filepath.Join(folder, "vault"), Options{Key: key})
	if err != nil {
		t.Fatal(err)
	}
	mustPut(t, v, []byte("abc"))
	key, err = OpenKeyFile(filepath.Join(folder, "vault.key"), "p")
	if err != nil {
		t.Fatal(err)
	}
	v, err = Open(t.Context(), filepath.Join(folder, "vault"), Options{Key: key})
	if err != nil {
		t.Fatal(err)
	}
	mustHold(t, v, []byte("abc"))
}
