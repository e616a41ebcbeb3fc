package vault

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"flag"
	"io"
	"testing"
	"time"

	"pgregory.net/rapid"

	"limitans/fault"
)

// errBroken is a line that broke off.
var errBroken = errors.New("the line broke off")

// brokenReader gives data in pieces and then fails.
type brokenReader struct {
	data  []byte
	piece int
}

func (r *brokenReader) Read(p []byte) (int, error) {
	if len(r.data) == 0 {
		return 0, errBroken
	}
	n := copy(p, r.data[:min(r.piece, len(r.data))])
	r.data = r.data[n:]
	return n, nil
}

// However an upload is broken (the source fails, it is parked, the process
// ends), chunked and sized, what comes out is what went in, and it is stored
// once.
func TestAnUploadGoesOnFromAnyOffset(t *testing.T) {
	onAllPlaces(t, func(t *testing.T, p place) {
		address := p.fresh(t)
		v := p.open(t, address)
		contents := map[Hash]bool{}
		fewer(t, p.key)
		least := 1
		if p.key {
			least = 30
		}
		rapid.Check(t, func(rt *rapid.T) {
			v.chunkSize = rapid.IntRange(least, 100).Draw(rt, "chunk size")
			v.partSize = rapid.IntRange(1, 5).Draw(rt, "chunks a part")
			data := sample(rapid.Uint64Range(0, 60000).Draw(rt, "seed"), rapid.IntRange(0, 900).Draw(rt, "size"))
			u, err := v.BeginUpload(t.Context())
			if err != nil {
				rt.Fatal(err)
			}
			for step := rapid.IntRange(0, 5).Draw(rt, "breaks"); step > 0; step-- {
				end := rapid.IntRange(int(u.Offset()), len(data)).Draw(rt, "broken at")
				source := &brokenReader{data[u.Offset():end], rapid.IntRange(1, 300).Draw(rt, "piece")}
				if err := u.Append(t.Context(), source, nil); !errors.Is(err, errBroken) {
					rt.Fatalf("the break is lost: %v", err)
				}
				if u.Offset() != int64(end) {
					rt.Fatalf("offset %d after %d bytes", u.Offset(), end)
				}
				u = breakUpload(t, rt, v, u)
			}
			if err := u.Append(t.Context(), bytes.NewReader(data[u.Offset():]), nil); err != nil {
				rt.Fatal(err)
			}
			content, err := u.Finish(t.Context())
			if err != nil {
				rt.Fatal(err)
			}
			if content.Hash != sha256.Sum256(data) || content.Size != int64(len(data)) {
				rt.Fatalf("%+v is not the content of %d bytes", content, len(data))
			}
			if content.Known != contents[content.Hash] {
				rt.Fatalf("known: %v, stored before: %v", content.Known, contents[content.Hash])
			}
			contents[content.Hash] = true
			got, err := readAll(t.Context(), v, content.Hash)
			if err != nil || !bytes.Equal(got, data) {
				rt.Fatalf("%d bytes come out, %v", len(got), err)
			}
		})
		if len(contents) == 0 {
			t.Fatal("no content was stored")
		}
		if _, err := v.Sweep(t.Context(), func(Hash) (bool, error) { return false, nil }, farFuture); err != nil {
			t.Fatal(err)
		}
		if report := sound(t, v); report.Contents != len(contents) {
			t.Errorf("%d contents, want %d", report.Contents, len(contents))
		}
	})
}

// fewer asks rapid for fewer cases where each chunk costs a key agreement; the
// logic is that of the other places.
func fewer(t *testing.T, yes bool) {
	checks := flag.Lookup("rapid.checks")
	if !yes || checks == nil || checks.Value.String() != checks.DefValue {
		return
	}
	if err := checks.Value.Set("30"); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = checks.Value.Set(checks.DefValue) })
}

// breakUpload goes on in the same process, parks, or lets the process end.
func breakUpload(t *testing.T, rt *rapid.T, v *Vault, u *Upload) *Upload {
	before := u.Offset()
	switch rapid.SampledFrom([]string{"same", "park", "end"}).Draw(rt, "way") {
	case "same":
		return u
	case "park":
		if err := u.Park(t.Context()); err != nil {
			rt.Fatal(err)
		}
		resumed, err := v.ResumeUpload(t.Context(), u.ID())
		if err != nil {
			rt.Fatal(err)
		}
		if resumed.Offset() != before {
			rt.Fatalf("parked at %d, goes on at %d", before, resumed.Offset())
		}
		return resumed
	}
	u.release() // what the system does when a process ends
	resumed, err := v.ResumeUpload(t.Context(), u.ID())
	if isCode(err, fault.NotFound) { // no part was full yet
		if resumed, err = v.BeginUpload(t.Context()); err != nil {
			rt.Fatal(err)
		}
		return resumed
	}
	if err != nil {
		rt.Fatal(err)
	}
	if lost := before - resumed.Offset(); lost < 0 || lost > int64(v.chunkSize*v.partSize) {
		rt.Fatalf("a crash at %d goes on at %d: more than a part is lost", before, resumed.Offset())
	}
	return resumed
}

