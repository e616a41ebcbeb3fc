//go:build unix

package work_test

import (
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"limitans/internal/work"
)

// TestKilledWorker kills the process of a running job with SIGKILL. The job
// must be taken up by another process and take effect once.
func TestKilledWorker(t *testing.T) {
	onBoth(t, func(t *testing.T, d database, db *sql.DB) {
		q := open(t, d, db, nil, quick())
		gate := filepath.Join(t.TempDir(), "gate")
		id := enqueue(t, q, childKind, childArgs{Gate: gate})
		first := startChild(t, d, "first")
		untilState(t, q, id, work.Running)
		second := startChild(t, d, "second")
		if err := first.process.Signal(syscall.SIGKILL); err != nil {
			t.Fatal(err)
		}
		first.end()
		until(t, q, id, "its second attempt", func(job work.Job) bool { return job.Attempt == 2 && job.State == work.Running })
		openGate(t, gate)
		job := untilState(t, q, id, work.Done)
		second.end()
		if job.Fault == nil || !strings.Contains(job.Fault.What, "no sign of life") {
			t.Errorf("fault of the killed attempt: %v", job.Fault)
		}
		if n := count(t, db, "SELECT count(*) FROM effect WHERE worker = 'second' AND attempt = 2"); n != 1 {
			t.Errorf("%d effects of the second process, want 1", n)
		}
		if n := count(t, db, "SELECT count(*) FROM effect"); n != 1 {
			t.Errorf("%d effects, want 1", n)
		}
	})
}

// TestHungWorker stops the process of a running job with SIGSTOP until another
// has taken the job over, and lets both come to their end: the late one is
// refused.
func TestHungWorker(t *testing.T) {
	onBoth(t, func(t *testing.T, d database, db *sql.DB) {
		q := open(t, d, db, nil, quick())
		gate := filepath.Join(t.TempDir(), "gate")
		id := enqueue(t, q, childKind, childArgs{Gate: gate})
		first := startChild(t, d, "first")
		untilState(t, q, id, work.Running)
		if err := first.process.Signal(syscall.SIGSTOP); err != nil {
			t.Fatal(err)
		}
		second := startChild(t, d, "second")
		until(t, q, id, "its second attempt", func(job work.Job) bool { return job.Attempt == 2 && job.State == work.Running })
		if err := first.process.Signal(syscall.SIGCONT); err != nil {
			t.Fatal(err)
		}
		// It finds its job gone, ends its run and tries to write all the same.
		if line := <-first.lines; !strings.Contains(line, "taken over by another process") {
			t.Errorf("the late process says %q, want a refusal", line)
		}
		if job, err := q.Job(t.Context(), id); err != nil || job.State != work.Running || job.Attempt != 2 {
			t.Errorf("after the late one's end: %+v, %v; want the other's attempt running", job, err)
		}
		openGate(t, gate)
		untilState(t, q, id, work.Done)
		first.end()
		second.end()
		if n := count(t, db, "SELECT count(*) FROM effect"); n != 1 {
			t.Errorf("%d effects, want 1", n)
		}
		if n := count(t, db, "SELECT count(*) FROM effect WHERE worker = 'second'"); n != 1 {
			t.Errorf("%d effects of the second process, want 1", n)
		}
	})
}

// TestProcessesShareTheWork has three processes on one database, the file of
// the embedded one included.
func TestProcessesShareTheWork(t *testing.T) {
	onBoth(t, func(t *testing.T, d database, db *sql.DB) {
		const jobs, processes = 60, 3
		q := open(t, d, db, nil, quick())
		var children []*child
		for i := range processes {
			children = append(children, startChild(t, d, fmt.Sprintf("process %d", i)))
		}
		tx, err := db.Begin()
		if err != nil {
			t.Fatal(err)
		}
		var ids []int64
		for i := range jobs {
			got, err := work.Enqueue(t.Context(), q, tx, childKind, childArgs{Number: i})
			if err != nil {
				t.Fatal(err)
			}
			ids = append(ids, got.ID)
		}
		if err := tx.Commit(); err != nil {
			t.Fatal(err)
		}
		for _, id := range ids {
			untilState(t, q, id, work.Done)
		}
		for _, c := range children {
			c.end()
		}
		if n, once := count(t, db, "SELECT count(*) FROM effect"), count(t, db, "SELECT count(DISTINCT job) FROM effect"); n != jobs || once != jobs {
			t.Errorf("%d effects of %d jobs, want %d of %d", n, once, jobs, jobs)
		}
		for i := range processes {
			n := count(t, db, fmt.Sprintf("SELECT count(*) FROM effect WHERE worker = 'process %d'", i))
			t.Logf("process %d did %d jobs", i, n)
			if n == 0 {
				t.Errorf("process %d did nothing", i)
			}
		}
		if d.dialect == work.SQLite {
			var answer string
			if err := db.QueryRowContext(t.Context(), "PRAGMA integrity_check").Scan(&answer); err != nil || answer != "ok" {
				t.Errorf("the file after three processes: %s, %v", answer, err)
			}
		}
	})
}

// TestKilledAgainAndAgain kills a process with SIGKILL after every few effects,
// with its jobs wherever they are, the writing of an effect included.
func TestKilledAgainAndAgain(t *testing.T) {
	onBoth(t, func(t *testing.T, d database, db *sql.DB) {
		const jobs, kills = 48, 8
		chance := rand.New(rand.NewPCG(1, 48))
		q := open(t, d, db, nil, quick())
		var ids []int64
		for i := range jobs {
			ids = append(ids, enqueue(t, q, childKind, childArgs{Number: i}))
		}
		children := []*child{startChild(t, d, "0"), startChild(t, d, "1")}
		for kill := range kills {
			for goal := kill*jobs/(kills+1) + chance.IntN(4); count(t, db, "SELECT count(*) FROM effect") < goal; {
				time.Sleep(time.Millisecond)
			}
			victim := chance.IntN(len(children))
			if err := children[victim].process.Signal(syscall.SIGKILL); err != nil {
				t.Fatal(err)
			}
			children[victim].end()
			children[victim] = startChild(t, d, fmt.Sprint(kill+2))
		}
		again := 0
		for _, id := range ids {
			if job := untilState(t, q, id, work.Done); job.Attempt > 1 {
				again++
			}
		}
		for _, c := range children {
			c.end()
		}
		if n, once := count(t, db, "SELECT count(*) FROM effect"), count(t, db, "SELECT count(DISTINCT job) FROM effect"); n != jobs || once != jobs {
			t.Errorf("%d effects of %d jobs, want %d of %d", n, once, jobs, jobs)
		}
		t.Logf("%d processes killed, %d of %d jobs begun more than once", kills, again, jobs)
	})
}

func openGate(t *testing.T, gate string) {
	t.Helper()
	if err := os.WriteFile(gate, nil, 0o600); err != nil {
		t.Fatal(err)
	}
}
