package web

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"limitans/internal/account"
	"limitans/internal/record"
)

// visitsPage is the list of visits of an eye, newest first.
type visitsPage struct {
	Eye       eyeHead
	Rows      []visitLine
	Struck    bool // struck-out visits are shown too
	Older     int  // where the next stretch begins; 0: none
	MayVisit  bool
	State     record.State
	InEye     []string
	LastSeen  string
	MayBegin  bool // somebody may enter an operation
	Contests  []record.ID
	Due       []dueLine
	Questions []string
}

// visitLine is one visit of the list.
type visitLine struct {
	ID       record.ID
	On       string
	Acuities []string
	Pressure string
	Lens     string
	Closure  string
	Bubble   string
	Trouble  string // complications
	Due      string
	Signed   bool
	Struck   bool
}

// visitsAtOnce is how many visits one page lists.
const visitsAtOnce = 50

func (s *Server) listVisits(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	p := visitsPage{Eye: headOf(c, "visits"), Struck: r.FormValue("struck") == "shown", MayVisit: v.may(account.WriteVisit), MayBegin: v.may(account.WriteOperation)}
	p.State = record.StateOf(c.Course, record.DayOf(s.Now()))
	for _, in := range p.State.InEye {
		p.InEye = append(p.InEye, contentWords(in))
	}
	if p.State.LastSeen.Known() {
		p.LastSeen = dayWords(p.State.LastSeen)
	}
	for _, contest := range c.Contests {
		if contest.Kind == record.KindVisit {
			p.Contests = append(p.Contests, contest.ID)
		}
	}
	visits := c.Visits
	if p.Struck {
		all, err := s.Store.Course(r.Context(), c.Eye.ID, true)
		if err != nil {
			return err
		}
		visits = all.Visits
	}
	from, _ := strconv.Atoi(r.FormValue("from"))
	from = min(max(from, 0), len(visits))
	for i := len(visits) - 1 - from; i >= 0; i-- {
		if len(p.Rows) == visitsAtOnce {
			p.Older = from + visitsAtOnce
			break
		}
		p.Rows = append(p.Rows, lineOfVisit(visits[i]))
	}
	return s.render(w, v, http.StatusOK, "visits", head{Title: "Visits", Rail: "eyes"}, p)
}

func lineOfVisit(v *record.Visit) visitLine {
	l := visitLine{
		ID: v.ID, On: dayWords(v.On), Pressure: pressuresShown(v.Pressures), Lens: codeWords(string(v.Lens)),
		Signed: v.Signed != nil, Struck: v.Struck(),
	}
	for _, a := range v.Acuities {
		text := acuityShown(a)
		if a.ThroughGas() {
			text += " (through " + mediumWords(a.Through) + ": no result)"
		}
		l.Acuities = append(l.Acuities, text)
	}
	if v.Closure != nil {
		l.Closure = closureWords(v.Closure.Class)
	}
	var bubbles, troubles []string
	for _, b := range v.Bubble {
		bubbles = append(bubbles, bubbleShown(b))
	}
	for _, m := range v.MediaSeen {
		bubbles = append(bubbles, mediumWords(m.Medium)+" "+codeWords(string(m.State)))
	}
	for _, one := range v.Complications {
		troubles = append(troubles, codeWords(string(one.Code)))
	}
	if v.NoComplications {
		troubles = append(troubles, "none, asked")
	}
	l.Bubble, l.Trouble = strings.Join(bubbles, "; "), strings.Join(troubles, ", ")
	if v.DueBy.Known() {
		l.Due = dayWords(v.DueBy)
	}
	return l
}

// pressuresShown writes pressures in one line.
func pressuresShown(all []record.Pressure) string {
	var out []string
	for _, p := range all {
		if text := pressureShown(p); text != "" {
			out = append(out, text)
		}
	}
	return strings.Join(out, "; ")
}

// pressureShown writes a pressure with how it was measured.
func pressureShown(p record.Pressure) string {
	text := string(p.Raw)
	if p.MmHg != nil {
		text = strconv.FormatFloat(*p.MmHg, 'f', -1, 64) + " mmHg"
	}
	if text != "" && p.Method != "" {
		text += ", " + codeWords(string(p.Method))
	}
	if text != "" && p.At != "" {
		text += ", " + string(p.At)
	}
	return text
}

// dropsShown writes what lowered the pressure.
func dropsShown(p record.Pressure) string {
	if p.NoDrops {
		return "no drops, asked"
	}
	var all []string
	for _, d := range p.Drops {
		all = append(all, string(d))
	}
	if len(all) == 0 {
		return ""
	}
	return "under " + strings.Join(all, ", ")
}

// bubbleShown writes the reading of a bubble with its error.
func bubbleShown(b record.BubbleReading) string {
	text := mediumWords(b.Medium)
	within := func(half *float64) string {
		if half == nil {
			return " (error not told)"
		}
		return fmt.Sprintf(" ± %g", *half)
	}
	if b.MeniscusPercent != nil {
		text += fmt.Sprintf(", meniscus at %g %% of the height%s", *b.MeniscusPercent, within(b.MeniscusErrorPercent))
		if low, high, expected, ok := record.MeniscusFill(b); ok {
			text += fmt.Sprintf(", which in a sphere is %.0f %% of the volume (%.0f to %.0f)", expected, low, high)
		}
	}
	if b.FillPercent != nil {
		text += fmt.Sprintf(", fill %g %%%s", *b.FillPercent, within(b.FillErrorPercent))
	}
	return text
}

// momentWords writes a moment for people, in the zone of the server.
func momentWords(t time.Time) string {
	t = t.Local()
	return dayWords(record.DayOf(t)) + ", " + t.Format("15:04")
}
