package work_test

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"limitans/fault"
	"limitans/internal/work"
)

type nothing struct{}

type numbered struct {
	Number int `json:"number"`
}

var numberedKind = work.Kind[numbered]{Name: "test.numbered", BackOff: time.Millisecond}

func TestMigrateManyAtOnceAndAgain(t *testing.T) {
	t.Parallel()
	for _, dialect := range []work.Dialect{work.SQLite, work.PostgreSQL} {
		t.Run(string(dialect), func(t *testing.T) {
			t.Parallel()
			d := fresh(t, dialect)
			var all sync.WaitGroup
			for range 4 {
				all.Go(func() {
					db, err := d.open()
					if err != nil {
						t.Error(err)
						return
					}
					defer closeDB(t, db)
					for range 2 {
						if err := work.Migrate(t.Context(), db, dialect); err != nil {
							t.Error(err)
						}
					}
				})
			}
			all.Wait()
		})
	}
}

func TestJobLivesAndDiesWithItsTransaction(t *testing.T) {
	onBoth(t, func(t *testing.T, d database, db *sql.DB) {
		q := open(t, d, db, nil, quick())
		for _, commit := range []bool{false, true} {
			tx, err := db.Begin()
			if err != nil {
				t.Fatal(err)
			}
			if _, err := tx.Exec("INSERT INTO effect VALUES (0, 0, 'the record')"); err != nil {
				t.Fatal(err)
			}
			if _, err := work.Enqueue(t.Context(), q, tx, numberedKind, numbered{1}); err != nil {
				t.Fatal(err)
			}
			end, want := tx.Rollback, 0
			if commit {
				end, want = tx.Commit, 1
			}
			if err := end(); err != nil {
				t.Fatal(err)
			}
			jobs, err := q.List(t.Context(), work.Filter{})
			if err != nil {
				t.Fatal(err)
			}
			if records := count(t, db, "SELECT count(*) FROM effect"); len(jobs) != want || records != want {
				t.Errorf("commit %v: %d jobs and %d records, want %d", commit, len(jobs), records, want)
			}
		}
	})
}

func TestProgressIsSeenByOthersAndStays(t *testing.T) {
	onBoth(t, func(t *testing.T, d database, db *sql.DB) {
		release := make(chan struct{})
		var kinds work.Kinds
		register(t, &kinds, numberedKind, func(_ context.Context, task *work.Task, args numbered) error {
			if err := task.Progress(40, "slice 3 of 7"); err != nil {
				return err
			}
			<-release
			return task.Progress(100, "all slices")
		})
		start(t, d, db, &kinds, quick())
		other := open(t, d, db, nil, quick())
		id := enqueue(t, other, numberedKind, numbered{7})
		job := until(t, other, id, "progress", func(job work.Job) bool { return job.Progress != nil })
		if want := (work.Progress{Percent: 40, Note: "slice 3 of 7"}); *job.Progress != want || job.State != work.Running {
			t.Errorf("%s with %+v, want running with %+v", job.State, *job.Progress, want)
		}
		if job.Begun.IsZero() || job.Enqueued.IsZero() || !job.Ended.IsZero() || job.Worker == "" {
			t.Errorf("times or worker of a running job: %+v", job)
		}
		close(release)
		job = untilState(t, other, id, work.Done)
		if job.Progress == nil || *job.Progress != (work.Progress{Percent: 100, Note: "all slices"}) || job.Fault != nil {
			t.Errorf("at its end %+v", job)
		}
		if job.Ended.IsZero() || job.Kind != "test.numbered" || strings.ReplaceAll(string(job.Args), " ", "") != `{"number":7}` {
			t.Errorf("at its end %+v", job)
		}
	})
}

