package web

import (
	"net/http"
	"strconv"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/report"
	"limitans/internal/store"
	"limitans/internal/work"
)

func (s *Server) registersAPI() []endpoint {
	return []endpoint{
		gives("Registers", "due", seesEye(), "Which eyes are due and why, by day; those without a day first.", append([]parameter{
			{name: "until", what: "last day that is listed, ISO 8601; left out: all days"},
			{name: "reason", what: "only for this reason", several: true},
		}, pageQuery...), s.apiDue),
		gives("Registers", "in-eyes", seesEye(), "What is, or may still be, in which eye: gas, air, oil and heavy liquid, longest first.", append([]parameter{
			{name: "medium", what: "only this medium", several: true},
		}, pageQuery...), s.apiInEyes),
		gives("Registers", "lots/{lot}", seesEye(), "Every use of a lot in an eye, oldest first and all of them: a recall must miss nobody.", nil, s.apiLot),
		gives("Jobs", "jobs", seesEye(), "Jobs, the newest first.", []parameter{
			{name: "state", what: "only waiting, running, done, cancelled or failed ones", several: true},
			{name: "before", what: "only jobs older than the one of this number", number: true},
			{name: "limit", what: "jobs at most, 1 to 1000; left out: 100", number: true},
		}, s.apiJobs),
		gives("Jobs", "jobs/{job}", seesEye(), "One job with its progress.", nil, s.apiJob),
	}
}

// apiOwner says whose eye a row is about. The person's part is empty where the
// patient has no person.
type apiOwner struct {
	EyeID      record.ID      `json:"eye_id"`
	PatientID  record.ID      `json:"patient_id"`
	PersonID   record.ID      `json:"person_id"`
	Side       eye.Laterality `json:"side"`
	Name       string         `json:"name"`
	UnitNumber string         `json:"unit_number"`
	DiedOn     string         `json:"died_on"` // ISO 8601; empty while nobody told
}

func apiOwnerOf(o store.Owner) apiOwner {
	return apiOwner{o.EyeID, o.PatientID, o.PersonID, o.Side, o.Name, o.UnitNumber, o.DiedOn}
}

// apiDue is a stretch of the due list.
type apiDue struct {
	Due  []apiDueRow `json:"due"`
	Next string      `json:"next"` // for after; empty at the end
}

// apiDueRow is one reason why an eye is due.
type apiDueRow struct {
	apiOwner
	apiDueReason
}

func (s *Server) apiDue(r *http.Request, _ *visitor) (apiDue, error) {
	out := apiDue{Due: []apiDueRow{}}
	page, err := pageOf(r)
	if err != nil {
		return out, err
	}
	q := store.DueQuery{Until: r.FormValue("until"), Page: page}
	if _, err := record.DateFromISO(q.Until); err != nil {
		return out, &fault.Error{Code: fault.Invalid, Where: "until", What: "is no day", Expected: "2026-11-24"}
	}
	for _, reason := range r.URL.Query()["reason"] {
		q.Reasons = append(q.Reasons, record.DueFor(reason))
	}
	found, err := s.Store.Due(r.Context(), q)
	for _, row := range found.Rows {
		out.Due = append(out.Due, apiDueRow{apiOwnerOf(row.Owner), apiDueReason{row.Reason, row.Source, row.On, row.Since}})
	}
	out.Next = found.Next
	return out, err
}

// apiInEyes is a stretch of the register of what is in eyes.
type apiInEyes struct {
	InEyes []apiInEye `json:"in_eyes"`
	Next   string     `json:"next"` // for after; empty at the end
}

// apiInEye is something that is, or may still be, in an eye.
type apiInEye struct {
	apiOwner
	Content apiContent `json:"content"`
}

func (s *Server) apiInEyes(r *http.Request, _ *visitor) (apiInEyes, error) {
	out := apiInEyes{InEyes: []apiInEye{}}
	page, err := pageOf(r)
	if err != nil {
		return out, err
	}
	var media []record.Medium
	for _, m := range r.URL.Query()["medium"] {
		media = append(media, record.Medium(m))
	}
	rows, next, err := s.Store.InEyes(r.Context(), page, media...)
	for _, row := range rows {
		out.InEyes = append(out.InEyes, apiInEye{apiOwnerOf(row.Owner), contentOf(row.Content)})
	}
	out.Next = next
	return out, err
}

// apiLot is every use of a lot.
type apiLot struct {
	Uses []apiLotUse `json:"uses"`
}

// apiLotUse is one use of a lot in an eye.
type apiLotUse struct {
	apiOwner
	OperationID record.ID          `json:"operation_id"`
	Day         string             `json:"day"` // of the operation, ISO 8601
	Class       record.AgentClass  `json:"class"`
	Action      record.AgentAction `json:"action"`
	Product     string             `json:"product"`
	Lot         string             `json:"lot"` // as on the label
	Expiry      string             `json:"expiry"`
	BatchID     record.ID          `json:"batch_id"` // empty when the use names none
}

func (s *Server) apiLot(r *http.Request, _ *visitor) (apiLot, error) {
	out := apiLot{Uses: []apiLotUse{}}
	rows, err := s.Store.EyesWithLot(r.Context(), r.PathValue("lot"))
	for _, row := range rows {
		out.Uses = append(out.Uses, apiLotUse{apiOwnerOf(row.Owner), row.OperationID, row.Day, row.Class, row.Action, row.Product, row.Lot, row.Expiry, row.BatchID})
	}
	return out, err
}

// apiJobs are jobs.
type apiJobs struct {
	Jobs []report.Job `json:"jobs"`
}

// errNoQueue says that this server has no queue.
func errNoQueue() error {
	return &fault.Error{Code: fault.NotFound, Where: "jobs", What: "this server has no queue"}
}

func (s *Server) apiJobs(r *http.Request, _ *visitor) (apiJobs, error) {
	out := apiJobs{Jobs: []report.Job{}}
	if s.Queue == nil {
		return out, errNoQueue()
	}
	var filter work.Filter
	for _, state := range r.URL.Query()["state"] {
		filter.States = append(filter.States, work.State(state))
	}
	limit, err := numberOf(r, "limit")
	if err != nil {
		return out, err
	}
	if filter.Before, err = numberOf(r, "before"); err != nil {
		return out, err
	}
	filter.Limit = int(limit)
	jobs, err := s.Queue.List(r.Context(), filter)
	for _, j := range jobs {
		out.Jobs = append(out.Jobs, report.JobOf(j))
	}
	return out, err
}

func (s *Server) apiJob(r *http.Request, _ *visitor) (report.Job, error) {
	if s.Queue == nil {
		return report.Job{}, errNoQueue()
	}
	number, err := strconv.ParseInt(r.PathValue("job"), 10, 64)
	if err != nil {
		return report.Job{}, notFound("job")
	}
	job, err := s.Queue.Job(r.Context(), number)
	return report.JobOf(job), err
}
