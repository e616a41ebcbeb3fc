package web

import (
	"net/http"
	"strconv"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/follow"
	"limitans/internal/record"
	"limitans/internal/work"
)

func (s *Server) todayRoutes() []route {
	return []route{
		{"GET", "/{$}", anyone(), s.showToday},
		{"GET", "/due/{list}", seesEye(), s.showDue},
		{"POST", "/jobs/{job}/retry", needs(account.ReadIdentity, account.ImportScan), s.retryJob},
	}
}

// Rows of each list: on the page of today, and on the page that shows one list whole.
const (
	todayRows = 20
	dueRows   = 50
)

// todayPage is who is due and what waits for somebody, in the order in which
// somebody must act. Every list is cut at todayRows.
type todayPage struct {
	Today    record.Date
	Alarms   dueList
	Rest     []dueList
	Contests []contestLine
	Findings []findingLine
	Reviewed reviewedWords
	Jobs     []failedJob
	Hidden   int64 // eyes whose gas must be gone, though nobody saw it
	HiddenOf int   // days since it was put in
	Empty    bool
}

// contestLine is an entry with two versions.
type contestLine struct {
	ID   record.ID
	Kind string
	At   string
}

// findingLine is something in the record that disagrees.
type findingLine struct {
	Signal     string
	EyeID      record.ID
	Name, Side string
	UnitNumber string
	What, Mend string
}

// reviewedWords say how far the walk through all eyes has come.
type reviewedWords struct {
	Ended string // of the last whole round; empty: none yet
	Eyes  int
}

// failedJob is work in the background that failed.
type failedJob struct {
	ID        int64
	Kind, Why string
	Ended     string
	MayRetry  bool
}

// showToday lists who is due and what waits.
func (s *Server) showToday(w http.ResponseWriter, r *http.Request, v *visitor) error {
	if !v.may(account.ReadIdentity) {
		http.Redirect(w, r, homeOf(*v.account, "/"), http.StatusSeeOther)
		return nil
	}
	p := todayPage{Today: record.DayOf(s.Now())}
	kept, err := s.due.read(r.Context(), s.Store, p.Today)
	if err != nil {
		return err
	}
	for i, one := range todayLists {
		list := linesDue(one, kept.pages[i], p.Today, v)
		if one.Alarm {
			p.Alarms = list
		} else {
			p.Rest = append(p.Rest, list)
		}
		p.Hidden = max(p.Hidden, kept.pages[i].Hidden) // each list counts them all
	}
	if since, known := record.GasGoneSince(p.Today); known {
		p.HiddenOf, _ = since.DaysUntil(p.Today)
	}
	for _, c := range kept.contests {
		p.Contests = append(p.Contests, contestLine{c.ID, kindWords(c.Kind), momentWords(c.At)})
	}
	if err := s.todayRest(r, v, &p); err != nil {
		return err
	}
	return s.render(w, v, http.StatusOK, "today", head{Title: "Today", Rail: "today"}, p)
}

// todayRest adds what the record does not hold.
func (s *Server) todayRest(r *http.Request, v *visitor, p *todayPage) error {
	found, eyes, ended := s.reviewed()
	p.Reviewed.Eyes = eyes
	if !ended.IsZero() {
		p.Reviewed.Ended = momentWords(ended)
	}
	for _, f := range found[:min(len(found), todayRows)] {
		p.Findings = append(p.Findings, lineOfFinding(f))
	}
	if s.Queue != nil && v.may(account.ImportScan) {
		jobs, err := s.Queue.List(r.Context(), work.Filter{States: []work.State{work.Failed}, Limit: todayRows})
		if err != nil {
			return err
		}
		for _, j := range jobs {
			line := failedJob{ID: j.ID, Kind: codeWords(j.Kind), Why: "no reason was told", Ended: momentWords(j.Ended), MayRetry: true}
			if j.Fault != nil {
				line.Why = j.Fault.What
			}
			p.Jobs = append(p.Jobs, line)
		}
	}
	rows := len(p.Contests) + len(p.Findings) + len(p.Jobs) + len(p.Alarms.Rows)
	for _, list := range p.Rest {
		rows += len(list.Rows)
	}
	p.Empty = rows == 0 && p.Hidden == 0
	return nil
}

func lineOfFinding(f follow.EyeFinding) findingLine {
	return findingLine{
		signalOf(f.Finding.Severity), f.Eye.EyeID, f.Eye.Name, sideWords(f.Eye.Side), f.Eye.UnitNumber, f.Finding.What, f.Finding.Mend,
	}
}

// retryJob lets work in the background that failed begin again.
func (s *Server) retryJob(w http.ResponseWriter, r *http.Request, _ *visitor) error {
	id, err := strconv.ParseInt(r.PathValue("job"), 10, 64)
	if err != nil || s.Queue == nil {
		return &fault.Error{Code: fault.NotFound, Where: "job", What: "there is no such job"}
	}
	if _, err := s.Queue.Retry(r.Context(), id); err != nil {
		return err
	}
	http.Redirect(w, r, "/", http.StatusSeeOther)
	return nil
}
