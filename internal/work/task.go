package work

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"runtime/debug"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/rivertype"

	"limitans/fault"
)

// errLost ends the run of a job that another process has taken over.
var errLost = errors.New("the job was taken over by another process")

// Progress is how far an attempt has come.
type Progress struct {
	Percent float64 `json:"percent"`        // 0 to 100
	Note    string  `json:"note,omitempty"` // what is being done, one line
}

const longestNote = 200 // characters; a note is a line on a page

// Task is one attempt of one job, in the hands of the function that works on
// it. Its methods may be called from several goroutines, but none after the
// function has returned.
type Task struct {
	queue *Queue
	job   *river.Job[payload]
	ctx   context.Context // River's, which carries the attempt's own book-keeping
	lose  context.CancelCauseFunc

	writing sync.Mutex // held while a beat is written; taken before mu

	mu       sync.Mutex
	progress *Progress
	beat     int
	course
}

// ID is the number of the job, the same on every attempt.
func (t *Task) ID() int64 { return t.job.ID }

// Attempt counts from 1.
func (t *Task) Attempt() int { return t.job.Attempt }

// Key names the job for the world outside the database, "scan.measure-17": the
// same on every attempt, different for every other job of this database. An
// effect outside is named by it, so that a repetition replaces what an earlier
// attempt left.
func (t *Task) Key() string { return fmt.Sprintf("%s-%d", t.job.Kind, t.job.ID) }

