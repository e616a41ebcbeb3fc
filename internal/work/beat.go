package work

import (
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"strings"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/rivertype"
)

// beatPatience is how long one beat may wait for the database, in beats and at
// least; a beat given up is one that the others miss.
const (
	beatPatience      = 3
	leastBeatPatience = 2 * time.Second
)

// take and leave keep the list of what this process works on.
func (q *Queue) take(t *Task) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.running[t.job.ID] = t
}

func (q *Queue) leave(t *Task) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.running[t.job.ID] == t {
		delete(q.running, t.job.ID)
	}
}

func (q *Queue) tasks() map[int64]*Task {
	q.mu.Lock()
	defer q.mu.Unlock()
	tasks := make(map[int64]*Task, len(q.running))
	for id, t := range q.running {
		tasks[id] = t
	}
	return tasks
}

// keepBeating gives the signs of life of this process's jobs, and then looks
// for those of the others, once a beat until ctx ends. A ticker drops beats
// that it is late for, so a machine that slept does not look many times at once.
func (q *Queue) keepBeating(ctx context.Context) {
	ticker := time.NewTicker(q.options.Beat)
	defer ticker.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-ticker.C:
		}
		for _, t := range q.tasks() {
			q.patiently(ctx, "a sign of life could not be written", t.giveBeat)
		}
		q.patiently(ctx, "the jobs of other processes could not be looked at", q.lookOut)
	}
}

// patiently calls f with a limit of time and logs its error.
func (q *Queue) patiently(ctx context.Context, what string, f func(context.Context) error) {
	limited, cancel := context.WithTimeout(ctx, max(beatPatience*q.options.Beat, leastBeatPatience))
	defer cancel()
	if err := f(limited); err != nil && ctx.Err() == nil {
		q.log.WarnContext(ctx, what, slog.String("error", err.Error()))
	}
}

// giveBeat writes the sign of life and the progress of a task, or ends the task
// when the job has been taken over.
func (t *Task) giveBeat(ctx context.Context) error {
	t.writing.Lock()
	defer t.writing.Unlock()
	t.mu.Lock()
	silent := t.silent
	t.mu.Unlock()
	if silent {
		return nil
	}
	row, err := t.queue.client.JobGet(ctx, t.job.ID)
	if err != nil {
		return err
	}
	t.mu.Lock()
	if row.State != rivertype.JobStateRunning || !t.sameAttempt(row) {
		t.silent, t.lost = true, true
		t.mu.Unlock()
		t.lose(errLost)
		return nil
	}
	t.beat++
	sign := pulse{Attempt: t.job.Attempt, Beat: t.beat, Progress: t.progress}
	t.mu.Unlock()
	_, err = t.queue.client.JobUpdate(ctx, t.job.ID, &river.JobUpdateParams{Output: sign})
	return err
}

// sighting is how a running job of another process last looked.
type sighting struct {
	attempt     int
	attemptedAt time.Time
	pulse       pulse
	looks       int // since it looked otherwise
}

// lookOut looks at every running job that is not this process's own, and puts
// those back whose process gives no sign of life any more.
func (q *Queue) lookOut(ctx context.Context) error {
	own := q.tasks()
	seen := map[int64]sighting{}
	var dead []*rivertype.JobRow
	var after int64
	for {
		page, err := q.client.JobList(ctx, river.NewJobListParams().
			States(rivertype.JobStateRunning).
			Where("id > @after", river.NamedArgs{"after": after}).
			OrderBy(river.JobListOrderByID, river.SortOrderAsc).First(mostListed))
		if err != nil {
			return err // no look: nobody is judged by it
		}
		for _, row := range page.Jobs {
			after = row.ID
			if own[row.ID] != nil || row.AttemptedAt == nil {
				continue
			}
			s := sighting{attempt: row.Attempt, attemptedAt: *row.AttemptedAt, pulse: metadataOf(row).pulse}
			if last, known := q.sightings[row.ID]; known && last.sameAs(s) {
				s.looks = last.looks + 1
			}
			seen[row.ID] = s
			if s.looks >= q.options.DeadBeats {
				dead = append(dead, row)
			}
		}
		if len(page.Jobs) < mostListed {
			break
		}
	}
	q.sightings = seen
	for _, row := range dead {
		if err := q.putBack(ctx, row); err != nil {
			return err
		}
	}
	return nil
}

func (s sighting) sameAs(other sighting) bool {
	return s.attempt == other.attempt && s.attemptedAt.Equal(other.attemptedAt) &&
		s.pulse.Attempt == other.pulse.Attempt && s.pulse.Beat == other.pulse.Beat
}

// putBack ends the attempt of a dead process: the job waits for its next
// attempt, or has failed when that was the last, or is cancelled when somebody
// had asked for it. Nothing happens to a job that has moved on meanwhile.
func (q *Queue) putBack(ctx context.Context, row *rivertype.JobRow) error {
	now := time.Now().UTC()
	state, ended := rivertype.JobStateAvailable, (*time.Time)(nil)
	switch {
	case metadataOf(row).asked:
		state, ended = rivertype.JobStateCancelled, &now
	case row.Attempt >= row.MaxAttempts:
		state, ended = rivertype.JobStateDiscarded, &now
	}
	failure, err := json.Marshal(rivertype.AttemptError{
		At: now, Attempt: row.Attempt,
		Error: "the process that worked on it gave no sign of life any more: " + strings.Join(row.AttemptedBy[max(0, len(row.AttemptedBy)-1):], ""),
	})
	if err != nil {
		return err
	}
	// The horizon, one step after the attempt began, keeps later attempts out.
	_, err = q.driver.GetExecutor().JobRescueMany(ctx, &riverdriver.JobRescueManyParams{
		ID: []int64{row.ID}, Error: [][]byte{failure}, FinalizedAt: []*time.Time{ended},
		ScheduledAt: []time.Time{now}, State: []string{string(state)},
		StuckHorizon: row.AttemptedAt.Add(q.driver.TimePrecision()),
	})
	if err == nil {
		q.log.WarnContext(ctx, "a job was taken from a process that gave no sign of life",
			slog.Int64("job", row.ID), slog.String("kind", row.Kind), slog.String("state", string(state)))
	}
	return err
}

// yieldLost is the fence of a late process. River writes the end of an attempt
// into whatever attempt is running, so a process that has lost its job holds
// its report back until the other's attempt is over, when it falls on nothing.
// Only a stop by force ends the waiting early.
func (q *Queue) yieldLost(ctx, running context.Context, t *Task) {
	for told := false; ; told = true {
		row, err := q.client.JobGet(ctx, t.job.ID)
		switch {
		case errors.Is(err, rivertype.ErrNotFound), err != nil && context.Cause(running) != errLost:
			return // cleared away, or not known to be lost
		case err == nil && (row.State != rivertype.JobStateRunning || t.sameAttempt(row)):
			return
		}
		if !told {
			q.log.WarnContext(ctx, "a job was lost to another process", slog.String("job", t.Key()))
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(q.options.Beat):
		}
	}
}
