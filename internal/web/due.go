package web

import (
	"context"
	"net/http"
	"sync"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

// todayList is one list of the page of today. Figures and operation records wait
// with the newest first, everything else goes by the day agreed.
type todayList struct {
	Code, Words string
	Alarm       bool // overdue by what hurts: something in the eye
	from, until func(today record.Date) string
	reasons     []record.DueFor
	pastGas     bool          // gas that must be gone by now would stand here for ever: it is left out and counted
	newest      record.DueFor // listed by [store.Store.Papers]; the fields above are then not used
}

// soonDays is how far ahead the page looks (ours, no source).
const soonDays = 7

// todayPapers is how many papers of one sort it shows: the newest.
const todayPapers = 10

// Reasons of the lists.
var (
	inEyeReasons = []record.DueFor{record.DueOilRemoval, record.DueHeavyLiquid, record.DueGasCheck}
	seenReasons  = []record.DueFor{record.DueReview, record.DuePressure, record.DueFellowEyeScan}
	agreed       = append(append([]record.DueFor{}, inEyeReasons...), seenReasons...)
)

// todayLists in the order in which somebody must act.
var todayLists = []todayList{
	{Code: "in-eye-overdue", Words: "Overdue, with something in the eye", Alarm: true, from: everyDay, until: dayFromToday(-1), reasons: inEyeReasons, pastGas: true},
	{Code: "today", Words: "Due today", from: dayFromToday(0), until: dayFromToday(0), reasons: agreed},
	{Code: "figures", Words: "Results that nobody has signed", newest: store.DueUnsignedFigures},
	{Code: "records", Words: "Operation records that nobody has signed", newest: store.DueUnsignedOperation},
	{Code: "plans", Words: "Plans to be signed", reasons: []record.DueFor{store.DueUnsignedPlan}},
	{Code: "overdue", Words: "Overdue", from: everyDay, until: dayFromToday(-1), reasons: seenReasons},
	{Code: "no-day", Words: "Something in the eye, and no day agreed", until: everyDay, reasons: inEyeReasons, pastGas: true},
	{Code: "soon", Words: "Within a week", from: dayFromToday(1), until: dayFromToday(soonDays), reasons: agreed},
}

// everyDay is before every day and after what has none.
func everyDay(record.Date) string { return "0" }

func dayFromToday(days int) func(record.Date) string {
	return func(today record.Date) string {
		d, _ := today.AddDays(days)
		return d.ISO()
	}
}

// read lists a stretch.
func (l todayList) read(ctx context.Context, s *store.Store, today record.Date, page store.Page) (store.DuePage, error) {
	if l.newest != "" {
		rows, err := s.Papers(ctx, l.newest, page.Limit+1)
		due := store.DuePage{Rows: rows}
		if len(rows) > page.Limit {
			due.Rows, due.Next = rows[:page.Limit], "more"
		}
		return due, err
	}
	q := store.DueQuery{Reasons: l.reasons, Page: page}
	if l.from != nil {
		q.From = l.from(today)
	}
	if l.until != nil {
		q.Until = l.until(today)
	}
	if since, known := record.GasGoneSince(today); known && l.pastGas {
		q.GasSince = since.ISO()
	}
	return s.Due(ctx, q)
}

// dueList is a list with its rows; More when it was cut.
type dueList struct {
	todayList
	Rows []dueLine
	More bool
}

// All is where the whole list stands; empty where this is all.
func (l dueList) All() string {
	if !l.More {
		return ""
	}
	return "/due/" + l.Code
}

// dueLine is one row with the one act that belongs to it.
type dueLine struct {
	store.DueRow
	Late int // days since the day agreed; negative: still ahead
	Act  string
	To   string
}

// linesDue makes lines of rows.
func linesDue(of todayList, due store.DuePage, today record.Date, v *visitor) dueList {
	l := dueList{todayList: of, More: due.Next != ""}
	for _, row := range due.Rows {
		line := dueLine{DueRow: row}
		line.Act, line.To = actOf(row, v)
		if on, err := record.ParseDate(row.On, record.DateOptions{Today: today}); err == nil && row.On != "" {
			line.Late, _ = on.Date.DaysUntil(today)
		}
		l.Rows = append(l.Rows, line)
	}
	return l
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

// keptLists are the lists of today as the record had them after so many entries of
// its history. Everybody reads the same ones until somebody writes.
type keptLists struct {
	entries  int64
	day      record.Date
	pages    []store.DuePage
	contests []store.Contest
}

// dueShelf keeps the newest lists.
type dueShelf struct {
	mu   sync.Mutex
	kept *keptLists
}

// read gives the lists of a day, anew if the record has changed since. Nobody may
// change what it gives.
func (d *dueShelf) read(ctx context.Context, s *store.Store, today record.Date) (*keptLists, error) {
	// The end of the history is read first: what is written meanwhile makes the
	// lists newer than they say, and they are read once more.
	head, err := s.Head(ctx)
	if err != nil {
		return nil, err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.kept != nil && d.kept.entries >= head.Entries && d.kept.day == today {
		return d.kept, nil
	}
	kept := &keptLists{entries: head.Entries, day: today}
	for _, one := range todayLists {
		limit := todayRows
		if one.newest != "" {
			limit = todayPapers
		}
		page, err := one.read(ctx, s, today, store.Page{Limit: limit})
		if err != nil {
			return nil, err
		}
		kept.pages = append(kept.pages, page)
	}
	if kept.contests, err = s.NewestContests(ctx, todayRows); err != nil {
		return nil, err
	}
	d.kept = kept
	return kept, nil
}

// duePage is one list of today, whole.
type duePage struct {
	Today record.Date
	List  dueList
	Next  string
	After string
}

// showDue shows a list whole, stretch by stretch; papers of one sort, which have no
// day to go by, as far as a page goes.
func (s *Server) showDue(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p := duePage{Today: record.DayOf(s.Now()), After: r.FormValue("after")}
	for _, one := range todayLists {
		if one.Code != r.PathValue("list") {
			continue
		}
		page := store.Page{After: p.After, Limit: dueRows}
		due, err := one.read(r.Context(), s.Store, p.Today, page)
		if err != nil {
			return err
		}
		if p.List = linesDue(one, due, p.Today, v); one.newest == "" {
			p.Next = due.Next
		}
		return s.render(w, v, http.StatusOK, "due", head{Title: one.Words, Rail: "today"}, p)
	}
	return &fault.Error{Code: fault.NotFound, Where: "list", What: "there is no such list", Mend: "start at Today"}
}
