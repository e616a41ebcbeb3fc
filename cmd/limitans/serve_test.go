package main

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"limitans/fault"
)

// spoken is output that one goroutine writes and another reads.
type spoken struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (s *spoken) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(p)
}

func (s *spoken) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.String()
}

// served is a command that serves pages.
type served struct {
	t         *testing.T
	out, errs spoken
	stop      context.CancelFunc
	code      chan int
}

// startServing runs a command until end is called.
func startServing(t *testing.T, arguments ...string) *served {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	s := &served{t: t, stop: cancel, code: make(chan int, 1)}
	t.Cleanup(cancel)
	go func() {
		s.code <- run(&console{Context: ctx, Stdin: strings.NewReader(""), Stdout: &s.out, Stderr: &s.errs, Now: time.Now}, arguments)
	}()
	return s
}

var pageAddress = regexp.MustCompile(`http://127\.0\.0\.1:\d+/`)

// address waits for the line that says where.
func (s *served) address() string {
	s.t.Helper()
	for range 6000 { // a minute; inventing a clinic takes a moment
		if at := pageAddress.FindString(s.out.String()); at != "" {
			return at
		}
		select {
		case code := <-s.code:
			s.t.Fatalf("it ended with %d: %s", code, s.errs.String())
		case <-time.After(10 * time.Millisecond):
		}
	}
	s.t.Fatalf("no address: %s %s", s.out.String(), s.errs.String())
	return ""
}

// get fetches a page over a connection of its own.
func (s *served) get(path string) (int, string) {
	s.t.Helper()
	transport := &http.Transport{DisableKeepAlives: true}
	got, err := (&http.Client{Transport: transport}).Get(s.address() + path)
	if err != nil {
		s.t.Fatal(err)
	}
	defer got.Body.Close()
	body, err := io.ReadAll(got.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	return got.StatusCode, string(body)
}

// end interrupts the command and returns its exit code.
func (s *served) end() int {
	s.t.Helper()
	s.stop()
	return <-s.code
}

// TestServeAndStop: a clinic is served from port 0, answers, and an interrupt ends
// it with nothing left running.
func TestServeAndStop(t *testing.T) {
	before := goleak.IgnoreCurrent()
	folder := filepath.Join(t.TempDir(), "clinic")
	if code, _, stderr := runCommand("clinic", "--data", folder, "--patients", "3", "--drawn", "0"); code != exitDone {
		t.Fatal(stderr)
	}
	s := startServing(t, "serve", "--data", folder, "--address", "127.0.0.1:0")
	if status, body := s.get("sign-in"); status != http.StatusOK || !strings.Contains(body, "Sign in") {
		t.Errorf("%d %s", status, body)
	}
	if status, body := s.get("api/1/health"); status != http.StatusOK || !strings.Contains(body, `"ok"`) {
		t.Errorf("%d %s", status, body)
	}
	if code := s.end(); code != exitDone || !strings.Contains(s.out.String(), "Stopped.") {
		t.Errorf("ended with %d: %s %s", code, s.out.String(), s.errs.String())
	}
	// The key of the pseudonyms is this user's alone and stays.
	file := filepath.Join(folder, viewKeyName)
	info, err := os.Stat(file)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Fatalf("%v %v", info, err)
	}
	first, err := viewKeySort.read(file)
	if again, other := viewKeySort.read(file); err != nil || other != nil || !bytes.Equal(first, again) {
		t.Errorf("%v, then %v: %v %v", first, again, err, other)
	}
	if err := goleak.Find(before); err != nil {
		t.Error(err)
	}
}

// TestDemoLeavesNothing: the demonstration's folder is gone afterwards.
func TestDemoLeavesNothing(t *testing.T) {
	before := goleak.IgnoreCurrent()
	temporary := t.TempDir()
	t.Setenv("TMPDIR", temporary)
	s := startServing(t, "demo", "--patients", "3", "--drawn", "0")
	if status, body := s.get("sign-in"); status != http.StatusOK || !strings.Contains(body, "invented") {
		t.Errorf("%d %s", status, body)
	}
	if code := s.end(); code != exitDone {
		t.Errorf("ended with %d: %s", code, s.errs.String())
	}
	left, err := os.ReadDir(temporary)
	if err != nil || len(left) > 0 {
		t.Errorf("%v is left: %v", left, err)
	}
	if err := goleak.Find(before); err != nil {
		t.Error(err)
	}
}

// TestAddressesThatAreRefused: passphrases never go over a line as they are.
func TestAddressesThatAreRefused(t *testing.T) {
	for _, c := range []struct {
		how     serving
		allowed bool
	}{
		{serving{address: "127.0.0.1:0"}, true},
		{serving{address: "[::1]:0"}, true},
		{serving{address: "localhost:0"}, true},
		{serving{address: "0.0.0.0:0", secure: true}, true},
		{serving{address: "0.0.0.0:0"}, false},
		{serving{address: ":0"}, false},
		{serving{address: "[::]:0"}, false},
		{serving{address: "clinic.example:0"}, false},
		{serving{address: "127.0.0.1"}, false},
	} {
		listener, err := listen(c.how)
		if err == nil {
			listener.Close()
		}
		if refused := fault.CodeOf(err) == fault.Invalid; refused == c.allowed {
			t.Errorf("%+v: %v", c.how, err)
		}
	}
	folder := filepath.Join(t.TempDir(), "clinic")
	if code, _, stderr := runCommand("clinic", "--data", folder, "--patients", "1", "--drawn", "0"); code != exitDone {
		t.Fatal(stderr)
	}
	if code, _, stderr := runCommand("serve", "--data", folder, "--address", "0.0.0.0:0"); code != exitWrongUse || !strings.Contains(stderr, "--secure") {
		t.Errorf("ended with %d: %s", code, stderr)
	}
	if err := os.WriteFile(filepath.Join(folder, "other.key"), []byte("short"), 0o600); err != nil {
		t.Fatal(err)
	}
	if code, _, stderr := runCommand("serve", "--data", folder, "--address", "127.0.0.1:0", "--view-key", filepath.Join(folder, "other.key")); code != exitCannotMeasure || !strings.Contains(stderr, "not the key of the pseudonyms") {
		t.Errorf("ended with %d: %s", code, stderr)
	}
}
