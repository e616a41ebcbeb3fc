package vault

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"limitans/fault"
)

// sizes around every border: chunk 64, part 3 × 64.
var sizes = []int{0, 1, 63, 64, 65, 127, 128, 191, 192, 193, 256, 384, 385, 1000}

func TestWhatGoesInComesOut(t *testing.T) {
	onAllPlaces(t, func(t *testing.T, p place) {
		address := p.fresh(t)
		v := p.open(t, address)
		want := map[Hash]int64{}
		for _, size := range sizes {
			data := sample(uint64(size), size)
			content := mustPut(t, v, data)
			if content.Known {
				t.Errorf("%d bytes are new and called known", size)
			}
			want[content.Hash] = int64(size)
			mustHold(t, v, data)
		}
		again := p.open(t, address) // and after a restart
		for _, size := range sizes {
			data := sample(uint64(size), size)
			mustHold(t, again, data)
			if has, err := again.Has(t.Context(), sha256.Sum256(data)); !has || err != nil {
				t.Errorf("Has: %v, %v", has, err)
			}
		}
		walked := map[Hash]int64{}
		if err := again.Walk(t.Context(), func(c Content) error { walked[c.Hash] = c.Size; return nil }); err != nil {
			t.Fatal(err)
		}
		if len(walked) != len(want) {
			t.Errorf("Walk finds %d contents of %d", len(walked), len(want))
		}
		for h, size := range want {
			if walked[h] != size {
				t.Errorf("Walk says %d bytes for %v, want %d", walked[h], h, size)
			}
		}
		report := sound(t, again)
		if report.Contents != len(sizes) || report.Unfinished != 0 {
			t.Errorf("Verify: %+v", report)
		}
	})
}

// FIPS 180-4 example: the SHA-256 of "abc" (NIST, example values; also RFC 6234).
func TestHashIsThatOfTheStandard(t *testing.T) {
	onAllPlaces(t, func(t *testing.T, p place) {
		v := p.open(t, p.fresh(t))
		const want = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
		if got := mustPut(t, v, []byte("abc")).Hash.String(); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	})
}

func TestTheSameContentIsStoredOnce(t *testing.T) {
	onAllPlaces(t, func(t *testing.T, p place) {
		v := p.open(t, p.fresh(t))
		for _, size := range sizes {
			data := sample(9, size)
			mustPut(t, v, data)
			before := raw(t, v)
			if content := mustPut(t, v, data); !content.Known {
				t.Errorf("%d bytes: stored a second time", size)
			}
			after := raw(t, v)
			if len(before) != len(after) {
				t.Errorf("%d bytes: %d objects became %d", size, len(before), len(after))
			}
			for name, stored := range before {
				if !bytes.Equal(stored, after[name]) {
					t.Errorf("%s changed", name)
				}
			}
		}
	})
}

func TestSourcesOfEveryTemper(t *testing.T) {
	onAllPlaces(t, func(t *testing.T, p place) {
		data := sample(5, 777)
		for name, source := range map[string]io.Reader{
			"one byte at a time": iotest.OneByteReader(bytes.NewReader(data)),
			"half":               iotest.HalfReader(bytes.NewReader(data)),
			"error with data":    iotest.DataErrReader(bytes.NewReader(data)),
		} {
			v := p.open(t, p.fresh(t))
			last := int64(0)
			content, err := v.Put(t.Context(), source, func(n int64) {
				if n < last {
					t.Errorf("%s: progress goes back from %d to %d", name, last, n)
				}
				last = n
			})
			if err != nil || content.Hash != Hash(sha256.Sum256(data)) || last != int64(len(data)) {
				t.Errorf("%s: %v, %v, progress ended at %d", name, content, err, last)
			}
		}
		v := p.open(t, p.fresh(t))
		_, err := v.Put(t.Context(), iotest.TimeoutReader(bytes.NewReader(data)), nil)
		if !errors.Is(err, iotest.ErrTimeout) {
			t.Errorf("the source's error is lost: %v", err)
		}
		if _, err = v.Put(t.Context(), emptyReads{}, nil); !errors.Is(err, io.ErrNoProgress) {
			t.Errorf("a source that gives nothing: %v", err)
		}
		if report := sound(t, v); report.Contents != 0 || report.Unfinished != 0 {
			t.Errorf("a failed Put leaves %+v", report)
		}
	})
}

type emptyReads struct{}

func (emptyReads) Read([]byte) (int, error) { return 0, nil }

func TestCancelling(t *testing.T) {
	onAllPlaces(t, func(t *testing.T, p place) {
		v := p.open(t, p.fresh(t))
		mustPut(t, v, sample(1, 500))
		before := raw(t, v)
		ctx, cancel := context.WithCancel(t.Context())
		_, err := v.Put(ctx, bytes.NewReader(sample(2, 5000)), func(n int64) {
			if n >= 1000 {
				cancel()
			}
		})
		if !errors.Is(err, context.Canceled) && !strings.Contains(err.Error(), "cancelled") {
			t.Errorf("Put: %v", err)
		}
		if after := raw(t, v); len(after) != len(before) {
			t.Errorf("%d objects before, %d after a cancelled Put", len(before), len(after))
		}
		if _, err := v.Verify(ctx, nil); !isStopped(err) {
			t.Errorf("Verify: %v", err)
		}
		if _, err := readAll(ctx, v, sha256.Sum256(sample(1, 500))); !isStopped(err) {
			t.Errorf("Get: %v", err)
		}
	})
}