func TestCancel(t *testing.T) {
	onBoth(t, func(t *testing.T, d database, db *sql.DB) {
		var begun atomic.Int32
		var kinds work.Kinds
		register(t, &kinds, numberedKind, func(ctx context.Context, _ *work.Task, _ numbered) error {
			begun.Add(1)
			<-ctx.Done()
			return errors.New("some words of a library about a context")
		})
		other := open(t, d, db, nil, quick())

		waiting := enqueue(t, other, numberedKind, numbered{0})
		if job, err := other.Cancel(t.Context(), waiting); err != nil || job.State != work.Cancelled {
			t.Errorf("a waiting job: %s, %v", job.State, err)
		}
		q, _ := start(t, d, db, &kinds, quick())
		for name, by := range map[string]*work.Queue{"by its own process": q, "by another process": other} {
			id := enqueue(t, other, numberedKind, numbered{1})
			untilState(t, other, id, work.Running)
			if _, err := by.Cancel(t.Context(), id); err != nil {
				t.Fatal(err)
			}
			job := untilState(t, other, id, work.Cancelled)
			if job.Attempt != 1 || job.Ended.IsZero() || job.Fault != nil {
				t.Errorf("%s: %+v", name, job)
			}
			if job, err := by.Cancel(t.Context(), id); err != nil || job.State != work.Cancelled {
				t.Errorf("%s, once more: %s, %v", name, job.State, err)
			}
		}
		if n := begun.Load(); n != 2 {
			t.Errorf("%d attempts, want 2: the waiting job must not have begun", n)
		}
		if _, err := q.Cancel(t.Context(), 1<<40); fault.CodeOf(err) != fault.NotFound {
			t.Errorf("a job that is not there: %v", err)
		}
	})
}

func TestRetryWithLimit(t *testing.T) {
	onBoth(t, func(t *testing.T, d database, db *sql.DB) {
		kind := work.Kind[numbered]{Name: "test.fails", Attempts: 3, BackOff: time.Millisecond}
		unreadable := &fault.Error{
			Code: fault.Malformed, Where: "a.dcm", What: "it ends early", Expected: "16 bytes more", Mend: "export it again",
		}
		var kinds work.Kinds
		register(t, &kinds, kind, func(_ context.Context, task *work.Task, args numbered) error {
			switch {
			case args.Number == 100:
				return unreadable
			case args.Number == 200:
				panic("a defect")
			case task.Attempt() <= args.Number:
				return errors.New("the disk\nis busy")
			}
			return nil
		})
		q, _ := start(t, d, db, &kinds, quick())
		for _, test := range []struct {
			name    string
			number  int
			state   work.State
			attempt int
			text    string
			code    fault.Code
		}{
			{"mends itself", 2, work.Done, 3, "the disk is busy", fault.Internal},
			{"never mends", 3, work.Failed, 3, "the disk is busy", fault.Internal},
			{"cannot be mended", 100, work.Failed, 1, unreadable.Error(), fault.Malformed},
			{"panics", 200, work.Failed, 1, "job test.fails-", fault.Internal},
			{"goes on after the panic", 0, work.Done, 1, "", ""},
		} {
			job := until(t, q, enqueue(t, q, kind, numbered{test.number}), "its end", func(job work.Job) bool {
				return !job.Ended.IsZero()
			})
			if job.State != test.state || job.Attempt != test.attempt {
				t.Errorf("%s: %s after %d attempts, want %s after %d", test.name, job.State, job.Attempt, test.state, test.attempt)
			}
			if test.code == "" {
				if job.Fault != nil {
					t.Errorf("%s: fault %v", test.name, job.Fault)
				}
				continue
			}
			if job.Fault == nil || job.Fault.Code != test.code || !strings.HasPrefix(job.Fault.Error(), test.text) {
				t.Errorf("%s: fault %v, want %s: %s", test.name, job.Fault, test.code, test.text)
			}
			if test.number == 200 && !strings.Contains(job.Fault.What, "panicked: a defect") {
				t.Errorf("%s: %v", test.name, job.Fault)
			}
		}
	})
}

