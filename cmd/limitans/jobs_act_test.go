package main

import (
	"bytes"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"limitans/internal/pgtest"
)

// TestJobsAreCancelledAndRetried goes through the states of one job on each
// database: waiting, cancelled, waiting again, done.
func TestJobsAreCancelledAndRetried(t *testing.T) {
	for name, place := range map[string][]string{
		"sqlite":   {"--data", filepath.Join(t.TempDir(), "record")},
		"postgres": {"--database", pgtest.Database(t), "--files", filepath.Join(t.TempDir(), "files")},
	} {
		t.Run(name, func(t *testing.T) {
			at := func(arguments ...string) []string { return append(arguments, place...) }
			typed(t, at("clinic", "--patients", "1", "--drawn", "0")...)
			said := typed(t, at("keep", filepath.Join("..", "..", "testdata", "kermany-oct", "NORMAL-1384-3.jpeg"),
				"--number", "0001000", "--side", "left", "--taken", "2024-02-01", "--scale", "3.87,11.5")...)
			found := regexp.MustCompile(`job (\d+)`).FindStringSubmatch(said)
			if found == nil {
				t.Fatal(said)
			}
			id := found[1]
			want := func(said, part string) {
				t.Helper()
				if !strings.Contains(said, part) {
					t.Errorf("%q, want %q", said, part)
				}
			}
			want(typed(t, at("jobs", "cancel", id)...), "Job "+id+" is cancelled.")
			want(typed(t, at("jobs", "cancel", id)...), "Job "+id+" is cancelled.")
			want(typed(t, at("jobs", "--state", "cancelled")...), "cancelled")
			want(typed(t, at("jobs", "retry", id)...), "Job "+id+" waits for attempt 1")
			want(typed(t, at("jobs", "retry", id)...), "Job "+id+" waits for attempt 1")
			want(typed(t, at("jobs", "list", "--state", "waiting")...), "waiting")
			typed(t, at("worker", "--until-idle")...)
			want(typed(t, at("jobs", "cancel", id)...), "Job "+id+" is done and was left as it is.")
			for command, part := range map[string]string{"retry " + id: "it is done", "retry 9999": "there is no such job", "cancel 9999": "there is no such job"} {
				var out, wrong bytes.Buffer
				code := run(&console{Context: t.Context(), Stdout: &out, Stderr: &wrong, Now: time.Now}, at(append([]string{"jobs"}, strings.Fields(command)...)...))
				if code != exitCannotMeasure || out.Len() > 0 || !strings.Contains(wrong.String(), part) {
					t.Errorf("%s: exit code %d, %q, %q", command, code, out.String(), wrong.String())
				}
			}
			var out, wrong bytes.Buffer
			if code := run(&console{Context: t.Context(), Stdout: &out, Stderr: &wrong, Now: time.Now}, at("jobs", "cancel", "0")); code != exitWrongUse {
				t.Errorf("exit code %d, %s", code, wrong.String())
			}
		})
	}
}