func TestRangesAreReadAndVerified(t *testing.T) {
	onAllPlaces(t, func(t *testing.T, p place) {
		v := p.open(t, p.fresh(t))
		data := sample(3, 1000)
		content := mustPut(t, v, data)
		r, err := v.Get(t.Context(), content.Hash)
		if err != nil {
			t.Fatal(err)
		}
		if r.Size() != 1000 {
			t.Errorf("size %d", r.Size())
		}
		for _, at := range []int64{999, 0, 63, 64, 65, 500, 128, 1000, 2000} {
			if _, err := r.Seek(at, io.SeekStart); err != nil {
				t.Fatal(err)
			}
			got, err := io.ReadAll(io.LimitReader(r, 100))
			want := data[min(at, 1000):min(at+100, 1000)]
			if err != nil || !bytes.Equal(got, want) {
				t.Errorf("at %d: %d bytes, %v; want %d", at, len(got), err, len(want))
			}
		}
		if err := r.Close(); err != nil {
			t.Error(err)
		}
		if _, err := r.Read(make([]byte, 1)); err == nil {
			t.Error("reads after Close")
		}
		// The standard library's own test of a reader that seeks.
		r, err = v.Get(t.Context(), content.Hash)
		if err != nil {
			t.Fatal(err)
		}
		defer r.Close()
		if err := iotest.TestReader(r, data); err != nil {
			t.Error(err)
		}
	})
}

// Every byte of every stored object, flipped: reading fails and gives no wrong
// byte, Verify names it, and storing the file again mends it.
func TestAFlippedByteIsFound(t *testing.T) {
	onAllPlaces(t, func(t *testing.T, p place) {
		v := p.open(t, p.fresh(t))
		data := sample(4, 200) // four chunks in two parts
		content := mustPut(t, v, data)
		objects := raw(t, v)
		tried := 0
		for name, stored := range objects {
			if name == formatName {
				continue
			}
			step := 1
			if len(stored) > 300 {
				step = 5 // age's own header and seals in between; 5 and 8 bits share no divisor
			}
			for i := 0; i < len(stored); i += step {
				wrong := bytes.Clone(stored)
				wrong[i] ^= 1 << (i % 8)
				replace(t, v, name, wrong)
				got, err := readAll(t.Context(), v, content.Hash)
				if !isCode(err, fault.Malformed) || !bytes.HasPrefix(data, got) {
					t.Fatalf("%s, byte %d: read %d bytes, %v", name, i, len(got), err)
				}
				report := mustVerify(t, v)
				if len(report.Findings) == 0 || report.Findings[0].Kind != Damaged || report.Contents != 0 {
					t.Fatalf("%s, byte %d: Verify finds %+v", name, i, report)
				}
				tried++
			}
			if again := mustPut(t, v, data); again.Known {
				t.Errorf("%s is damaged and called known", name)
			}
			mustHold(t, v, data)
			for _, f := range mustVerify(t, v).Findings {
				if f.Kind != Unknown { // an object store keeps the damaged bytes beside the new
					t.Errorf("after mending: %+v", f)
				}
			}
			// The next object is tried from the first state again.
			for name, stored := range objects {
				replace(t, v, name, stored)
			}
		}
		if tried < 200/7 {
			t.Fatalf("only %d bytes were tried", tried)
		}
	})
}

// Whoever can write to the place but has no key cannot make a false content that
// a ranged read believes; without a key it takes reading the whole.
func TestAConsistentForgery(t *testing.T) {
	onAllPlaces(t, func(t *testing.T, p place) {
		v := p.open(t, p.fresh(t))
		data, other := sample(6, 128), sample(7, 128)
		content := mustPut(t, v, data)
		false_ := mustPut(t, v, other)
		// The forger has the same place and recipient, but not the key's seals.
		forger := &Vault{backend: v.backend, coding: v.coding}
		if p.key {
			forger.coding.key = &Key{identity: v.coding.key.identity, names: v.coding.key.names, seals: make([]byte, 32)}
		}
		m, err := v.manifestOf(t.Context(), false_.Hash)
		if err != nil {
			t.Fatal(err)
		}
		m.hash = content.Hash
		record, err := forger.coding.sealRecord(manifestKind, m.encode())
		if err != nil {
			t.Fatal(err)
		}
		if err := v.backend.put(t.Context(), manifestPath(v.coding.name(content.Hash)), record); err != nil {
			t.Fatal(err)
		}
		if _, err := readAll(t.Context(), v, content.Hash); !isCode(err, fault.Malformed) {
			t.Errorf("the forgery is read: %v", err)
		}
		report := mustVerify(t, v)
		if len(report.Findings) == 0 || report.Findings[0].Kind != Damaged {
			t.Errorf("Verify finds %+v", report.Findings)
		}
	})
}