func TestRetryByAPerson(t *testing.T) {
	onBoth(t, func(t *testing.T, d database, db *sql.DB) {
		kind := work.Kind[numbered]{Name: "test.once", Attempts: 1, Unique: true}
		var broken atomic.Bool
		broken.Store(true)
		var kinds work.Kinds
		register(t, &kinds, kind, func(context.Context, *work.Task, numbered) error {
			if broken.Load() {
				return errors.New("the disk is full")
			}
			return nil
		})
		q, stop := start(t, d, db, &kinds, quick())
		id := enqueue(t, q, kind, numbered{1})
		untilState(t, q, id, work.Failed)
		stop()

		q = open(t, d, db, &kinds, quick())
		equal := enqueue(t, q, kind, numbered{1})
		if _, err := q.Retry(t.Context(), id); fault.CodeOf(err) != fault.Conflict {
			t.Errorf("while an equal job waits: %v", err)
		}
		if job, err := q.Retry(t.Context(), equal); err != nil || job.State != work.Waiting {
			t.Errorf("a waiting job: %s, %v", job.State, err)
		}
		if _, err := q.Cancel(t.Context(), equal); err != nil {
			t.Fatal(err)
		}
		broken.Store(false)
		job, err := q.Retry(t.Context(), id)
		if err != nil || job.State != work.Waiting {
			t.Fatalf("%s, %v", job.State, err)
		}
		start(t, d, db, &kinds, quick())
		if job := untilState(t, q, id, work.Done); job.Attempt != 2 {
			t.Errorf("attempt %d, want 2", job.Attempt)
		}
		if _, err := q.Retry(t.Context(), id); fault.CodeOf(err) != fault.Conflict {
			t.Errorf("a job that is done: %v", err)
		}
		if _, err := q.Retry(t.Context(), 1<<40); fault.CodeOf(err) != fault.NotFound {
			t.Errorf("a job that is not there: %v", err)
		}
	})
}

func TestUnique(t *testing.T) {
	onBoth(t, func(t *testing.T, d database, db *sql.DB) {
		kind := work.Kind[numbered]{Name: "test.unique", Unique: true}
		release := make(chan struct{})
		var kinds work.Kinds
		register(t, &kinds, kind, func(context.Context, *work.Task, numbered) error { <-release; return nil })
		q, _ := start(t, d, db, &kinds, quick())
		ask := func(number int) work.Enqueued {
			got, err := work.Enqueue(t.Context(), q, nil, kind, numbered{number})
			if err != nil {
				t.Fatal(err)
			}
			return got
		}
		first := ask(1)
		if again := ask(1); !again.Existing || again.ID != first.ID || first.Existing {
			t.Errorf("the same again: %+v after %+v", again, first)
		}
		untilState(t, q, first.ID, work.Running)
		if again := ask(1); !again.Existing || again.ID != first.ID {
			t.Errorf("the same while it runs: %+v", again)
		}
		if other := ask(2); other.Existing {
			t.Errorf("other arguments: %+v", other)
		}
		close(release)
		untilState(t, q, first.ID, work.Done)
		if later := ask(1); later.Existing {
			t.Errorf("the same after its end: %+v", later)
		}
	})
}

func TestStop(t *testing.T) {
	onBoth(t, func(t *testing.T, d database, db *sql.DB) {
		stopped := make(chan struct{}) // closed just before the stop
		var kinds work.Kinds
		register(t, &kinds, numberedKind, func(ctx context.Context, task *work.Task, args numbered) error {
			if args.Number == 1 && task.Attempt() == 1 { // short: ends within the grace
				<-stopped
				return nil
			}
			select {
			case <-ctx.Done():
				return &fault.Error{Code: fault.Malformed, What: "half a file: what a function says when its context ends"}
			case <-time.After(patience):
				return errors.New("its context did not end")
			}
		})
		options := quick()
		options.Grace = time.Second
		q, stop := start(t, d, db, &kinds, options)
		short, long := enqueue(t, q, numberedKind, numbered{1}), enqueue(t, q, numberedKind, numbered{2})
		untilState(t, q, short, work.Running)
		untilState(t, q, long, work.Running)
		close(stopped)
		stop()
		if job := untilState(t, q, short, work.Done); job.Attempt != 1 {
			t.Errorf("the short job: %+v", job)
		}
		if job, err := q.Job(t.Context(), long); err != nil || job.State != work.Waiting || job.Attempt != 0 || job.Fault != nil {
			t.Errorf("the long job: %+v, %v; want it waiting, the attempt not counted", job, err)
		}

		var after work.Kinds
		register(t, &after, numberedKind, func(context.Context, *work.Task, numbered) error { return nil })
		q, _ = start(t, d, db, &after, quick())
		untilState(t, q, long, work.Done)
	})
}

