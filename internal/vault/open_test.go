package vault

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/minio/minio-go/v7"

	"limitans/fault"
)

// remove takes an object away, as a person or a broken disk would; the package
// itself has no way to do it.
func remove(t testing.TB, v *Vault, name string) {
	t.Helper()
	var err error
	switch b := v.backend.(type) {
	case *local:
		err = os.Remove(b.where(name))
	case *objectStore:
		err = b.core.RemoveObject(t.Context(), b.address.bucket, b.key(name), minio.RemoveObjectOptions{})
	default:
		t.Fatalf("no way to remove from %T", b)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// replace puts other bytes in an object's place, as a broken disk would.
func replace(t testing.TB, v *Vault, name string, data []byte) {
	t.Helper()
	l, isLocal := v.backend.(*local)
	if !isLocal {
		if err := v.backend.put(t.Context(), name, data); err != nil {
			t.Fatal(err)
		}
		return
	}
	path := l.where(name)
	_ = os.Remove(path) // contents are read-only
	if err := errors.Join(os.MkdirAll(filepath.Dir(path), folderMode), os.WriteFile(path, data, fileMode)); err != nil {
		t.Fatal(err)
	}
}

func TestKeysAndVaultsBelongTogether(t *testing.T) {
	onAllPlaces(t, func(t *testing.T, p place) {
		address := p.fresh(t)
		options := p.options(t)
		options.ReadOnly = true
		if _, err := Open(t.Context(), address, options); !isCode(err, fault.NotFound) {
			t.Errorf("read-only where there is nothing: %v", err)
		}
		v := p.open(t, address)
		mustPut(t, v, []byte("abc"))

		readOnly, err := Open(t.Context(), address, options)
		if err != nil {
			t.Fatal(err)
		}
		mustHold(t, readOnly, []byte("abc"))
		if _, err := readOnly.Put(t.Context(), strings.NewReader("x"), nil); !isCode(err, fault.Invalid) {
			t.Errorf("read-only: %v", err)
		}

		other := p.options(t)
		if p.key {
			other.Key = nil
		} else {
			other.Key = testKey(t)
		}
		if _, err := Open(t.Context(), address, other); !isCode(err, fault.Invalid) {
			t.Errorf("key where none belongs, or none where one belongs: %v", err)
		}
		if p.key {
			other.Key = &Key{identity: testKey(t).identity, names: testKey(t).names, seals: make([]byte, 32)}
			if _, err := Open(t.Context(), address, other); !isCode(err, fault.Invalid) || !strings.Contains(err.Error(), "another vault") {
				t.Errorf("another key: %v", err)
			}
		}
		for text, code := range map[string]fault.Code{
			"limitans vault 2\nencryption none\n": fault.Unsupported, "holiday": fault.Malformed, "": fault.Malformed,
			strings.Repeat("x", 10000): fault.TooLarge,
		} {
			if err := v.backend.put(t.Context(), formatName, []byte(text)); err != nil {
				t.Fatal(err)
			}
			if _, err := Open(t.Context(), address, p.options(t)); !isCode(err, code) {
				t.Errorf("format %.20q: %v, want %s", text, err, code)
			}
		}
		remove(t, v, formatName)
		if _, err := Open(t.Context(), address, p.options(t)); !isCode(err, fault.Conflict) {
			t.Errorf("a place with other things: %v", err)
		}
	})
}

// With a key nothing that is stored shows a byte of the content or its hash.
func TestEncryptionHidesContentAndHash(t *testing.T) {
	onAllPlaces(t, func(t *testing.T, p place) {
		v := p.open(t, p.fresh(t))
		plain := bytes.Repeat([]byte("MACULAR HOLE OD "), 40)
		content := mustPut(t, v, plain)
		u, err := v.BeginUpload(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if err := u.Append(t.Context(), bytes.NewReader(plain[:600]), nil); err != nil {
			t.Fatal(err)
		}
		if err := u.Park(t.Context()); err != nil {
			t.Fatal(err)
		}
		shown := false
		for name, stored := range raw(t, v) {
			for _, secret := range [][]byte{[]byte("MACULAR"), content.Hash[:], []byte(content.Hash.String())} {
				shown = shown || bytes.Contains(stored, secret) || strings.Contains(name, string(secret))
			}
			if p.key && name != formatName && !bytes.HasPrefix(stored, []byte("age-encryption.org/v1\n")) {
				if _, isLocal := v.backend.(*local); !isLocal || !strings.HasSuffix(name, "/lock") {
					t.Errorf("%s is not encrypted", name)
				}
			}
		}
		if shown == p.key {
			t.Errorf("content or hash visible: %v", shown)
		}
	})
}

func TestHashesAreReadStrictly(t *testing.T) {
	h := Hash{0xab, 31: 0xcd}
	if got, err := ParseHash(h.String()); err != nil || got != h {
		t.Errorf("%v, %v", got, err)
	}
	for _, text := range []string{"", "ab", h.String() + "00", strings.ToUpper(h.String()), strings.Repeat("g", 64), " " + h.String()} {
		if _, err := ParseHash(text); !isCode(err, fault.Invalid) {
			t.Errorf("%q: %v", text, err)
		}
	}
}
