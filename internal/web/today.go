package web

import (
	"cmp"
	"net/http"
	"slices"

	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

func (s *Server) todayRoutes() []route {
	return []route{
		{"GET", "/{$}", anyone(), s.showToday},
	}
}

// todayRows is how many rows of each list the page shows; what is beyond stands
// on the list's own page.
const todayRows = 40

// todayPage is who is due and why, in the order in which somebody must act.
type todayPage struct {
	Today    record.Date
	Alarms   []dueLine // overdue by what hurts: something in the eye
	Overdue  []dueLine
	DueToday []dueLine
	Soon     []dueLine // within the next week
	NoDay    []dueLine // in the eye, and nobody agreed a day
	Plans    []dueLine // not signed
	More     bool
	Contests int64
}

// dueLine is one row with the one act that belongs to it.
type dueLine struct {
	store.DueRow
	Late int // days since the day agreed; negative: still ahead
	Act  string
	To   string
}

// soonDays is how far ahead the page looks (ours, no source).
const soonDays = 7

// showToday lists who is due.
func (s *Server) showToday(w http.ResponseWriter, r *http.Request, v *visitor) error {
	if !v.may(account.ReadIdentity) {
		http.Redirect(w, r, homeOf(*v.account, "/"), http.StatusSeeOther)
		return nil
	}
	today := record.DayOf(s.Now())
	until, _ := today.AddDays(soonDays)
	due, err := s.Store.Due(r.Context(), store.DueQuery{Until: until.ISO(), Page: store.Page{Limit: store.MaxPage}})
	if err != nil {
		return err
	}
	p := todayPage{Today: today, More: due.Next != ""}
	for _, row := range due.Rows {
		p.sort(row, v)
	}
	for _, list := range []*[]dueLine{&p.Alarms, &p.Overdue, &p.DueToday, &p.Soon, &p.NoDay, &p.Plans} {
		slices.SortStableFunc(*list, func(a, b dueLine) int { return cmp.Compare(b.Late, a.Late) })
		if len(*list) > todayRows {
			*list, p.More = (*list)[:todayRows], true
		}
	}
	return s.render(w, v, http.StatusOK, "today", head{Title: "Today", Rail: "today"}, p)
}

// sort puts a row where it belongs.
func (p *todayPage) sort(row store.DueRow, v *visitor) {
	line := dueLine{DueRow: row}
	line.Act, line.To = actOf(row, v)
	on, err := record.DateFromISO(row.On)
	known := err == nil && on.Known()
	if known {
		line.Late, known = on.DaysUntil(p.Today)
	}
	inEye := row.Reason == record.DueOilRemoval || row.Reason == record.DueHeavyLiquid || row.Reason == record.DueGasCheck
	switch {
	case row.Reason == store.DueUnsignedPlan:
		p.Plans = append(p.Plans, line)
	case !known:
		p.NoDay = append(p.NoDay, line)
	case line.Late > 0 && inEye:
		p.Alarms = append(p.Alarms, line)
	case line.Late > 0:
		p.Overdue = append(p.Overdue, line)
	case line.Late == 0:
		p.DueToday = append(p.DueToday, line)
	default:
		p.Soon = append(p.Soon, line)
	}
}

// actOf is the one act of a row: what is done about it, and where.
func actOf(row store.DueRow, v *visitor) (act, to string) {
	at := "/eyes/" + string(row.EyeID)
	switch {
	case row.Reason == store.DueUnsignedPlan:
		return "Open plan", at + "/plan"
	case v.may(account.WriteVisit) && row.DiedOn == "":
		return "Enter visit", at + "/visits/new"
	}
	return "Open course", at
}
