package work

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"

	"limitans/fault"
)

// State is where a job stands.
type State string

// The states; the package comment draws how one leads to another.
const (
	Waiting   State = "waiting"   // not begun, or waiting for its next attempt
	Running   State = "running"   // a process works on it
	Done      State = "done"      // it ended well
	Cancelled State = "cancelled" // a person stopped it
	Failed    State = "failed"    // its attempts are used up, or its fault cannot be mended by repeating
)

// riverStates says which of River's states a state covers.
var riverStates = map[State][]rivertype.JobState{
	Waiting: {
		rivertype.JobStateAvailable, rivertype.JobStatePending, rivertype.JobStateRetryable, rivertype.JobStateScheduled,
	},
	Running:   {rivertype.JobStateRunning},
	Done:      {rivertype.JobStateCompleted},
	Cancelled: {rivertype.JobStateCancelled},
	Failed:    {rivertype.JobStateDiscarded},
}

// unfinishedStates are those in which a unique job keeps out its equals.
var unfinishedStates = append(append([]rivertype.JobState{}, riverStates[Waiting]...), riverStates[Running]...)

// Job is a job as a page or a command shows it.
type Job struct {
	ID    int64
	Kind  string
	Args  json.RawMessage // as enqueued; may name a person
	State State
	// CancelAsked: somebody asked it to end; it is still running.
	CancelAsked bool
	// Attempt counts the attempts begun, Attempts the most there will be.
	Attempt, Attempts int
	// Progress is nil before the last attempt has reported any.
	Progress *Progress
	// Fault is why the last failed attempt failed, nil if none did.
	Fault *fault.Error
	// Worker names the process of the last attempt, empty before the first.
	Worker string
	// Times of the database's own queue; zero where it has not come to that.
	// Due is when the next attempt may begin.
	Enqueued, Due, Begun, Ended time.Time
}

// Keys in the metadata of a job. River keeps what JobUpdate writes under output.
const (
	keyPulse  = rivertype.MetadataKeyOutput
	keyFault  = "limitans:fault"
	keyCancel = "cancel_attempted_at"
)

// pulse is the sign of life of a running job, with its progress.
type pulse struct {
	Attempt  int       `json:"attempt"`
	Beat     int       `json:"beat"`
	Progress *Progress `json:"progress,omitempty"`
}

// faultRecord is a fault as it lies in the metadata of a job.
type faultRecord struct {
	Attempt  int        `json:"attempt"`
	Code     fault.Code `json:"code"`
	Where    string     `json:"where,omitempty"`
	What     string     `json:"what"`
	Expected string     `json:"expected,omitempty"`
	Mend     string     `json:"mend,omitempty"`
}

// metadata is the part of a job's metadata that concerns us.
type metadata struct {
	pulse pulse
	fault faultRecord
	asked bool
}

// metadataOf reads what it can. Metadata that another program wrote is not
// ours to refuse: the job is shown without what cannot be read.
func metadataOf(row *rivertype.JobRow) metadata {
	var m metadata
	var parts map[string]json.RawMessage
	if json.Unmarshal(row.Metadata, &parts) != nil {
		return m
	}
	if json.Unmarshal(parts[keyPulse], &m.pulse) != nil {
		m.pulse = pulse{}
	}
	if json.Unmarshal(parts[keyFault], &m.fault) != nil {
		m.fault = faultRecord{}
	}
	_, m.asked = parts[keyCancel]
	return m
}

// jobOf shows a row of River as a job.
func jobOf(row *rivertype.JobRow) Job {
	meta := metadataOf(row)
	job := Job{
		ID: row.ID, Kind: row.Kind, Args: row.EncodedArgs, State: stateOf(row.State),
		Attempt: row.Attempt, Attempts: row.MaxAttempts,
		Enqueued: row.CreatedAt, Due: row.ScheduledAt,
		CancelAsked: meta.asked && row.State == rivertype.JobStateRunning,
	}
	if meta.pulse.Attempt == row.Attempt {
		job.Progress = meta.pulse.Progress
	}
	if n := len(row.AttemptedBy); n > 0 {
		job.Worker = row.AttemptedBy[n-1]
	}
	if row.AttemptedAt != nil {
		job.Begun = *row.AttemptedAt
	}
	if row.FinalizedAt != nil {
		job.Ended = *row.FinalizedAt
	}
	if n := len(row.Errors); n > 0 && row.State != rivertype.JobStateCancelled {
		job.Fault = faultOf(row.Errors[n-1], meta.fault)
	}
	return job
}

// faultOf rebuilds the fault of a failed attempt: from the record that the
// attempt left, or from its text alone where River wrote the error.
func faultOf(last rivertype.AttemptError, record faultRecord) *fault.Error {
	if record.Attempt == last.Attempt && record.What != "" {
		return &fault.Error{
			Code: record.Code, Where: record.Where, What: record.What, Expected: record.Expected, Mend: record.Mend,
		}
	}
	return &fault.Error{Code: fault.Internal, What: strings.Join(strings.Fields(last.Error), " ")}
}

func stateOf(s rivertype.JobState) State {
	for state, covered := range riverStates {
		for _, c := range covered {
			if c == s {
				return state
			}
		}
	}
	return State(s) // a state of a later River: shown as it is
}

// Job returns one job. Errors: NotFound, Internal.
func (q *Queue) Job(ctx context.Context, id int64) (Job, error) {
	row, err := q.client.JobGet(ctx, id)
	return jobOrFault(row, err, id, "read")
}

// mostListed is how many jobs one call of List returns at most.
const mostListed = 1000

// Filter chooses jobs; its zero value chooses the 100 newest.
type Filter struct {
	Kind   string  // all if empty
	States []State // all if empty
	Before int64   // only jobs enqueued before the one of this ID; all if zero
	Limit  int     // 1 to 1000; 100 if zero
}

// List returns jobs, the newest first. The next page is asked for with Before
// set to the ID of the last one.
//
// Errors: Invalid, Internal.
func (q *Queue) List(ctx context.Context, filter Filter) ([]Job, error) {
	invalid := func(what, expected string) ([]Job, error) {
		return nil, &fault.Error{Code: fault.Invalid, Where: "list of jobs", What: what, Expected: expected}
	}
	setDefault(&filter.Limit, 100)
	if filter.Limit < 1 || filter.Limit > mostListed {
		return invalid(fmt.Sprintf("%d jobs at once", filter.Limit), fmt.Sprintf("1 to %d", mostListed))
	}
	params := river.NewJobListParams().OrderBy(river.JobListOrderByID, river.SortOrderDesc).First(filter.Limit)
	if filter.Kind != "" {
		params = params.Kinds(filter.Kind)
	}
	if filter.Before != 0 {
		params = params.Where("id < @before", river.NamedArgs{"before": filter.Before})
	}
	// Without this River leaves no state out, but that is not in its promise.
	states := rivertype.JobStates()
	if len(filter.States) > 0 {
		states = nil
		for _, s := range filter.States {
			covered, known := riverStates[s]
			if !known {
				return invalid("state "+string(s)+" is not known", "waiting, running, done, cancelled or failed")
			}
			states = append(states, covered...)
		}
	}
	found, err := q.client.JobList(ctx, params.States(states...))
	if err != nil {
		return nil, broken("list its jobs", err)
	}
	jobs := make([]Job, len(found.Jobs))
	for i, row := range found.Jobs {
		jobs[i] = jobOf(row)
	}
	return jobs, nil
}