// TestFinish holds that the effect and the end of the job are one, also on a
// pool of a single connection.
func TestFinish(t *testing.T) {
	onBoth(t, func(t *testing.T, d database, db *sql.DB) {
		db.SetMaxOpenConns(1)
		kind := work.Kind[nothing]{Name: "test.finish", BackOff: time.Millisecond}
		refusal := errors.New("not now")
		var kinds work.Kinds
		register(t, &kinds, kind, func(ctx context.Context, task *work.Task, _ nothing) error {
			effect := func(answer error) error {
				return task.Finish(ctx, func(tx *sql.Tx) error {
					if _, err := tx.Exec("INSERT INTO effect VALUES (1, 1, 'x')"); err != nil {
						return err
					}
					return answer
				})
			}
			if err := effect(refusal); err != refusal {
				t.Errorf("Finish returns %v, want the effect's own error", err)
			}
			if task.Attempt() == 1 {
				return refusal // rolled back and tried again
			}
			if err := task.Progress(100, "written"); err != nil {
				return err
			}
			if err := effect(nil); err != nil {
				return err
			}
			if err := effect(nil); fault.CodeOf(err) != fault.Invalid {
				t.Errorf("a second Finish: %v", err)
			}
			return errors.New("said after the end, when nobody listens any more")
		})
		q, _ := start(t, d, db, &kinds, quick())
		job := untilState(t, q, enqueue(t, q, kind, nothing{}), work.Done)
		if n := count(t, db, "SELECT count(*) FROM effect"); n != 1 || job.Attempt != 2 {
			t.Errorf("%d effects after %d attempts, want 1 after 2", n, job.Attempt)
		}
		if job.Progress == nil || job.Progress.Note != "written" {
			t.Errorf("progress at the end: %+v", job.Progress)
		}
	})
}

func TestList(t *testing.T) {
	onBoth(t, func(t *testing.T, d database, db *sql.DB) {
		other := work.Kind[nothing]{Name: "test.other"}
		q := open(t, d, db, nil, quick())
		var ids []int64
		for i := range 5 {
			ids = append(ids, enqueue(t, q, numberedKind, numbered{i}))
		}
		alien := enqueue(t, q, other, nothing{})
		if _, err := q.Cancel(t.Context(), ids[1]); err != nil {
			t.Fatal(err)
		}
		for _, test := range []struct {
			name   string
			filter work.Filter
			want   []int64
		}{
			{"all, newest first", work.Filter{}, []int64{alien, ids[4], ids[3], ids[2], ids[1], ids[0]}},
			{"a kind", work.Filter{Kind: "test.other"}, []int64{alien}},
			{"first page", work.Filter{Limit: 2}, []int64{alien, ids[4]}},
			{"second page", work.Filter{Limit: 2, Before: ids[4]}, []int64{ids[3], ids[2]}},
			{"a state", work.Filter{States: []work.State{work.Cancelled}}, []int64{ids[1]}},
			{"two states", work.Filter{States: []work.State{work.Cancelled, work.Waiting}, Kind: "test.numbered"}, []int64{ids[4], ids[3], ids[2], ids[1], ids[0]}},
			{"none", work.Filter{States: []work.State{work.Done}}, nil},
		} {
			jobs, err := q.List(t.Context(), test.filter)
			if err != nil {
				t.Fatal(err)
			}
			var got []int64
			for _, job := range jobs {
				got = append(got, job.ID)
			}
			if len(got) != len(test.want) {
				t.Errorf("%s: %v, want %v", test.name, got, test.want)
				continue
			}
			for i := range got {
				if got[i] != test.want[i] {
					t.Errorf("%s: %v, want %v", test.name, got, test.want)
					break
				}
			}
		}
		for _, bad := range []work.Filter{{Limit: -1}, {Limit: 1001}, {States: []work.State{"lost"}}} {
			if _, err := q.List(t.Context(), bad); fault.CodeOf(err) != fault.Invalid {
				t.Errorf("%+v: %v", bad, err)
			}
		}
	})
}
