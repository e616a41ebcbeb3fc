package main

import (
	"encoding/json"
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"limitans/fault"
	"limitans/internal/intake"
	"limitans/internal/work"
)

type jobsCommand struct {
	placeFlags
	State []string `placeholder:"STATE" help:"Only waiting, running, done, cancelled or failed ones; may be given more than once."`
	Limit int      `default:"100" placeholder:"N" help:"The newest N, 1 to 1000. Default: 100."`
	JSON  bool     `name:"json" help:"Print JSON instead of text."`
}

// jobLine is a job for programs. The keys are stable.
type jobLine struct {
	ID        int64           `json:"id"`
	Kind      string          `json:"kind"`
	Arguments json.RawMessage `json:"arguments"`
	State     work.State      `json:"state"`
	Percent   *float64        `json:"percent"` // null before an attempt has told
	Note      string          `json:"note"`
	Attempt   int             `json:"attempt"`
	Attempts  int             `json:"attempts"`
	Error     string          `json:"error"`
	ErrorCode string          `json:"error_code"`
	Worker    string          `json:"worker"`
	Enqueued  *time.Time      `json:"enqueued"`
	Due       *time.Time      `json:"due"`
	Begun     *time.Time      `json:"begun"`
	Ended     *time.Time      `json:"ended"`
}

// Run lists the jobs, the newest first.
func (c jobsCommand) Run(out *console) error {
	filter := work.Filter{Limit: c.Limit}
	for _, s := range c.State {
		filter.States = append(filter.States, work.State(s))
	}
	if c.Limit < 1 || c.Limit > 1000 {
		return &fault.Error{Code: fault.Invalid, Where: "--limit", What: fmt.Sprintf("%d jobs", c.Limit), Expected: "1 to 1000"}
	}
	p, err := c.open(out)
	if err != nil {
		return err
	}
	defer p.close()
	queue, err := intake.Queue(out.Context, p.store, nil, work.Options{})
	if err != nil {
		return undone{err}
	}
	jobs, err := queue.List(out.Context, filter)
	if err != nil {
		return undoneUnlessFlag(err, "list of jobs", "--state")
	}
	lines := make([]jobLine, len(jobs))
	for i, j := range jobs {
		lines[i] = lineOf(j)
	}
	if c.JSON {
		encoder := json.NewEncoder(out.Stdout)
		encoder.SetIndent("", "  ")
		return encoder.Encode(lines)
	}
	return printJobs(out, lines)
}

func lineOf(j work.Job) jobLine {
	l := jobLine{
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

// enqueued is when a job was asked for; every job was.
func enqueued(l jobLine) time.Time {
	if l.Enqueued == nil {
		return time.Time{}
	}
	return *l.Enqueued
}

func printJobs(out *console, lines []jobLine) error {
	if len(lines) == 0 {
		_, err := fmt.Fprintln(out.Stdout, "There are no jobs.")
		return err
	}
	table := tabwriter.NewWriter(out.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "job\tstate\tdone\tattempt\tkind\tasked for\tnote")
	for _, l := range lines {
		percent, note := "", l.Note
		if l.Percent != nil {
			percent = fmt.Sprintf("%.0f %%", *l.Percent)
		}
		if l.Error != "" && l.State != work.Done {
			note = l.Error
		}
		fmt.Fprintf(table, "%d\t%s\t%s\t%d of %d\t%s %s\t%s\t%s\n", l.ID, l.State, percent, l.Attempt, l.Attempts, l.Kind, subject(l.Arguments),
			enqueued(l).Format("2006-01-02 15:04"), strings.Join(strings.Fields(note), " "))
	}
	return table.Flush()
}

// subject is the scan that a job is about, or nothing.
func subject(arguments json.RawMessage) string {
	var about struct {
		Scan string `json:"scan"`
	}
	if json.Unmarshal(arguments, &about) != nil {
		return ""
	}
	return about.Scan
}
