package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"
)

// brokenInput is one bad input of the verb measure. make writes it into a
// folder and returns the path that the user would name.
type brokenInput struct {
	name  string
	make  func(t *testing.T, folder string) string
	flags []string
	code  int
	says  string
}

// mostKilobytes and mostMegabytes: an input of at most the first takes less
// than the second in all, over the whole run, whatever sizes it announces.
const (
	mostKilobytes = 100
	mostMegabytes = 256
)

var testNow = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

// runCommand runs the command in this process and returns what it said.
func runCommand(arguments ...string) (code int, stdout, stderr string) {
	var o, e bytes.Buffer
	code = run(&console{Context: context.Background(), Stdout: &o, Stderr: &e, Now: func() time.Time { return testNow }}, arguments)
	return code, o.String(), e.String()
}

func brokenFile(name string, data []byte) func(*testing.T, string) string {
	return func(t *testing.T, folder string) string {
		t.Helper()
		path := filepath.Join(folder, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
}

// member is one file of a folder or zip.
type member struct {
	name string
	data []byte
}

func brokenFolder(members ...member) func(*testing.T, string) string {
	return func(t *testing.T, folder string) string {
		t.Helper()
		for _, m := range members {
			brokenFile(m.name, m.data)(t, folder)
		}
		return folder
	}
}

// TestBrokenInputs runs the real command over broken scans: one clear line on
// stderr, nothing on stdout, the right exit code, nothing written, no panic,
// and memory bounded by what came in.
func TestBrokenInputs(t *testing.T) {
	var all []brokenInput
	all = append(all, brokenDICOM(t)...)
	all = append(all, brokenPictures(t)...)
	all = append(all, brokenTIFF()...)
	all = append(all, brokenFolders(t)...)
	all = append(all, brokenZips(t)...)
	all = append(all, brokenFlags(t)...)
	names := map[string]bool{}
	for _, c := range all {
		names[c.name] = true
	}
	if len(names) < 50 || len(names) != len(all) {
		t.Fatalf("%d kinds with %d names", len(all), len(names))
	}
	for _, c := range all {
		t.Run(c.name, func(t *testing.T) { tryBroken(t, c) })
	}
}

func tryBroken(t *testing.T, c brokenInput) {
	path := c.make(t, t.TempDir())
	figures := filepath.Join(t.TempDir(), "figures")
	arguments := append([]string{"measure", path, "--figures", figures}, c.flags...)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	code, stdout, stderr := runCommand(arguments...)
	runtime.ReadMemStats(&after)
	if code != c.code {
		t.Errorf("exit code %d, want %d", code, c.code)
	}
	if stdout != "" {
		t.Errorf("stdout: %q", stdout)
	}
	if why := notOneLine(stderr); why != "" {
		t.Error(why)
	}
	if c.says == "" || !strings.Contains(stderr, c.says) {
		t.Errorf("%q is not in %q", c.says, stderr)
	}
	if _, err := os.Lstat(figures); err == nil {
		t.Error("a folder of figures was left behind")
	}
	if bytesIn := inputSize(t, path); bytesIn > mostKilobytes<<10 {
		t.Errorf("the input has %d bytes; make it smaller so that its memory is bounded", bytesIn)
	}
	if taken := after.TotalAlloc - before.TotalAlloc; taken > mostMegabytes<<20 {
		t.Errorf("%d MiB were allocated", taken>>20)
	}
}

// TestOddInputs: what can be read although something is odd about it is
// measured, and the result says what is odd.
func TestOddInputs(t *testing.T) {
	for _, c := range oddDICOM(t) {
		t.Run(c.name, func(t *testing.T) {
			code, stdout, stderr := runCommand("measure", c.make(t, t.TempDir()))
			if code != exitDone || stderr != "" || !strings.Contains(strings.Join(strings.Fields(stdout), " "), c.says) {
				t.Errorf("exit code %d, %q is not in %s%s", code, c.says, stdout, stderr)
			}
		})
	}
}

// inputSize is the number of bytes in a file or folder; 0 where there is none.
func inputSize(t *testing.T, path string) (total int64) {
	t.Helper()
	_ = filepath.Walk(path, func(_ string, info os.FileInfo, err error) error {
		if err == nil && info.Mode().IsRegular() {
			total += info.Size()
		}
		return nil
	})
	return total
}
