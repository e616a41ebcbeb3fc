package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"limitans/internal/pgtest"
)

// scriptDamage flips one bit in the middle of every file below a folder.
func scriptDamage(ts *testscript.TestScript, negated bool, arguments []string) {
	if negated || len(arguments) != 1 {
		ts.Fatalf("usage: damage FOLDER")
	}
	files, err := filepath.Glob(filepath.Join(ts.MkAbs(arguments[0]), "*", "*"))
	ts.Check(err)
	if len(files) == 0 {
		ts.Fatalf("no files to damage")
	}
	for _, name := range files {
		content, err := os.ReadFile(name)
		ts.Check(err)
		content[len(content)/2] ^= 1
		ts.Check(os.Chmod(name, 0o600))
		ts.Check(os.WriteFile(name, content, 0o600))
	}
}

// stopper ends a context at the first thing that is printed.
type stopper struct {
	bytes.Buffer
	stop func()
}

// Write keeps what is printed.
func (s *stopper) Write(p []byte) (int, error) {
	s.stop()
	return s.Buffer.Write(p)
}

// TestWorkerStopsGracefully: an interrupt is the usual end of a worker.
func TestWorkerStopsGracefully(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "record")
	said := typed(t, "clinic", "--data", folder, "--patients", "1", "--drawn", "0")
	if !strings.Contains(said, "1 patients") {
		t.Fatal(said)
	}
	ctx, stop := context.WithCancel(t.Context())
	out := &stopper{stop: stop}
	var wrong bytes.Buffer
	code := run(&console{Context: ctx, Stdout: out, Stderr: &wrong, Now: time.Now}, []string{"worker", "--data", folder})
	if code != exitDone || wrong.Len() > 0 || !strings.HasSuffix(out.String(), "Stopped.\n") {
		t.Errorf("exit code %d, %q, %q", code, out.String(), wrong.String())
	}
}

// typed runs a command that must succeed and returns what it prints.
func typed(t *testing.T, arguments ...string) string {
	t.Helper()
	var out, wrong bytes.Buffer
	if code := run(&console{Context: t.Context(), Stdout: &out, Stderr: &wrong, Now: time.Now}, arguments); code != exitDone {
		t.Fatalf("%q: exit code %d, %s", arguments, code, wrong.String())
	}
	return out.String()
}

// TestWorkersShare: two workers on one PostgreSQL measure what is waiting, each
// scan once.
func TestWorkersShare(t *testing.T) {
	place := []string{"--database", pgtest.Database(t), "--files", filepath.Join(t.TempDir(), "files")}
	at := func(arguments ...string) []string { return append(arguments, place...) }
	typed(t, at("clinic", "--patients", "3", "--drawn", "0")...)
	for i, name := range []string{"NORMAL-1384-3", "DRUSEN-95633-4", "CNV-81630-43"} {
		number := []string{"0001000", "0001007", "0001014"}[i]
		said := typed(t, at("keep", filepath.Join("..", "..", "testdata", "kermany-oct", name+".jpeg"),
			"--number", number, "--side", "left", "--taken", "2024-02-01", "--scale", "3.87,11.5")...)
		if !strings.Contains(said, "measured by job") {
			t.Fatal(said)
		}
	}
	var group sync.WaitGroup
	said := make([]string, 2)
	for i := range said {
		group.Go(func() { said[i] = typed(t, at("worker", "--until-idle")...) })
	}
	group.Wait()
	if n := strings.Count(strings.Join(said, ""), " measured\n"); n != 3 {
		t.Errorf("%d scans measured: %q", n, said)
	}
	if list := typed(t, at("jobs", "--state", "done")...); strings.Count(list, "100 %") != 3 {
		t.Error(list)
	}
	if proof := typed(t, at("verify")...); !strings.Contains(proof, "Nothing was altered.") {
		t.Error(proof)
	}
}
