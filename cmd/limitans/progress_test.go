package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"limitans/fault"
)

// clocked is a console whose clock the test sets.
func clocked(interactive bool) (out *console, stderr *bytes.Buffer, forward func(time.Duration)) {
	now := testNow
	stderr = &bytes.Buffer{}
	out = &console{
		Context: context.Background(), Stdout: io.Discard, Stderr: stderr,
		Now: func() time.Time { return now }, Interactive: interactive,
	}
	return out, stderr, func(d time.Duration) { now = now.Add(d) }
}

var percents = regexp.MustCompile(`(\d+) %`)

// shown returns the percentages of a progress line in order.
func shown(t *testing.T, text string) (out []int) {
	t.Helper()
	for _, m := range percents.FindAllStringSubmatch(text, -1) {
		n, err := strconv.Atoi(m[1])
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, n)
	}
	return out
}

func TestProgressIsSilentAtFirst(t *testing.T) {
	for _, interactive := range []bool{false, true} {
		out, stderr, forward := clocked(interactive)
		p := newProgress(out, "measuring")
		forward(time.Second - time.Nanosecond)
		for i := range 101 {
			p.update(i, 100)
		}
		p.finish()
		if stderr.Len() != 0 {
			t.Errorf("interactive %v: %q within the first second", interactive, stderr)
		}
		p = newProgress(out, "measuring")
		forward(time.Minute)
		p.update(0, 0)
		p.update(3, -1)
		p.finish()
		if stderr.Len() != 0 {
			t.Errorf("interactive %v: %q of no work", interactive, stderr)
		}
	}
}

func TestProgressRises(t *testing.T) {
	for _, interactive := range []bool{false, true} {
		out, stderr, forward := clocked(interactive)
		p := newProgress(out, "measuring")
		forward(time.Second)
		var workers sync.WaitGroup
		for w := range 4 {
			workers.Go(func() {
				for i := w; i <= 1000; i += 4 {
					p.update(i, 1000)
				}
			})
		}
		workers.Wait()
		p.update(500, 1000) // a straggler
		p.finish()
		text := stderr.String()
		got := shown(t, text)
		if len(got) == 0 || got[len(got)-1] != 100 {
			t.Fatalf("interactive %v: %q", interactive, text)
		}
		for i := 1; i < len(got); i++ {
			if got[i] <= got[i-1] {
				t.Errorf("interactive %v: %d %% after %d %%", interactive, got[i], got[i-1])
			}
		}
		if strings.Count(text, "measuring: ") != len(got) || !strings.HasSuffix(text, "\n") {
			t.Errorf("interactive %v: %q", interactive, text)
		}
		if interactive != (strings.Count(text, "\n") == 1 && strings.Contains(text, "\r")) {
			t.Errorf("interactive %v: lines are wrong: %q", interactive, text)
		}
		if !interactive && len(got) > 6 {
			t.Errorf("a log gets %d lines", len(got))
		}
	}
}

// brokenWriter is a full disk.
type brokenWriter struct{}

func (brokenWriter) Write([]byte) (int, error) { return 0, fmt.Errorf("no space left on device") }

func TestResultsThatCannotBePrinted(t *testing.T) {
	for _, arguments := range [][]string{{"version"}, {"acuity", "6/9"}, {"acuity", "--json", "6/9"}, {"proof", "--holes", "0", "--intact", "1"}} {
		var stderr bytes.Buffer
		out := &console{Context: context.Background(), Stdout: brokenWriter{}, Stderr: &stderr, Now: func() time.Time { return testNow }}
		if code := run(out, arguments); code != exitCannotMeasure || notOneLine(stderr.String()) != "" || !strings.Contains(stderr.String(), "no space left") {
			t.Errorf("%q: exit code %d, %q", arguments, code, stderr.String())
		}
	}
}

func TestStopped(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	stop()
	folder := t.TempDir()
	for _, arguments := range [][]string{{"measure", "../../testdata/kermany-oct/NORMAL-1384-3.jpeg", "--figures", folder}, {"proof"}} {
		var stdout, stderr bytes.Buffer
		out := &console{Context: ctx, Stdout: &stdout, Stderr: &stderr, Now: func() time.Time { return testNow }}
		if code := run(out, arguments); code != exitCannotMeasure || stderr.String() != "limitans: stopped before it was done\n" || stdout.Len() != 0 {
			t.Errorf("%q: exit code %d, %q, %q", arguments, code, stdout.String(), stderr.String())
		}
	}
}

// TestExitCodes: wrong use is told by the fault's code, unless the fault lies in
// what was read or written.
func TestExitCodes(t *testing.T) {
	for _, c := range []struct {
		err  error
		want int
	}{
		{&fault.Error{Code: fault.Invalid}, exitWrongUse},
		{fmt.Errorf("around: %w", &fault.Error{Code: fault.Invalid}), exitWrongUse},
		{undone{&fault.Error{Code: fault.Invalid}}, exitCannotMeasure},
		{fmt.Errorf("around: %w", undone{&fault.Error{Code: fault.Invalid}}), exitCannotMeasure},
		{&fault.Error{Code: fault.Malformed}, exitCannotMeasure},
		{&fault.Error{Code: fault.Conflict}, exitCannotMeasure},
		{fmt.Errorf("anything"), exitCannotMeasure},
	} {
		if got := exitCode(c.err); got != c.want {
			t.Errorf("%#v: %d, want %d", c.err, got, c.want)
		}
	}
}
