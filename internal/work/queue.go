package work

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/rivertype"

	"limitans/fault"
)

// Options says how a process takes part. The zero value is for daily use.
type Options struct {
	Workers   int           // jobs at the same time in this process; 2 if zero
	Poll      time.Duration // between two looks for new jobs; 1 s if zero
	Beat      time.Duration // between two signs of life, which carry the progress; 1 s if zero
	DeadBeats int           // looks without a sign of life after which a job is taken over; 10 if zero, at least 3
	Grace     time.Duration // running jobs may end by themselves this long after a stop; 3 s if zero
	Logger    *slog.Logger  // events for the operator; none if nil
}

// Kept for how long a job stays listed after its end. They are for people who
// look for what happened; the record itself has its own history.
const (
	keepDone = 7 * 24 * time.Hour
	keepBad  = 90 * 24 * time.Hour
	// never switches River's rescue off, which goes by the age of a job.
	never = 100 * 365 * 24 * time.Hour
)

func (o Options) withDefaults() (Options, error) {
	bad := func(what, expected string) (Options, error) {
		return o, &fault.Error{Code: fault.Invalid, Where: "options of the job queue", What: what, Expected: expected}
	}
	switch {
	case o.Workers < 0 || o.Workers > river.QueueNumWorkersMax:
		return bad(fmt.Sprintf("%d workers", o.Workers), fmt.Sprintf("1 to %d", river.QueueNumWorkersMax))
	case o.Poll < 0 || o.Beat < 0 || o.Grace < 0:
		return bad("a negative time", "a positive one, or zero for the default")
	case o.Poll > 0 && o.Poll < river.FetchPollIntervalMin:
		return bad(fmt.Sprintf("looks %v apart", o.Poll), fmt.Sprintf("at least %v", river.FetchPollIntervalMin))
	case o.DeadBeats != 0 && o.DeadBeats < 3:
		return bad(fmt.Sprintf("a job is taken over after %d looks", o.DeadBeats), "at least 3, since a beat may come late")
	}
	setDefault(&o.Workers, 2)
	setDefault(&o.Poll, time.Second)
	setDefault(&o.Beat, time.Second)
	setDefault(&o.DeadBeats, 10)
	setDefault(&o.Grace, 3*time.Second)
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	return o, nil
}

func setDefault[T int | time.Duration](value *T, otherwise T) {
	if *value == 0 {
		*value = otherwise
	}
}

// Queue is one process's part in the work: it enqueues, lists and cancels, and
// once started works on the kinds it was opened with.
type Queue struct {
	db      *sql.DB
	driver  riverdriver.Driver[*sql.Tx]
	client  *river.Client[*sql.Tx]
	options Options
	log     *slog.Logger
	able    bool // has kinds to work on

	mu      sync.Mutex
	running map[int64]*Task
	started bool
	over    chan struct{} // closed when everything that Start began has ended

	sightings map[int64]sighting // of the look-out alone
}

// Open makes a queue on a database whose tables are there (Migrate). kinds is
// what this process works on when it is started; nil for one that only
// enqueues, lists and cancels. Nothing runs yet. The handle stays the caller's
// and is closed after Wait.
//
// Errors: Invalid.
func Open(db *sql.DB, dialect Dialect, kinds *Kinds, options Options) (*Queue, error) {
	options, err := options.withDefaults()
	if err != nil {
		return nil, err
	}
	driver, err := driverFor(db, dialect)
	if err != nil {
		return nil, err
	}
	q := &Queue{
		db: db, driver: driver, options: options, log: options.Logger,
		running: map[int64]*Task{}, over: make(chan struct{}), sightings: map[int64]sighting{},
	}
	config := &river.Config{
		CompletedJobRetentionPeriod: keepDone,
		CancelledJobRetentionPeriod: keepBad,
		DiscardedJobRetentionPeriod: keepBad,
		FetchCooldown:               min(options.Poll, river.FetchCooldownDefault),
		FetchPollInterval:           options.Poll,
		FetchOnlyKnownKinds:         true,
		SkipUnknownJobCheck:         true,
		JobTimeout:                  -1, // a film takes as long as it takes
		RescueStuckJobsAfter:        never,
		PollOnly:                    true,
		SoftStopTimeout:             options.Grace,
		Logger:                      options.Logger,
	}
	if kinds != nil && len(kinds.handlers) > 0 {
		q.able = true
		config.Queues = map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: options.Workers}}
		config.Workers = river.NewWorkers()
		for _, h := range kinds.handlers {
			river.AddWorkerArgs(config.Workers, payload{kind: h.name}, &worker{queue: q, handler: h})
		}
	}
	if q.client, err = river.NewClient(driver, config); err != nil {
		return nil, broken("open it", err)
	}
	return q, nil
}

// Start begins to work until ctx ends. Then no new job is begun, running jobs
// have Options.Grace to end by themselves, the contexts of the rest end and
// these jobs go back into the queue, the attempt not counted. Wait returns when
// that is done. A queue is started once.
//
// Errors: Invalid for a queue without kinds or started before; Internal when
// the database cannot be reached.
func (q *Queue) Start(ctx context.Context) error {
	q.mu.Lock()
	defer q.mu.Unlock()
	if !q.able {
		return &fault.Error{Code: fault.Invalid, Where: "job queue", What: "there is no kind of job to work on", Mend: "open it with registered kinds"}
	}
	if q.started {
		return &fault.Error{Code: fault.Invalid, Where: "job queue", What: "it was started before"}
	}
	if err := q.client.Start(ctx); err != nil {
		return broken("start", err)
	}
	q.started = true
	// Beats go on through the grace time: a job that is allowed to end is alive.
	beating, stopBeating := context.WithCancel(context.WithoutCancel(ctx))
	beaten := make(chan struct{})
	go func() {
		defer close(beaten)
		q.keepBeating(beating)
	}()
	go func() {
		defer close(q.over)
		<-q.client.Stopped()
		stopBeating()
		<-beaten
	}()
	return nil
}