// failing is a backend whose call number fail fails before it does anything, or
// after (the answer is lost).
type failing struct {
	backend
	calls, fail int
	after       bool
}

var errFailing = &fault.Error{Code: fault.Internal, Where: "test", What: "the place fails"}

func (f *failing) now(call func() error) error {
	f.calls++
	if f.calls != f.fail {
		return call()
	}
	if f.after {
		if err := call(); err != nil {
			return err
		}
	}
	return errFailing
}

func (f *failing) put(ctx context.Context, name string, data []byte) error {
	return f.now(func() error { return f.backend.put(ctx, name, data) })
}

func (f *failing) putPart(ctx context.Context, id, token string, p part, data []byte) (receipt string, err error) {
	err = f.now(func() error { receipt, err = f.backend.putPart(ctx, id, token, p, data); return err })
	return receipt, err
}

func (f *failing) commit(ctx context.Context, id, token, name string, parts []part) (location string, err error) {
	err = f.now(func() error { location, err = f.backend.commit(ctx, id, token, name, parts); return err })
	return location, err
}

func (f *failing) store(ctx context.Context, id, name string, data []byte) (location string, err error) {
	err = f.now(func() error { location, err = f.backend.store(ctx, id, name, data); return err })
	return location, err
}

// Each writing call in turn fails, or succeeds without an answer: the content is
// not there until Finish says so, and the upload goes on, in the same process
// and after a restart.
func TestEveryCallMayFail(t *testing.T) {
	onAllPlaces(t, func(t *testing.T, p place) {
		for _, size := range []int{64, 193, 384} {
			for _, after := range []bool{false, true} {
				for _, restart := range []bool{false, true} {
					for fail, more := 1, true; more; fail++ {
						more = failOnce(t, p, size, fail, after, restart)
						if fail > 50 {
							t.Fatal("the test does not end")
						}
					}
				}
			}
		}
	})
}

