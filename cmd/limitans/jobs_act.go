package main

import (
	"context"
	"fmt"

	"limitans/fault"
	"limitans/internal/intake"
	"limitans/internal/work"
)

// jobsVerbs are the jobs with what can be done to one; alone it lists them.
type jobsVerbs struct {
	List   jobsCommand `cmd:"" default:"withargs" help:"List jobs with their state, progress and error; what limitans jobs alone does."`
	Cancel jobsCancel  `cmd:"" help:"Ask that a job end: a waiting one is cancelled at once, a running one ends within seconds."`
	Retry  jobsRetry   `cmd:"" help:"Let a failed or cancelled job wait for another attempt, and a waiting one begin now."`
}

// oneJob names a job of a record.
type oneJob struct {
	placeFlags
	ID int64 `arg:"" name:"id" help:"Number of the job, as limitans jobs lists it."`
}

// on does something to the job.
func (c oneJob) on(out *console, do func(context.Context, *work.Queue, int64) (work.Job, error)) (work.Job, error) {
	if c.ID < 1 {
		return work.Job{}, &fault.Error{Code: fault.Invalid, Where: "<id>", What: fmt.Sprintf("%d is no number of a job", c.ID), Expected: "1 or more"}
	}
	p, err := c.open(out)
	if err != nil {
		return work.Job{}, err
	}
	defer p.close()
	queue, err := intake.Queue(out.Context, p.store, nil, work.Options{})
	if err != nil {
		return work.Job{}, undone{err}
	}
	job, err := do(out.Context, queue, c.ID)
	if err != nil {
		return job, undone{err}
	}
	return job, nil
}

type jobsCancel struct{ oneJob }

// Run asks that the job end and says how it stands.
func (c jobsCancel) Run(out *console) error {
	job, err := c.on(out, func(ctx context.Context, q *work.Queue, id int64) (work.Job, error) { return q.Cancel(ctx, id) })
	if err != nil {
		return err
	}
	says := "is " + string(job.State) + " and was left as it is"
	switch {
	case job.State == work.Cancelled:
		says = "is cancelled"
	case job.State == work.Running:
		says = "was asked to end; it ends with its next error, or well if its work is done"
	}
	_, err = fmt.Fprintf(out.Stdout, "Job %d %s.\n", job.ID, says)
	return err
}

type jobsRetry struct{ oneJob }

// Run lets the job wait for another attempt and says how it stands.
func (c jobsRetry) Run(out *console) error {
	job, err := c.on(out, func(ctx context.Context, q *work.Queue, id int64) (work.Job, error) { return q.Retry(ctx, id) })
	if err != nil {
		return err
	}
	says := "waits for attempt " + fmt.Sprint(job.Attempt+1) + "; limitans worker begins it"
	if job.State != work.Waiting {
		says = "is " + string(job.State) + " and was left as it is"
	}
	_, err = fmt.Fprintf(out.Stdout, "Job %d %s.\n", job.ID, says)
	return err
}