// Wait returns when a started queue has stopped after the end of its context,
// at once if it was never started. A job that does not heed the end of its
// context is waited for.
func (q *Queue) Wait() {
	q.mu.Lock()
	started := q.started
	q.mu.Unlock()
	if started {
		<-q.over
	}
}

// Enqueued says what became of a request.
type Enqueued struct {
	ID int64
	// Existing: an unfinished job of the kind with equal arguments is there
	// already (Kind.Unique); ID is that job's, and none was added.
	Existing bool
}

// Enqueue asks for a job in the transaction of the change that it belongs to:
// it is there when tx commits and never was when tx rolls back. tx must be of
// the queue's own database; nil enqueues at once. No function need be registered
// for the kind in this process.
//
// Errors: Invalid and TooLarge for the declaration and its arguments; Internal
// for the database, after which tx should be rolled back.
func Enqueue[A any](ctx context.Context, q *Queue, tx *sql.Tx, kind Kind[A], args A) (Enqueued, error) {
	if err := kind.valid(); err != nil {
		return Enqueued{}, err
	}
	encoded, err := kind.encode(args)
	if err != nil {
		return Enqueued{}, err
	}
	how := &river.InsertOpts{MaxAttempts: kind.attempts()}
	if kind.Unique {
		how.UniqueOpts = river.UniqueOpts{ByArgs: true, ByState: unfinishedStates}
	}
	var result *rivertype.JobInsertResult
	if tx == nil {
		result, err = q.client.Insert(ctx, encoded, how)
	} else {
		result, err = q.client.InsertTx(ctx, tx, encoded, how)
	}
	if err != nil {
		return Enqueued{}, broken("enqueue a job of kind "+kind.Name, err)
	}
	return Enqueued{ID: result.Job.ID, Existing: result.UniqueSkippedAsDuplicate}, nil
}

// Cancel asks that a job end. A waiting job is cancelled at once; the context
// of a running one ends within about two seconds, in this process at once, and
// the job is cancelled when its function returns with an error. A function that
// has all its work done may still end well. A finished job is left as it is.
// The job is returned as it is now.
//
// Errors: NotFound, Internal.
func (q *Queue) Cancel(ctx context.Context, id int64) (Job, error) {
	row, err := q.client.JobCancel(ctx, id)
	return jobOrFault(row, err, id, "cancel")
}

// Retry makes a failed or cancelled job wait for another attempt, one beyond
// its limit if that was reached, and begins the next attempt of a waiting job
// now. A running job is left as it is. The job is returned as it is now.
//
// Errors: Conflict for a job that is done, and where an equal job of a unique
// kind is unfinished; NotFound, Internal.
func (q *Queue) Retry(ctx context.Context, id int64) (Job, error) {
	conflict := func(what string, cause error) error {
		return &fault.Error{Code: fault.Conflict, Where: fmt.Sprintf("job %d", id), What: what, Cause: cause}
	}
	tx, err := q.db.BeginTx(ctx, nil)
	if err != nil {
		return Job{}, broken(fmt.Sprintf("retry job %d", id), err)
	}
	defer func() { _ = tx.Rollback() }() // after a commit it does nothing
	// River would begin a job that is done once more. Only a running job gets
	// done, and that is left alone here.
	before, err := q.client.JobGetTx(ctx, tx, id)
	if err != nil {
		return jobOrFault(nil, err, id, "retry")
	}
	if before.State == rivertype.JobStateCompleted {
		return Job{}, conflict("it is done; a retry would do its work twice", nil)
	}
	if before.State == rivertype.JobStateRunning {
		return jobOf(before), nil
	}
	row, err := q.client.JobRetryTx(ctx, tx, id)
	if err == nil {
		err = tx.Commit()
	}
	if breaksUnique(err) {
		return Job{}, conflict("an equal job is waiting or running", err)
	}
	return jobOrFault(row, err, id, "retry")
}

// breaksUnique tells a broken unique index, by the code of the database:
// SQLSTATE 23505 in PostgreSQL, SQLITE_CONSTRAINT_UNIQUE in SQLite.
func breaksUnique(err error) bool {
	const sqliteConstraintUnique = 2067
	var postgres interface{ SQLState() string }
	var sqlite interface{ Code() int }
	return errors.As(err, &postgres) && postgres.SQLState() == "23505" ||
		errors.As(err, &sqlite) && sqlite.Code() == sqliteConstraintUnique
}

// jobOrFault turns River's answer about one job into ours.
func jobOrFault(row *rivertype.JobRow, err error, id int64, verb string) (Job, error) {
	where := fmt.Sprintf("job %d", id)
	switch {
	case errors.Is(err, rivertype.ErrNotFound):
		return Job{}, &fault.Error{Code: fault.NotFound, Where: where, What: "there is no such job", Mend: "list the jobs; finished ones are cleared away in time"}
	case err != nil:
		return Job{}, broken(fmt.Sprintf("%s job %d", verb, id), err)
	}
	return jobOf(row), nil
}
