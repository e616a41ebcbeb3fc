package report

import (
	"encoding/json"
	"time"

	"limitans/internal/work"
)

// Job is a job of the queue for programs. Its keys are stable.
type Job struct {
	ID        int64           `json:"id"`
	Kind      string          `json:"kind"`
	Arguments json.RawMessage `json:"arguments"` // as enqueued
	State     work.State      `json:"state"`
	Percent   *float64        `json:"percent"` // null before an attempt has told
	Note      string          `json:"note"`
	Attempt   int             `json:"attempt"`  // attempts begun
	Attempts  int             `json:"attempts"` // attempts at most
	Error     string          `json:"error"`    // why the last failed attempt failed
	ErrorCode string          `json:"error_code"`
	Worker    string          `json:"worker"`   // process of the last attempt
	Enqueued  *time.Time      `json:"enqueued"` // when it was asked for
	Due       *time.Time      `json:"due"`      // when the next attempt may begin
	Begun     *time.Time      `json:"begun"`
	Ended     *time.Time      `json:"ended"`
}

// JobOf makes the document of a job.
func JobOf(j work.Job) Job {
	l := Job{
		ID: j.ID, Kind: j.Kind, Arguments: j.Args, State: j.State, Attempt: j.Attempt, Attempts: j.Attempts, Worker: j.Worker,
		Enqueued: told(j.Enqueued), Due: told(j.Due), Begun: told(j.Begun), Ended: told(j.Ended),
	}
	if j.Progress != nil {
		l.Percent, l.Note = &j.Progress.Percent, j.Progress.Note
	}
	if j.Fault != nil {
		l.Error, l.ErrorCode = j.Fault.Error(), string(j.Fault.Code)
	}
	return l
}

// told is a time, nil for none.
func told(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	t = t.UTC()
	return &t
}
