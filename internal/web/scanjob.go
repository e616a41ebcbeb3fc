package web

import (
	"context"
	"encoding/json"
	"net/http"
	"strconv"

	"limitans/fault"
	"limitans/internal/intake"
	"limitans/internal/record"
	"limitans/internal/work"
)

// jobLine is the measuring of a scan as a page shows it.
type jobLine struct {
	ID      int64
	State   work.State
	Active  bool // waiting or running
	Asked   bool // somebody asked it to end
	Percent int
	Doing   string
	Failed  string // why it failed
	Mend    string
}

// jobsShown bounds how many measuring jobs are looked at; older ones have ended.
const jobsShown = 300

// jobsOf lists the newest measuring job of each scan.
func (s *Server) jobsOf(ctx context.Context) (map[record.ID]*jobLine, error) {
	out := map[record.ID]*jobLine{}
	if s.Queue == nil {
		return out, nil
	}
	jobs, err := s.Queue.List(ctx, work.Filter{Kind: intake.MeasureKind, Limit: jobsShown})
	if err != nil {
		return nil, err
	}
	for _, j := range jobs {
		var about struct {
			Scan record.ID `json:"scan"`
		}
		if json.Unmarshal(j.Args, &about) == nil && out[about.Scan] == nil {
			out[about.Scan] = jobLineOf(j)
		}
	}
	return out, nil
}

func jobLineOf(j work.Job) *jobLine {
	l := &jobLine{ID: j.ID, State: j.State, Active: j.State == work.Waiting || j.State == work.Running, Asked: j.CancelAsked, Doing: "waiting for its turn"}
	if j.State == work.Running {
		l.Doing = "beginning"
	}
	if j.Progress != nil {
		l.Percent, l.Doing = int(j.Progress.Percent), j.Progress.Note
	}
	if j.State == work.Failed && j.Fault != nil {
		l.Failed, l.Mend = j.Fault.Error(), j.Fault.Mend
	}
	return l
}

// measureScan asks for the measurement of a scan.
func (s *Server) measureScan(w http.ResponseWriter, r *http.Request, v *visitor) error {
	noun, _, err := s.scanAndEye(r)
	if err != nil {
		return err
	}
	if err := s.askMeasure(r.Context(), noun.ID); err != nil {
		return err
	}
	http.Redirect(w, r, scanPath(noun), http.StatusSeeOther)
	return nil
}

func (s *Server) askMeasure(ctx context.Context, scan record.ID) error {
	in, err := s.intake()
	if err != nil {
		return err
	}
	_, _, err = in.Measure(ctx, scan)
	return err
}

// intake brings files in for this server.
func (s *Server) intake() (*intake.Intake, error) {
	if s.Vault == nil || s.Queue == nil {
		return nil, &fault.Error{Code: fault.Unsupported, Where: "scan", What: "this server takes no files", Mend: "ask whoever runs it"}
	}
	return &intake.Intake{Store: s.Store, Vault: s.Vault, Queue: s.Queue, Program: s.Program, Now: s.Now}, nil
}

// cancelMeasuring ends the measuring of a scan.
func (s *Server) cancelMeasuring(w http.ResponseWriter, r *http.Request, _ *visitor) error {
	noun, _, err := s.scanAndEye(r)
	if err != nil {
		return err
	}
	jobs, err := s.jobsOf(r.Context())
	if err != nil {
		return err
	}
	// The number in the form is the job that was shown; another one is left alone.
	if job := jobs[noun.ID]; job != nil && job.Active && strconv.FormatInt(job.ID, 10) == r.FormValue("job") {
		if _, err := s.Queue.Cancel(r.Context(), job.ID); err != nil {
			return err
		}
	}
	http.Redirect(w, r, scanPath(noun), http.StatusSeeOther)
	return nil
}
