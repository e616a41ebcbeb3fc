package web

import (
	"net/http"
	"strconv"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/follow"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/internal/work"
)

func (s *Server) todayRoutes() []route {
	return []route{
		{"GET", "/{$}", anyone(), s.showToday},
		{"POST", "/jobs/{job}/retry", needs(account.ReadIdentity, account.ImportScan), s.retryJob},
	}
}

// todayRows is how many rows of each list the page shows; what is beyond stands
// on the list's own page.
const todayRows = 30

// todayPapers is how many papers of one sort it shows: the newest.
const todayPapers = 10

// todayPage is who is due and what waits for somebody, in the order in which
// somebody must act. Every list is cut at todayRows.
type todayPage struct {
	Today    record.Date
	Alarms   dueList // overdue by what hurts: something in the eye
	DueToday dueList
	Overdue  dueList
	NoDay    dueList // in the eye, and nobody agreed a day
	Soon     dueList // within the next week
	Figures  dueList // measured, and nobody signed
	Records  dueList // operations whose record nobody signed
	Plans    dueList // not signed
	Contests []contestLine
	Findings []findingLine
	Reviewed reviewedWords
	Jobs     []failedJob
	Empty    bool
}

// dueList is one list with its rows; More when it was cut.
type dueList struct {
	Rows []dueLine
	More bool
}

// dueLine is one row with the one act that belongs to it.
type dueLine struct {
	store.DueRow
	Late int // days since the day agreed; negative: still ahead
	Act  string
	To   string
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

// soonDays is how far ahead the page looks (ours, no source).
const soonDays = 7

// Reasons of the lists.
var (
	inEyeReasons = []record.DueFor{record.DueOilRemoval, record.DueHeavyLiquid, record.DueGasCheck}
	seenReasons  = []record.DueFor{record.DueReview, record.DuePressure, record.DueFellowEyeScan}
	agreed       = append(append([]record.DueFor{}, inEyeReasons...), seenReasons...)
)

// showToday lists who is due and what waits.
func (s *Server) showToday(w http.ResponseWriter, r *http.Request, v *visitor) error {
	if !v.may(account.ReadIdentity) {
		http.Redirect(w, r, homeOf(*v.account, "/"), http.StatusSeeOther)
		return nil
	}
	p := todayPage{Today: record.DayOf(s.Now())}
	day := func(days int) string {
		d, _ := p.Today.AddDays(days)
		return d.ISO()
	}
	const first, none = "0", "0" // before every day, and after what has none
	for _, list := range []struct {
		into *dueList
		q    store.DueQuery
	}{
		{&p.Alarms, store.DueQuery{From: first, Until: day(-1), Reasons: inEyeReasons}},
		{&p.DueToday, store.DueQuery{From: day(0), Until: day(0), Reasons: agreed}},
		{&p.Overdue, store.DueQuery{From: first, Until: day(-1), Reasons: seenReasons}},
		{&p.NoDay, store.DueQuery{Until: none, Reasons: inEyeReasons}},
		{&p.Soon, store.DueQuery{From: day(1), Until: day(soonDays), Reasons: agreed}},
		{&p.Plans, store.DueQuery{Reasons: []record.DueFor{store.DueUnsignedPlan}}},
	} {
		list.q.Page.Limit = todayRows
		due, err := s.Store.Due(r.Context(), list.q)
		if err != nil {
			return err
		}
		list.into.More = due.Next != ""
		list.into.take(due.Rows, p.Today, v)
	}
	for reason, into := range map[record.DueFor]*dueList{store.DueUnsignedFigures: &p.Figures, store.DueUnsignedOperation: &p.Records} {
		rows, err := s.Store.Papers(r.Context(), reason, todayPapers+1)
		if err != nil {
			return err
		}
		if into.More = len(rows) > todayPapers; into.More {
			rows = rows[:todayPapers]
		}
		into.take(rows, p.Today, v)
	}
	if err := s.todayRest(r, v, &p); err != nil {
		return err
	}
	return s.render(w, v, http.StatusOK, "today", head{Title: "Today", Rail: "today"}, p)
}

// todayRest adds what no register holds.
func (s *Server) todayRest(r *http.Request, v *visitor, p *todayPage) error {
	contests, err := s.Store.NewestContests(r.Context(), todayRows)
	if err != nil {
		return err
	}
	for _, c := range contests {
		p.Contests = append(p.Contests, contestLine{c.ID, kindWords(c.Kind), momentWords(c.At)})
	}
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
	rows := len(p.Contests) + len(p.Findings) + len(p.Jobs)
	for _, list := range []dueList{p.Alarms, p.DueToday, p.Overdue, p.NoDay, p.Soon, p.Figures, p.Records, p.Plans} {
		rows += len(list.Rows)
	}
	p.Empty = rows == 0
	return nil
}

func lineOfFinding(f follow.EyeFinding) findingLine {
	return findingLine{
		signalOf(f.Finding.Severity), f.Eye.EyeID, f.Eye.Name, sideWords(f.Eye.Side), f.Eye.UnitNumber, f.Finding.What, f.Finding.Mend,
	}
}

// take makes lines of rows.
func (l *dueList) take(rows []store.DueRow, today record.Date, v *visitor) {
	for _, row := range rows {
		line := dueLine{DueRow: row}
		line.Act, line.To = actOf(row, v)
		if on, err := record.ParseDate(row.On, record.DateOptions{Today: today}); err == nil && row.On != "" {
			line.Late, _ = on.Date.DaysUntil(today)
		}
		l.Rows = append(l.Rows, line)
	}
}

// actOf is the one act of a row: what is done about it, and where.
func actOf(row store.DueRow, v *visitor) (act, to string) {
	at := "/eyes/" + string(row.EyeID)
	switch {
	case row.Reason == store.DueUnsignedPlan:
		return "Open plan", at + "/plan"
	case row.Reason == store.DueUnsignedFigures:
		return "Read result", at + "/scan"
	case row.Reason == store.DueUnsignedOperation:
		return "Open record", at + "/operations/" + string(row.Source)
	case v.may(account.WriteVisit) && row.DiedOn == "":
		return "Enter visit", at + "/visits/new"
	}
	return "Open course", at
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
