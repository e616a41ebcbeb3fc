package work

import (
	"context"
	"database/sql"
	"errors"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"
	_ "modernc.org/sqlite"

	"limitans/fault"
)

// TestProgress needs no database: reporting must not touch one, however often.
func TestProgress(t *testing.T) {
	task := &Task{job: &river.Job[payload]{JobRow: &rivertype.JobRow{ID: 17, Kind: "scan.measure", Attempt: 2}}}
	if task.Key() != "scan.measure-17" || task.ID() != 17 || task.Attempt() != 2 {
		t.Errorf("key %q, job %d, attempt %d", task.Key(), task.ID(), task.Attempt())
	}
	for i := range 10001 {
		if err := task.Progress(float64(i)/100, "slice"); err != nil {
			t.Fatal(err)
		}
	}
	for name, err := range map[string]error{
		"below":        task.Progress(-0.1, ""),
		"above":        task.Progress(100.1, ""),
		"no number":    task.Progress(math.NaN(), ""),
		"two lines":    task.Progress(1, "a\nb"),
		"a long note":  task.Progress(1, strings.Repeat("ä", 201)),
		"broken UTF-8": task.Progress(1, "\xff"),
	} {
		if fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
	if *task.progress != (Progress{100, "slice"}) {
		t.Errorf("what was refused has been kept: %+v", *task.progress)
	}
	if err := task.Progress(0, strings.Repeat("ä", 200)); err != nil {
		t.Errorf("200 characters: %v", err)
	}
}

// alone is a queue on a file of its own that has one job in the state that a
// killed process leaves behind: running, and nobody there.
func alone(t *testing.T, attempts int, asked bool) (*Queue, int64) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+filepath.Join(t.TempDir(), "jobs.db")+"?_pragma=busy_timeout(5000)&_txlock=immediate")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	if err := Migrate(t.Context(), db, SQLite); err != nil {
		t.Fatal(err)
	}
	q, err := Open(db, SQLite, nil, Options{DeadBeats: 3})
	if err != nil {
		t.Fatal(err)
	}
	got, err := Enqueue(t.Context(), q, nil, Kind[sample]{Name: "a.b", Attempts: attempts}, sample{"x"})
	if err != nil {
		t.Fatal(err)
	}
	claim(t, db, got.ID, 1)
	if asked {
		if job, err := q.Cancel(t.Context(), got.ID); err != nil || job.State != Running || !job.CancelAsked {
			t.Fatalf("%+v, %v", job, err)
		}
	}
	return q, got.ID
}

// claim does what River does when a process takes a job.
func claim(t *testing.T, db *sql.DB, id int64, attempt int) {
	t.Helper()
	_, err := db.Exec(`UPDATE river_job SET state = 'running', attempt = ?, attempted_at = strftime('%Y-%m-%d %H:%M:%f'),
		attempted_by = jsonb('["the dead one"]') WHERE id = ?`, attempt, id)
	if err != nil {
		t.Fatal(err)
	}
}

func look(t *testing.T, q *Queue) {
	t.Helper()
	if err := q.lookOut(t.Context()); err != nil {
		t.Fatal(err)
	}
}

func TestDeadProcess(t *testing.T) {
	for _, test := range []struct {
		name     string
		attempts int
		asked    bool
		want     State
	}{
		{"attempts left", 2, false, Waiting},
		{"the last attempt", 1, false, Failed},
		{"somebody had asked it to end", 2, true, Cancelled},
	} {
		t.Run(test.name, func(t *testing.T) {
			q, id := alone(t, test.attempts, test.asked)
			for i := range 3 { // the first sight and two unchanged looks: not yet
				look(t, q)
				if job, err := q.Job(t.Context(), id); err != nil || job.State != Running {
					t.Fatalf("after %d looks: %+v, %v", i+1, job, err)
				}
			}
			look(t, q)
			job, err := q.Job(t.Context(), id)
			if err != nil || job.State != test.want || job.Ended.IsZero() != (test.want == Waiting) {
				t.Fatalf("%+v, %v; want %s", job, err, test.want)
			}
			if test.want != Cancelled && (job.Fault == nil || !strings.Contains(job.Fault.What, "no sign of life any more: the dead one")) {
				t.Errorf("fault: %v", job.Fault)
			}
		})
	}
}

// TestSignsOfLife has a job whose process is slow but alive.
func TestSignsOfLife(t *testing.T) {
	q, id := alone(t, 2, false)
	for beat := range 6 {
		look(t, q)
		look(t, q)
		_, err := q.client.JobUpdate(t.Context(), id, &river.JobUpdateParams{Output: pulse{Attempt: 1, Beat: beat + 1}})
		if err != nil {
			t.Fatal(err)
		}
	}
	if job, err := q.Job(t.Context(), id); err != nil || job.State != Running {
		t.Errorf("%+v, %v", job, err)
	}
}

// TestPutBackComesTooLate has a job that moved on between the look and the deed.
func TestPutBackComesTooLate(t *testing.T) {
	q, id := alone(t, 5, false)
	seen, err := q.client.JobGet(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	time.Sleep(2 * time.Millisecond) // the embedded database keeps milliseconds
	claim(t, q.db, id, 2)
	if err := q.putBack(t.Context(), seen); err != nil {
		t.Fatal(err)
	}
	if job, err := q.Job(t.Context(), id); err != nil || job.State != Running || job.Attempt != 2 {
		t.Errorf("%+v, %v; want the second attempt running", job, err)
	}
}

func TestStartRefuses(t *testing.T) {
	q, _ := alone(t, 1, false)
	if err := q.Start(t.Context()); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("without kinds: %v", err)
	}
	q.Wait() // nothing was started, nothing to wait for

	var kinds Kinds
	if err := Register(&kinds, Kind[sample]{Name: "a.c"}, noWork); err != nil {
		t.Fatal(err)
	}
	working, err := Open(q.db, SQLite, &kinds, Options{Poll: 10 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer func() { cancel(); working.Wait() }()
	if err := working.Start(ctx); err != nil {
		t.Fatal(err)
	}
	if err := working.Start(ctx); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("a second time: %v", err)
	}
}

// TestDatabaseGone holds that what a broken database causes is a fault in words.
func TestDatabaseGone(t *testing.T) {
	q, id := alone(t, 1, false)
	if err := q.db.Close(); err != nil {
		t.Fatal(err)
	}
	_, jobErr := q.Job(t.Context(), id)
	_, listErr := q.List(t.Context(), Filter{})
	_, enqueueErr := Enqueue(t.Context(), q, nil, Kind[sample]{Name: "a.b"}, sample{})
	_, cancelErr := q.Cancel(t.Context(), id)
	_, retryErr := q.Retry(t.Context(), id)
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	for name, err := range map[string]error{
		"job": jobErr, "list": listErr, "enqueue": enqueueErr, "cancel": cancelErr, "retry": retryErr,
		"migrate": Migrate(ended, q.db, SQLite), "look": q.lookOut(t.Context()),
	} {
		var f *fault.Error
		if err == nil || name != "look" && (!errors.As(err, &f) || f.Code != fault.Internal || f.Cause == nil) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := Migrate(t.Context(), q.db, "dbase"); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("a dialect that is not known: %v", err)
	}
}