func TestMissingAndUnknownAreNamed(t *testing.T) {
	onAllPlaces(t, func(t *testing.T, p place) {
		v := p.open(t, p.fresh(t))
		data := sample(8, 300)
		content := mustPut(t, v, data)
		m, err := v.manifestOf(t.Context(), content.Hash)
		if err != nil {
			t.Fatal(err)
		}
		kept := raw(t, v)[m.location]
		remove(t, v, m.location)
		if _, err := v.Get(t.Context(), content.Hash); !isCode(err, fault.Malformed) {
			t.Errorf("Get: %v", err)
		}
		if _, err := v.Has(t.Context(), content.Hash); !isCode(err, fault.Malformed) {
			t.Errorf("Has: %v", err)
		}
		report := mustVerify(t, v)
		if len(report.Findings) != 1 || report.Findings[0].Kind != Missing || report.Findings[0].Hash != content.Hash {
			t.Errorf("bytes gone: %+v", report)
		}
		replace(t, v, m.location, kept)
		sound(t, v)

		remove(t, v, manifestPath(v.coding.name(content.Hash)))
		if has, err := v.Has(t.Context(), content.Hash); has || err != nil {
			t.Errorf("without its manifest: %v, %v", has, err)
		}
		report = mustVerify(t, v)
		if len(report.Findings) != 1 || report.Findings[0].Kind != Unknown {
			t.Errorf("manifest gone: %+v", report)
		}
		mustPut(t, v, data)
		mustHold(t, v, data)

		for _, name := range []string{"holiday.txt", "content/zz/readme", "manifest/ab/ab", "uploads/mine/too"} {
			replace(t, v, name, []byte("x"))
			found := false
			for _, f := range mustVerify(t, v).Findings {
				found = found || f.Kind == Unknown && f.Where == v.backend.where(name)
			}
			if !found {
				t.Errorf("%s is not named", name)
			}
		}
		if has, err := v.Has(t.Context(), Hash{1}); has || err != nil {
			t.Errorf("a content that never was: %v, %v", has, err)
		}
		if _, err := v.Get(t.Context(), Hash{1}); !isCode(err, fault.NotFound) {
			t.Errorf("a content that never was: %v", err)
		}
	})
}

func TestSweepRemovesUnfinishedUploadsOnly(t *testing.T) {
	onAllPlaces(t, func(t *testing.T, p place) {
		v := p.open(t, p.fresh(t))
		var all [][]byte
		for _, size := range sizes {
			all = append(all, sample(uint64(100+size), size))
			mustPut(t, v, all[len(all)-1])
		}
		begin := func(n int) *Upload {
			u, err := v.BeginUpload(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			if err := u.Append(t.Context(), bytes.NewReader(sample(55, n)), nil); err != nil {
				t.Fatal(err)
			}
			return u
		}
		parked := begin(1000)
		if err := parked.Park(t.Context()); err != nil {
			t.Fatal(err)
		}
		nobody := func(Hash) (bool, error) { return false, nil }
		long := time.Now().Add(48 * time.Hour) // everything is older than that
		swept, err := v.Sweep(t.Context(), nobody, time.Now().Add(-48*time.Hour))
		if err != nil || swept != (Swept{Kept: 1}) {
			t.Errorf("young ones: %+v, %v", swept, err)
		}
		// All bytes are there, the record has its hash, the commit is missing.
		complete := begin(999)
		complete.closing = true
		if err := complete.sealChunk(); err != nil {
			t.Fatal(err)
		}
		if err := complete.Park(t.Context()); err != nil {
			t.Fatal(err)
		}
		h := Hash(sha256.Sum256(sample(55, 999)))
		swept, err = v.Sweep(t.Context(), func(asked Hash) (bool, error) { return asked == h, nil }, long)
		if err != nil || swept != (Swept{Removed: 1, Kept: 1}) {
			t.Errorf("referenced: %+v, %v", swept, err)
		}
		resumed, err := v.ResumeUpload(t.Context(), complete.ID())
		if err != nil {
			t.Fatal(err)
		}
		if content, err := resumed.Finish(t.Context()); err != nil || content.Hash != h {
			t.Fatalf("the kept one: %v, %v", content, err)
		}
		stop := errors.New("the record is out of reach")
		again := begin(1001)
		if err := again.Park(t.Context()); err != nil {
			t.Fatal(err)
		}
		if swept, err = v.Sweep(t.Context(), func(Hash) (bool, error) { return false, stop }, long); err != nil || swept.Removed != 1 {
			t.Errorf("an upload without a hash needs no answer: %+v, %v", swept, err)
		}
		if _, err := v.ResumeUpload(t.Context(), again.ID()); !isCode(err, fault.NotFound) {
			t.Errorf("a swept upload: %v", err)
		}
		for _, data := range all {
			mustHold(t, v, data)
		}
		if report := sound(t, v); report.Contents != len(all)+1 || report.Unfinished != 0 {
			t.Errorf("after sweeping: %+v", report)
		}
	})
}
