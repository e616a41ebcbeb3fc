package vault

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http/httptest"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"filippo.io/age"
	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
)

// Small units, so that a few hundred bytes have chunks and parts.
const (
	testChunk = 64
	testPart  = 3
)

// place is one way to keep a vault; every test of the suite runs on all.
type place struct {
	name string
	key  bool
	// fresh returns an address where nothing is.
	fresh func(t testing.TB) string
}

var places = []place{
	{"folder", false, folderAddress},
	{"encrypted folder", true, folderAddress},
	{"object store", false, storeAddress},
	{"encrypted object store", true, storeAddress},
}

func folderAddress(t testing.TB) string { return filepath.Join(t.TempDir(), "vault") }

var (
	storeOnce   sync.Once
	storeServer *httptest.Server
	storeCount  int
	storeMutex  sync.Mutex
)

// storeAddress gives a new prefix in a bucket of gofakes3, a server of the S3
// protocol that somebody else wrote, in this process on loopback.
func storeAddress(t testing.TB) string {
	t.Helper()
	storeOnce.Do(func() {
		backend := s3mem.New()
		if err := backend.CreateBucket("scans"); err != nil {
			t.Fatal(err)
		}
		storeServer = httptest.NewServer(gofakes3.New(backend, gofakes3.WithTimeSkewLimit(0)).Server())
	})
	storeMutex.Lock()
	defer storeMutex.Unlock()
	storeCount++
	return fmt.Sprintf("s3://scans/unit/%d?endpoint=%s&region=north-1", storeCount, storeServer.URL)
}

const (
	testKeyName = "KEYNAMEOFTHEUNIT"
	testSecret  = "verysecretthing+of/the=unit"
)

func testEnvironment(name string) string {
	return map[string]string{s3KeyVariable: testKeyName, s3SecretVariable: testSecret}[name]
}

// madeKey is made once; it is as good as one from a key file.
var madeKey = sync.OnceValues(func() (*Key, error) {
	identity, err := age.GenerateX25519Identity()
	if err != nil {
		return nil, err
	}
	return newKey(identity)
})

func testKey(t testing.TB) *Key {
	t.Helper()
	key, err := madeKey()
	if err != nil {
		t.Fatal(err)
	}
	return key
}

func (p place) options(t testing.TB) Options {
	t.Helper()
	options := Options{Getenv: testEnvironment}
	if p.key {
		options.Key = testKey(t)
	}
	return options
}

// open opens a vault with small chunks.
func (p place) open(t testing.TB, address string) *Vault {
	t.Helper()
	v, err := Open(t.Context(), address, p.options(t))
	if err != nil {
		t.Fatal(err)
	}
	v.chunkSize, v.partSize = testChunk, testPart
	if l, isLocal := v.backend.(*local); isLocal {
		l.flush = func(*os.File) error { return nil } // local_test.go looks at that
	}
	return v
}

func onAllPlaces(t *testing.T, test func(t *testing.T, p place)) {
	if len(places) == 0 {
		t.Fatal("no place to test")
	}
	for _, p := range places {
		t.Run(p.name, func(t *testing.T) { test(t, p) })
	}
}

// sample makes n bytes that differ by seed and do not repeat.
func sample(seed uint64, n int) []byte {
	data := make([]byte, n)
	source := rand.NewChaCha8([32]byte{byte(seed), byte(seed >> 8), byte(seed >> 16)})
	_, _ = source.Read(data)
	return data
}

func mustPut(t testing.TB, v *Vault, data []byte) Content {
	t.Helper()
	content, err := v.Put(t.Context(), bytes.NewReader(data), nil)
	if err != nil {
		t.Fatal(err)
	}
	// The second route to the hash: the standard library over the whole.
	if want := Hash(sha256.Sum256(data)); content.Hash != want || content.Size != int64(len(data)) {
		t.Fatalf("put returns %v, %d bytes; SHA-256 of the whole is %v, %d bytes", content.Hash, content.Size, want, len(data))
	}
	return content
}

func readAll(ctx context.Context, v *Vault, h Hash) ([]byte, error) {
	r, err := v.Get(ctx, h)
	if err != nil {
		return nil, err
	}
	data, err := io.ReadAll(r)
	return data, errors.Join(err, r.Close())
}

func mustHash(data []byte) Hash { return sha256.Sum256(data) }

func mustHold(t testing.TB, v *Vault, data []byte) {
	t.Helper()
	got, err := readAll(t.Context(), v, sha256.Sum256(data))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, data) {
		t.Fatal("other bytes come out than went in")
	}
}

// raw returns all objects of a vault as they are stored.
func raw(t testing.TB, v *Vault) map[string][]byte {
	t.Helper()
	objects := map[string][]byte{}
	err := v.backend.list(t.Context(), "", func(name string, _ int64) error {
		data, err := v.backend.get(t.Context(), name, 1<<30)
		objects[name] = data
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return objects
}

func mustVerify(t testing.TB, v *Vault) Report {
	t.Helper()
	report, err := v.Verify(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	return report
}

// sound fails unless Verify finds nothing wrong.
func sound(t testing.TB, v *Vault) Report {
	t.Helper()
	report := mustVerify(t, v)
	for _, f := range report.Findings {
		t.Errorf("%s at %s: %v", f.Kind, f.Where, f.Fault)
	}
	return report
}
