package work_test

import (
	"bufio"
	"context"
	"database/sql"
	"fmt"
	"io"
	"log/slog"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib"
	"go.uber.org/goleak"
	_ "modernc.org/sqlite"

	"limitans/internal/pgtest"
	"limitans/internal/work"
)

// TestMain lets the test program be its own worker processes: with an address
// in its environment it works on jobs until its input ends.
func TestMain(m *testing.M) {
	if address := os.Getenv("LIMITANS_WORK_CHILD"); address != "" {
		if err := beChild(address); err != nil {
			fmt.Fprintln(os.Stderr, "worker process:", err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	// The test server lives as long as the test process, and so does the
	// goroutine that waits for its end.
	goleak.VerifyTestMain(m, goleak.IgnoreAnyFunction("limitans/internal/pgtest.(*server).start.func2"))
}

// database is one of the two that the whole suite runs on.
type database struct {
	dialect work.Dialect
	address string // of a file or a server
}

func (d database) open() (*sql.DB, error) {
	if d.dialect == work.PostgreSQL {
		return sql.Open("pgx", d.address)
	}
	return sql.Open("sqlite", "file:"+(&url.URL{Path: d.address}).EscapedPath()+
		"?_pragma=journal_mode(WAL)&_pragma=busy_timeout(5000)&_pragma=foreign_keys(1)&_pragma=synchronous(NORMAL)&_txlock=immediate")
}

// onBoth runs a test on a fresh database of each kind, tables made.
func onBoth(t *testing.T, test func(t *testing.T, d database, db *sql.DB)) {
	t.Helper()
	t.Parallel()
	for _, dialect := range []work.Dialect{work.SQLite, work.PostgreSQL} {
		t.Run(string(dialect), func(t *testing.T) {
			t.Parallel()
			d := fresh(t, dialect)
			db, err := d.open()
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { closeDB(t, db) })
			if err := work.Migrate(t.Context(), db, dialect); err != nil {
				t.Fatal(err)
			}
			execute(t, db, "CREATE TABLE effect (job BIGINT NOT NULL, attempt BIGINT NOT NULL, worker TEXT NOT NULL)")
			test(t, d, db)
		})
	}
}

func fresh(t *testing.T, dialect work.Dialect) database {
	t.Helper()
	if dialect == work.PostgreSQL {
		return database{dialect, pgtest.Database(t)}
	}
	return database{dialect, filepath.Join(t.TempDir(), "jobs.db")}
}

func closeDB(t *testing.T, db *sql.DB) {
	t.Helper()
	if err := db.Close(); err != nil {
		t.Error(err)
	}
}

func execute(t *testing.T, db *sql.DB, statement string) {
	t.Helper()
	if _, err := db.ExecContext(t.Context(), statement); err != nil {
		t.Fatalf("%s: %v", statement, err)
	}
}

func count(t *testing.T, db *sql.DB, query string) int {
	t.Helper()
	var n int
	if err := db.QueryRowContext(t.Context(), query).Scan(&n); err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	return n
}

// quick is Options for tests: looks and beats far closer than a person needs.
// DeadBeats is generous, for machines that are busy with other tests.
func quick() work.Options {
	return work.Options{Poll: 20 * time.Millisecond, Beat: 50 * time.Millisecond, DeadBeats: 40, Grace: 100 * time.Millisecond}
}

// open opens a queue for a test.
func open(t *testing.T, d database, db *sql.DB, kinds *work.Kinds, options work.Options) *work.Queue {
	t.Helper()
	q, err := work.Open(db, d.dialect, kinds, options)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

// start opens and starts a queue; what it returns, and the end of the test,
// stops it and waits.
func start(t *testing.T, d database, db *sql.DB, kinds *work.Kinds, options work.Options) (*work.Queue, func()) {
	t.Helper()
	q := open(t, d, db, kinds, options)
	ctx, cancel := context.WithCancel(context.Background())
	if err := q.Start(ctx); err != nil {
		cancel()
		t.Fatal(err)
	}
	stop := func() { cancel(); q.Wait() }
	t.Cleanup(stop)
	return q, stop
}

// patience bounds a wait for something that must happen; it is no measure.
const patience = 60 * time.Second

// until waits for a job to be as wished.
func until(t *testing.T, q *work.Queue, id int64, what string, wished func(work.Job) bool) work.Job {
	t.Helper()
	var job work.Job
	for deadline := time.Now().Add(patience); ; time.Sleep(10 * time.Millisecond) {
		var err error
		if job, err = q.Job(t.Context(), id); err != nil {
			t.Fatal(err)
		}
		if wished(job) {
			return job
		}
		if time.Now().After(deadline) {
			t.Fatalf("job %d does not come to %s: %+v", id, what, job)
		}
	}
}

func untilState(t *testing.T, q *work.Queue, id int64, state work.State) work.Job {
	t.Helper()
	return until(t, q, id, string(state), func(job work.Job) bool { return job.State == state })
}

func register[A any](t *testing.T, kinds *work.Kinds, kind work.Kind[A], run func(context.Context, *work.Task, A) error) {
	t.Helper()
	if err := work.Register(kinds, kind, run); err != nil {
		t.Fatal(err)
	}
}

func enqueue[A any](t *testing.T, q *work.Queue, kind work.Kind[A], args A) int64 {
	t.Helper()
	got, err := work.Enqueue(t.Context(), q, nil, kind, args)
	if err != nil {
		t.Fatal(err)
	}
	return got.ID
}

// childArgs is a job for worker processes: it waits until the file Gate is
// there, or not at all, then writes its effect and ends.
type childArgs struct {
	Gate   string `json:"gate"`
	Number int    `json:"number"`
}

var childKind = work.Kind[childArgs]{Name: "test.child", Attempts: 20}

// beChild is a worker process. It says "ready" when it works and ends when its
// input does, with which it also ends when the test program dies.
func beChild(address string) error {
	d := database{work.Dialect(os.Getenv("LIMITANS_WORK_DIALECT")), address}
	db, err := d.open()
	if err != nil {
		return err
	}
	defer func() { _ = db.Close() }()
	name := os.Getenv("LIMITANS_WORK_NAME")
	var kinds work.Kinds
	err = work.Register(&kinds, childKind, func(ctx context.Context, task *work.Task, args childArgs) error {
		for args.Gate != "" {
			if _, err := os.Stat(args.Gate); err == nil {
				break
			}
			select {
			case <-ctx.Done(): // goes on to Finish: what a late process must not be able to do
				args.Gate = ""
			case <-time.After(10 * time.Millisecond):
			}
		}
		time.Sleep(25 * time.Millisecond)
		err := task.Finish(context.WithoutCancel(ctx), func(tx *sql.Tx) error {
			_, err := tx.Exec(fmt.Sprintf("INSERT INTO effect VALUES (%d, %d, '%s')", task.ID(), task.Attempt(), name))
			return err
		})
		if err != nil {
			fmt.Println("refused:", err)
		}
		return err
	})
	if err != nil {
		return err
	}
	options := quick()
	options.Logger = slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: slog.LevelWarn}))
	q, err := work.Open(db, d.dialect, &kinds, options)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	if err := q.Start(ctx); err != nil {
		return err
	}
	fmt.Println("ready")
	_, _ = io.Copy(io.Discard, os.Stdin)
	cancel()
	q.Wait()
	return nil
}