// failOnce says whether the call that was to fail was reached.
func failOnce(t *testing.T, p place, size, fail int, after, restart bool) bool {
	t.Helper()
	v := failPlace(t, p)
	faulty := &failing{backend: v.backend, fail: fail, after: after}
	v.backend = faulty
	data := sample(uint64(size*1000+fail*10), size)
	data = append(data, byte(fail), b2i(after), b2i(restart)) // another content each time
	u, err := v.BeginUpload(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for tries := 0; ; tries++ {
		err := u.Append(t.Context(), bytes.NewReader(data[min(u.Offset(), int64(len(data))):]), nil)
		if u.closing {
			err = nil // all was taken before Finish failed
		}
		if err == nil {
			var content Content
			if content, err = u.Finish(t.Context()); err == nil {
				if content.Hash != sha256.Sum256(data) {
					t.Fatalf("size %d, call %d: another content", size, fail)
				}
				break
			}
		}
		if tries > 3 {
			t.Fatalf("size %d, call %d: %v", size, fail, err)
		}
		if !errors.Is(err, errFailing) {
			t.Fatalf("size %d, call %d: %v", size, fail, err)
		}
		if restart {
			u.release()
			resumed, err := v.ResumeUpload(t.Context(), u.ID())
			if isCode(err, fault.NotFound) {
				resumed, err = v.BeginUpload(t.Context())
			}
			if err != nil {
				t.Fatalf("size %d, call %d: %v", size, fail, err)
			}
			u = resumed
		}
	}
	v.backend = faulty.backend
	mustHold(t, v, data)
	return faulty.calls >= fail
}

// farFuture is later than every upload.
var farFuture = time.Date(2200, 1, 1, 0, 0, 0, 0, time.UTC)

func b2i(b bool) byte {
	if b {
		return 1
	}
	return 0
}

// failPlaces are opened once for each place; the contents differ.
var failPlaces = map[string]string{}

func failPlace(t *testing.T, p place) *Vault {
	t.Helper()
	name := t.Name()
	if failPlaces[name] == "" {
		failPlaces[name] = p.fresh(t)
	}
	return p.open(t, failPlaces[name])
}

func TestResumingWhatIsNotThereOrDamaged(t *testing.T) {
	onAllPlaces(t, func(t *testing.T, p place) {
		v := p.open(t, p.fresh(t))
		if _, err := v.ResumeUpload(t.Context(), "../../etc"); !isCode(err, fault.Invalid) {
			t.Errorf("a name that is none: %v", err)
		}
		if _, err := v.ResumeUpload(t.Context(), newID()); !isCode(err, fault.NotFound) {
			t.Errorf("an upload that never was: %v", err)
		}
		u, err := v.BeginUpload(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		data := sample(11, 1000)
		if err := u.Append(t.Context(), bytes.NewReader(data), nil); err != nil {
			t.Fatal(err)
		}
		if err := u.Park(t.Context()); err != nil {
			t.Fatal(err)
		}
		if err := u.Append(t.Context(), bytes.NewReader(data), nil); !isCode(err, fault.Invalid) {
			t.Errorf("a parked upload takes more: %v", err)
		}
		if _, err := u.Finish(t.Context()); !isCode(err, fault.Invalid) {
			t.Errorf("a parked upload is finished: %v", err)
		}
		tried := 0
		for name, stored := range raw(t, v) {
			if name == formatName || name == uploadFolder(u.ID())+"/lock" {
				continue
			}
			for i := 0; i < len(stored); i += 1 + len(stored)/60 {
				wrong := bytes.Clone(stored)
				wrong[i] ^= 0x10
				replace(t, v, name, wrong)
				if _, err := v.ResumeUpload(t.Context(), u.ID()); !isCode(err, fault.Malformed) {
					t.Fatalf("%s, byte %d: %v", name, i, err)
				}
				tried++
			}
			replace(t, v, name, stored)
		}
		if tried < 50 {
			t.Fatalf("only %d bytes were tried", tried)
		}
		resumed, err := v.ResumeUpload(t.Context(), u.ID())
		if err != nil {
			t.Fatal(err)
		}
		if err := resumed.Abort(t.Context()); err != nil {
			t.Fatal(err)
		}
		if _, err := v.ResumeUpload(t.Context(), u.ID()); !isCode(err, fault.NotFound) {
			t.Errorf("an aborted upload: %v", err)
		}
		if report := sound(t, v); report.Unfinished != 0 {
			t.Errorf("left after aborting: %+v", report)
		}
	})
}

// Two go on with the same upload: one is refused at once (folder) or at its end
// (object store), and no content is a mixture.
func TestTwoCannotGoOnWithOneUpload(t *testing.T) {
	onAllPlaces(t, func(t *testing.T, p place) {
		v := p.open(t, p.fresh(t))
		first, err := v.BeginUpload(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		one, two := sample(12, 700), sample(13, 700)
		copy(two, one[:200])
		if err := first.Append(t.Context(), bytes.NewReader(one[:200]), nil); err != nil {
			t.Fatal(err)
		}
		second, err := v.ResumeUpload(t.Context(), first.ID())
		if _, isLocal := v.backend.(*local); isLocal {
			if !isCode(err, fault.Conflict) {
				t.Fatalf("a second one in the folder: %v", err)
			}
			if swept, err := v.Sweep(t.Context(), nil, farFuture); err != nil || swept.Kept != 1 {
				t.Errorf("Sweep of an upload that goes on: %+v, %v", swept, err)
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		for u, data := range map[*Upload][]byte{first: one, second: two} {
			if err := u.Append(t.Context(), bytes.NewReader(data[u.Offset():]), nil); err != nil {
				t.Fatal(err)
			}
		}
		for u, data := range map[*Upload][]byte{first: one, second: two} {
			content, err := u.Finish(t.Context())
			if err == nil && content.Hash == sha256.Sum256(data) {
				mustHold(t, v, data)
			} else if !isCode(err, fault.Conflict) && !isCode(err, fault.NotFound) {
				t.Errorf("%+v, %v", content, err)
			}
		}
		for _, f := range mustVerify(t, v).Findings {
			t.Errorf("%+v", f)
		}
	})
}

func TestACompleteUploadTakesNoMore(t *testing.T) {
	onAllPlaces(t, func(t *testing.T, p place) {
		v := p.open(t, p.fresh(t))
		faulty := &failing{backend: v.backend, fail: 3} // the commit's manifest and all before may fail
		v.backend = faulty
		u, err := v.BeginUpload(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		data := sample(14, 250)
		if err := u.Append(t.Context(), bytes.NewReader(data), nil); err != nil {
			t.Fatal(err)
		}
		if _, err := u.Finish(t.Context()); !errors.Is(err, errFailing) {
			t.Fatalf("Finish: %v", err)
		}
		if err := u.Append(t.Context(), bytes.NewReader(data), nil); !isCode(err, fault.Invalid) {
			t.Errorf("Append after Finish: %v", err)
		}
		if err := u.Park(t.Context()); err != nil {
			t.Fatal(err)
		}
		resumed, err := v.ResumeUpload(t.Context(), u.ID())
		if err != nil {
			t.Fatal(err)
		}
		if err := resumed.Append(t.Context(), io.LimitReader(nil, 0), nil); !isCode(err, fault.Invalid) {
			t.Errorf("Append after resuming: %v", err)
		}
		if _, err := resumed.Finish(t.Context()); err != nil {
			t.Fatal(err)
		}
		mustHold(t, v, data)
		sound(t, v)
	})
}
