package main

import (
	"context"
	"fmt"
	"os/signal"
	"sync"
	"syscall"
	"time"

	"limitans/fault"
	"limitans/internal/intake"
	"limitans/internal/work"
)

type workerCommand struct {
	placeFlags
	UntilIdle bool `help:"End when no job is running or due."`
	AtOnce    int  `default:"1" placeholder:"N" help:"Jobs at the same time in this process. Each takes the memory of its scan, and all cores it can get. Default: 1."`
}

// Run works on waiting jobs until it is interrupted.
func (c workerCommand) Run(out *console) error {
	if c.AtOnce < 1 {
		return &fault.Error{Code: fault.Invalid, Where: "--at-once", What: fmt.Sprintf("%d jobs", c.AtOnce), Expected: "1 or more"}
	}
	p, err := c.open(out)
	if err != nil {
		return err
	}
	defer p.close()
	var saying sync.Mutex
	said := func(format string, args ...any) {
		saying.Lock()
		defer saying.Unlock()
		fmt.Fprintf(out.Stdout, format+"\n", args...)
	}
	bench := intake.Bench{
		Store: p.store, Vault: p.vault, Program: version(), Now: out.Now,
		Told: func(job int64, what string) { said("job %d: %s", job, what) },
	}
	var kinds work.Kinds
	if err := bench.Register(&kinds); err != nil {
		return undone{err}
	}
	queue, err := intake.Queue(out.Context, p.store, &kinds, work.Options{Workers: c.AtOnce})
	if err != nil {
		return undone{err}
	}
	// A service is stopped by SIGTERM.
	ctx, stop := signal.NotifyContext(out.Context, syscall.SIGTERM)
	defer stop()
	started := out.Now()
	if err := queue.Start(ctx); err != nil {
		return undone{err}
	}
	if !c.UntilIdle {
		said("Working on jobs of %s; an interrupt ends it, and what is not done stays in the queue.", p.store.Where())
		<-ctx.Done()
		queue.Wait()
		said("Stopped.")
		return nil
	}
	idling := untilIdle(ctx, out, queue)
	stop()
	queue.Wait()
	if idling != nil {
		return undone{idling}
	}
	return c.sum(out, queue, started)
}

// untilIdle returns when nothing is running or due.
func untilIdle(ctx context.Context, out *console, queue *work.Queue) error {
	for {
		busy, err := isBusy(ctx, queue, out.Now())
		if err != nil || !busy {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(200 * time.Millisecond):
		}
	}
}

// isBusy looks at all jobs that have not ended; those that wait for a later
// attempt do not count.
func isBusy(ctx context.Context, queue *work.Queue, now time.Time) (bool, error) {
	filter := work.Filter{Kind: intake.MeasureKind, States: []work.State{work.Waiting, work.Running}, Limit: 1000}
	for {
		jobs, err := queue.List(ctx, filter)
		if err != nil {
			return false, err
		}
		for _, j := range jobs {
			if j.State == work.Running || !j.Due.After(now) {
				return true, nil
			}
			filter.Before = j.ID
		}
		if len(jobs) < filter.Limit {
			return false, nil
		}
	}
}

// sum says what has failed since the start, and what waits.
func (c workerCommand) sum(out *console, queue *work.Queue, started time.Time) error {
	waiting, err := queue.List(out.Context, work.Filter{States: []work.State{work.Waiting}, Limit: 1000})
	if err != nil {
		return undone{err}
	}
	failed, err := queue.List(out.Context, work.Filter{States: []work.State{work.Failed}, Limit: 1000})
	if err != nil {
		return undone{err}
	}
	count := 0
	for _, j := range failed {
		if !j.Ended.Before(started) {
			count++
		}
	}
	if len(waiting) > 0 {
		fmt.Fprintf(out.Stdout, "%d jobs wait for a later attempt.\n", len(waiting))
	}
	if count > 0 {
		return undone{fmt.Errorf("%d jobs failed; limitans jobs says why", count)}
	}
	fmt.Fprintln(out.Stdout, "Nothing is left to do.")
	return nil
}
