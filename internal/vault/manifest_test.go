package vault

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"limitans/fault"
)

// exampleManifest is built field by field after the table above type manifest,
// not with the encoder.
func exampleManifest(t testing.TB) []byte {
	t.Helper()
	location := "content/ba/ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
	text := "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" + // SHA-256 of "abc", FIPS 180-4
		"0000000000000003" + "00400000" +
		hex.EncodeToString([]byte{byte(len(location))}) + hex.EncodeToString([]byte(location)) +
		"00000001" + "00000003" + "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
	payload, err := hex.DecodeString(text)
	if err != nil {
		t.Fatal(err)
	}
	return payload
}

func TestManifestOfTheTable(t *testing.T) {
	m, err := decodeManifest("m", exampleManifest(t))
	if err != nil {
		t.Fatal(err)
	}
	if m.size != 3 || m.chunkSize != 4<<20 || m.hash != sha256.Sum256([]byte("abc")) || len(m.chunks) != 1 || m.chunks[0] != (chunk{3, m.hash}) {
		t.Errorf("%+v", m)
	}
	if !bytes.Equal(m.encode(), exampleManifest(t)) {
		t.Error("encoding what was decoded gives other bytes")
	}
	v := Vault{backend: newLocal(t.TempDir()), chunkSize: defaultChunkSize, partSize: 4}
	written := mustPut(t, &v, []byte("abc"))
	found, err := v.manifestOf(t.Context(), written.Hash)
	if err != nil || !reflect.DeepEqual(found, m) {
		t.Errorf("Put writes %+v, %v", found, err)
	}
}

func TestManifestsThatDoNotFit(t *testing.T) {
	good := exampleManifest(t)
	for name, change := range map[string]func(b []byte) []byte{
		"empty":               func([]byte) []byte { return nil },
		"cut":                 func(b []byte) []byte { return b[:len(b)-1] },
		"longer":              func(b []byte) []byte { return append(b, 0) },
		"size of another":     func(b []byte) []byte { b[39] = 200; return b },
		"huge size":           func(b []byte) []byte { b[32] = 0x7f; return b },
		"negative size":       func(b []byte) []byte { b[32] = 0xff; return b },
		"chunk size 0":        func(b []byte) []byte { copy(b[40:44], make([]byte, 4)); return b },
		"chunk size 2 GiB":    func(b []byte) []byte { b[40] = 0x80; return b },
		"four billion chunks": func(b []byte) []byte { copy(b[len(b)-40:], "\xff\xff\xff\xff"); return b },
		"stored too short":    func(b []byte) []byte { b[len(b)-33] = 2; return b },
		"stored too long":     func(b []byte) []byte { b[len(b)-35] = 9; return b },
		"location outside":    func(b []byte) []byte { copy(b[45:], "../../../"); return b },
		"location elsewhere":  func(b []byte) []byte { copy(b[45:], "uploads"); return b },
		"location goes up":    func(b []byte) []byte { copy(b[53:], ".."); return b },
	} {
		m, err := decodeManifest("m", change(bytes.Clone(good)))
		if !isCode(err, fault.Malformed) || m != nil {
			t.Errorf("%s: %+v, %v", name, m, err)
		}
	}
}

func TestEmptyContentHasNoChunks(t *testing.T) {
	m := manifest{hash: sha256.Sum256(nil), chunkSize: 1, location: "content/" + strings.Repeat("a", 32)}
	got, err := decodeManifest("m", m.encode())
	if err != nil || got.size != 0 || len(got.chunks) != 0 {
		t.Errorf("%+v, %v", got, err)
	}
}

func TestStatesComeBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := state{
			token: rapid.StringN(0, 50, 200).Draw(rt, "token"), chunkSize: rapid.IntRange(1, 50).Draw(rt, "chunk size"),
			partSize: rapid.IntRange(1, 4).Draw(rt, "part size"), midstate: []byte("m"), parts: []part{}, chunks: []chunk{},
			pending: []byte{}, fragment: []byte{},
		}
		n := rapid.IntRange(0, 20).Draw(rt, "chunks")
		for i := range n {
			s.chunks = append(s.chunks, chunk{s.chunkSize, Hash{byte(i)}})
		}
		for i := range n / s.partSize {
			s.parts = append(s.parts, part{i, endOf(s.parts), int64(s.chunkSize * s.partSize), rapid.StringN(0, 40, 100).Draw(rt, "receipt")})
		}
		s.pending = append(s.pending, make([]byte, storedSize(s.chunks)-endOf(s.parts))...)
		s.fragment = append(s.fragment, make([]byte, rapid.IntRange(0, s.chunkSize-1).Draw(rt, "fragment"))...)
		s.size = int64(n*s.chunkSize + len(s.fragment))
		got, err := decodeState("s", s.encode())
		if err != nil {
			rt.Fatal(err)
		}
		if !reflect.DeepEqual(*got, s) {
			rt.Fatalf("%+v became %+v", s, *got)
		}
	})
}

// Whatever the bytes: no panic, nothing beside an error, and what is accepted is
// written back to the same bytes.
func FuzzManifest(f *testing.F) {
	f.Add(exampleManifest(f))
	f.Add([]byte{})
	f.Add((&manifest{hash: Hash{1}, size: 130, chunkSize: 64, location: contentPath(Hash{1}.String()), chunks: []chunk{{64, Hash{2}}, {64, Hash{3}}, {2, Hash{4}}}}).encode())
	f.Fuzz(func(t *testing.T, payload []byte) {
		m, err := decodeManifest("m", payload)
		if err != nil {
			if m != nil || !isCode(err, fault.Malformed) {
				t.Fatalf("%+v, %v", m, err)
			}
			return
		}
		if !bytes.Equal(m.encode(), payload) {
			t.Fatal("not the same bytes")
		}
		if strings.Contains(m.location, "..") {
			t.Fatalf("location %q", m.location)
		}
	})
}

func FuzzUploadState(f *testing.F) {
	f.Add((&state{chunkSize: 64, partSize: 3, size: 10, midstate: []byte("m"), fragment: make([]byte, 10)}).encode())
	f.Add((&state{token: "t", chunkSize: 2, partSize: 1, size: 4, complete: true, parts: []part{{0, 0, 2, "r"}, {1, 2, 2, "s"}}, chunks: []chunk{{2, Hash{1}}, {2, Hash{2}}}}).encode())
	f.Fuzz(func(t *testing.T, payload []byte) {
		s, err := decodeState("s", payload)
		if err != nil {
			if s != nil || !isCode(err, fault.Malformed) {
				t.Fatalf("%+v, %v", s, err)
			}
			return
		}
		if !bytes.Equal(s.encode(), payload) {
			t.Fatal("not the same bytes")
		}
	})
}

// A record that was sealed by another key, for another kind, or altered is
// refused, whatever bytes it has.
func FuzzRecord(f *testing.F) {
	plain, locked := coding{}, coding{testKey(f)}
	for _, c := range []coding{plain, locked} {
		record, err := c.sealRecord(manifestKind, exampleManifest(f))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(record)
		other, err := c.sealRecord(stateKind, []byte("x"))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(other)
	}
	f.Fuzz(func(t *testing.T, record []byte) {
		for _, c := range []coding{plain, locked} {
			payload, err := c.openRecord("r", manifestKind, record)
			if err != nil {
				if payload != nil || !isCode(err, fault.Malformed) {
					t.Fatalf("%v, %v", payload, err)
				}
				continue
			}
			if c.key == nil {
				if again, err := c.sealRecord(manifestKind, payload); err != nil || !bytes.Equal(again, record) {
					t.Fatalf("not the same bytes, %v", err)
				}
			}
		}
	})
}