// child is a started worker process.
type child struct {
	process *os.Process
	lines   chan string // what it prints; closed at its end
	end     func()
}

// startChild starts a worker process and waits until it works.
func startChild(t *testing.T, d database, name string) *child {
	t.Helper()
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	command := exec.Command(program)
	command.Env = append(os.Environ(), "LIMITANS_WORK_CHILD="+d.address,
		"LIMITANS_WORK_DIALECT="+string(d.dialect), "LIMITANS_WORK_NAME="+name)
	var log strings.Builder
	command.Stderr = &log
	in, err := command.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := command.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := command.Start(); err != nil {
		t.Fatal(err)
	}
	c := &child{process: command.Process, lines: make(chan string, 100)}
	read := make(chan struct{})
	go func() {
		defer close(read)
		defer close(c.lines)
		for scanner := bufio.NewScanner(out); scanner.Scan(); {
			c.lines <- scanner.Text()
		}
	}()
	ended := false
	c.end = func() {
		if ended {
			return
		}
		ended = true
		_ = in.Close()
		<-read
		err := command.Wait()
		if t.Failed() || err != nil && !strings.Contains(err.Error(), "killed") {
			t.Logf("worker process %s: %v\n%s", name, err, log.String())
		}
	}
	t.Cleanup(c.end)
	if line := <-c.lines; line != "ready" {
		c.end()
		t.Fatalf("worker process %s says %q, want ready: %s", name, line, log.String())
	}
	return c
}
