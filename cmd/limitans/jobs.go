package main

import (
	"encoding/json"
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"limitans/fault"
	"limitans/internal/intake"
	"limitans/internal/report"
	"limitans/internal/work"
)

type jobsCommand struct {
	placeFlags
	State []string `placeholder:"STATE" help:"Only waiting, running, done, cancelled or failed ones; may be given more than once."`
	Limit int      `default:"100" placeholder:"N" help:"The newest N, 1 to 1000. Default: 100."`
	JSON  bool     `name:"json" help:"Print JSON instead of text."`
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
	lines := make([]report.Job, len(jobs))
	for i, j := range jobs {
		lines[i] = report.JobOf(j)
	}
	if c.JSON {
		encoder := json.NewEncoder(out.Stdout)
		encoder.SetIndent("", "  ")
		return encoder.Encode(lines)
	}
	return printJobs(out, lines)
}

// enqueued is when a job was asked for; every job was.
func enqueued(l report.Job) time.Time {
	if l.Enqueued == nil {
		return time.Time{}
	}
	return *l.Enqueued
}

func printJobs(out *console, lines []report.Job) error {
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