// Progress reports how far the attempt has come: percent in 0 to 100 and a note
// of one line. It only remembers; the next beat writes, so it may be called as
// often as one likes.
//
// Errors: Invalid for a percentage out of range or a note that is too long or
// has several lines; the progress is then as it was.
func (t *Task) Progress(percent float64, note string) error {
	invalid := func(what, expected string) error {
		return &fault.Error{Code: fault.Invalid, Where: "progress of job " + t.Key(), What: what, Expected: expected}
	}
	switch {
	case math.IsNaN(percent) || percent < 0 || percent > 100:
		return invalid(fmt.Sprintf("%v %%", percent), "0 to 100")
	case utf8.RuneCountInString(note) > longestNote:
		return invalid("the note is too long", fmt.Sprintf("at most %d characters", longestNote))
	case !utf8.ValidString(note) || strings.ContainsAny(note, "\r\n\x00"):
		return invalid("the note is not one line of text", "valid UTF-8 without line breaks")
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	t.progress = &Progress{Percent: percent, Note: note}
	return nil
}

// Finish writes the effect of the job and ends the job, both in one
// transaction: effect gets it and must neither commit nor roll back. However
// often the job is run, one Finish commits. After a nil the function should
// return nil; whatever it returns, the job is done.
//
// Errors: that of effect, unchanged; Conflict when the job is no longer this
// attempt's to end, because another process took it over; Internal for the
// database. After an error nothing was written and the attempt goes on.
func (t *Task) Finish(ctx context.Context, effect func(tx *sql.Tx) error) error {
	// A beat would wait for the row that the transaction locks.
	before := t.silence()
	switch {
	case before.lost:
		return t.lostFault()
	case before.silent:
		return &fault.Error{Code: fault.Invalid, Where: "job " + t.Key(), What: "its attempt is over already"}
	}
	err := t.finish(ctx, effect)
	t.mu.Lock()
	defer t.mu.Unlock()
	t.silent, t.finished = err == nil, err == nil
	return err
}

// course is how an attempt stands.
type course struct {
	silent   bool // no more beats: the attempt is over or in Finish
	lost     bool // another process has taken the job over
	finished bool // Finish has committed
}

// silence ends the beats, waits for one that is being written and tells how
// the attempt stood before.
func (t *Task) silence() course {
	t.writing.Lock()
	defer t.writing.Unlock()
	t.mu.Lock()
	defer t.mu.Unlock()
	before := t.course
	t.silent = true
	return before
}

func (t *Task) lostFault() error {
	return &fault.Error{Code: fault.Conflict, Where: "job " + t.Key(), What: errLost.Error(), Cause: errLost}
}

func (t *Task) finish(ctx context.Context, effect func(tx *sql.Tx) error) error {
	ending := "end job " + t.Key()
	tx, err := t.queue.db.BeginTx(ctx, nil)
	if err != nil {
		return broken(ending, err)
	}
	defer func() { _ = tx.Rollback() }() // after a commit it does nothing
	// Running to done is the gate: the update locks the row, and only one
	// transaction finds it running.
	if err := t.recordProgress(); err != nil {
		return broken(ending, err)
	}
	done, err := river.JobCompleteTx[riverdriver.Driver[*sql.Tx]](t.ctx, tx, t.job)
	switch {
	case errors.Is(err, rivertype.ErrNotFound):
		return t.lostFault()
	case err != nil:
		return broken(ending, err)
	case !t.sameAttempt(done.JobRow) || done.State != rivertype.JobStateCompleted:
		return t.lostFault()
	}
	if err := effect(tx); err != nil {
		return err
	}
	if err := tx.Commit(); err != nil {
		return broken(ending, err)
	}
	return nil
}

// sameAttempt tells whether a row still shows this attempt. The time is part of
// it: a job that went back and forth may come to the same number again.
func (t *Task) sameAttempt(row *rivertype.JobRow) bool {
	n, own := len(row.AttemptedBy), len(t.job.AttemptedBy)
	return row.Attempt == t.job.Attempt && n == own && n > 0 && row.AttemptedBy[n-1] == t.job.AttemptedBy[own-1] &&
		row.AttemptedAt != nil && t.job.AttemptedAt != nil && row.AttemptedAt.Equal(*t.job.AttemptedAt)
}

// recordProgress leaves the last progress for River to write with the end of
// the attempt.
func (t *Task) recordProgress() error {
	t.mu.Lock()
	last := pulse{Attempt: t.job.Attempt, Beat: t.beat, Progress: t.progress}
	t.mu.Unlock()
	return river.RecordOutput(t.ctx, last)
}

// worker runs the jobs of one kind for River.
type worker struct {
	river.WorkerDefaults[payload]
	queue   *Queue
	handler handler
}

// NextRetry is when a failed job begins again.
func (w *worker) NextRetry(job *river.Job[payload]) time.Time {
	return time.Now().Add(w.handler.backOff(job.Attempt))
}

// Work is one attempt: run with beats, then tell River what came of it.
func (w *worker) Work(ctx context.Context, job *river.Job[payload]) error {
	running, lose := context.WithCancelCause(ctx)
	defer lose(nil)
	t := &Task{queue: w.queue, job: job, ctx: ctx, lose: lose}
	w.queue.take(t)
	err, panicked := w.guarded(running, t)
	finished := t.silence().finished
	w.queue.leave(t)
	if !finished {
		w.queue.yieldLost(ctx, running, t)
	}
	if recording := t.recordProgress(); recording != nil && err == nil {
		err = recording
	}
	switch {
	case err == nil:
		return nil
	case finished:
		return nil // nobody listens after Finish
	case !panicked && ctx.Err() != nil:
		return ctx.Err() // River knows whether it was a stop or a person
	}
	return t.failed(err, panicked)
}

// guarded runs the function of the kind and makes a panic an error.
func (w *worker) guarded(ctx context.Context, t *Task) (err error, panicked bool) {
	defer func() {
		if value := recover(); value != nil {
			w.queue.log.ErrorContext(ctx, "a job panicked", slog.String("job", t.Key()),
				slog.Any("value", value), slog.String("stack", string(debug.Stack())))
			panicked = true
			err = &fault.Error{
				Code: fault.Internal, Where: "job " + t.Key(), What: fmt.Sprintf("its work panicked: %v", value),
				Mend: "report it: this is a defect of the program",
			}
		}
	}()
	return w.handler.run(ctx, t, t.job.Args.raw), false
}

// failed records the fault of the attempt, and lets no attempt follow where it
// could not end otherwise.
func (t *Task) failed(err error, panicked bool) error {
	var f *fault.Error
	if !errors.As(err, &f) {
		f = &fault.Error{Code: fault.Internal, What: err.Error()}
	}
	record := faultRecord{t.job.Attempt, f.Code, f.Where, f.What, f.Expected, f.Mend}
	if setting := river.MetadataSet(t.ctx, keyFault, record); setting != nil {
		return errors.Join(err, setting)
	}
	if panicked || f.Code != fault.Internal {
		// River gives up a job on its last attempt; the row is not changed by this.
		t.job.MaxAttempts = t.job.Attempt
	}
	return err
}
