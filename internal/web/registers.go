package web

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	"limitans/internal/record"
	"limitans/internal/store"
)

func (s *Server) registersRoutes() []route {
	return []route{
		{"GET", "/registers", seesEye(), s.showRegisters},
	}
}

// standingList is one register.
type standingList struct {
	Code, Words string
	media       []record.Medium
	due         record.DueFor
}

// registers in the order of the page; lots are asked by their number.
var registers = []standingList{
	{"gas", "Gas and air", []record.Medium{record.MediumGas, record.MediumAir}, record.DueGasCheck},
	{"oil", "Silicone oil", []record.Medium{record.MediumOil, record.MediumHeavyOil}, record.DueOilRemoval},
	{"heavy-liquid", "Heavy liquid", []record.Medium{record.MediumHeavyLiquid}, record.DueHeavyLiquid},
	{"lots", "Lots", nil, ""},
}

// registerPage is one register.
type registerPage struct {
	Register  standingList
	Registers []standingList
	Ages      []int // days
	Age       int
	Rows      []registerRow
	Lot       string
	Lots      []lotLine
	Today     record.Date
	Next      string
	Overdue   int
}

// registerRow is one filling of one eye.
type registerRow struct {
	store.Owner
	What     string
	Since    record.Date
	Days     string // in the eye
	State    string
	Due      string
	Late     int // days past the day agreed
	NoDay    bool
	Visit    string
	Contact  string
	Labels   string
	LastLook string
}

// lotLine is one use of a lot.
type lotLine struct {
	store.LotRow
	Days string
}

// registerAges are the ages to choose from, in days in the eye.
var registerAges = []int{0, 14, 30, 90, 180, 365}

// registerRows is how many rows a page lists.
const registerRows = 50

// showRegisters shows what is in which eye, or who got a lot.
func (s *Server) showRegisters(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p := registerPage{Registers: registers, Register: registers[0], Ages: registerAges, Today: record.DayOf(s.Now()), Lot: strings.TrimSpace(shorten(r.FormValue("lot")))}
	for _, one := range registers {
		if one.Code == r.FormValue("list") {
			p.Register = one
		}
	}
	if days, err := strconv.Atoi(r.FormValue("age")); err == nil && days > 0 {
		p.Age = days
	}
	var err error
	if p.Register.media == nil {
		err = s.lotLines(r, &p)
	} else {
		err = s.registerLines(r, &p)
	}
	if err != nil {
		return err
	}
	return s.render(w, v, http.StatusOK, "registers", head{Title: "Registers", Rail: "registers", Wide: true}, p)
}

// lotLines lists every use of a lot.
func (s *Server) lotLines(r *http.Request, p *registerPage) error {
	if p.Lot == "" {
		return nil
	}
	rows, err := s.Store.EyesWithLot(r.Context(), p.Lot)
	for _, row := range rows {
		p.Lots = append(p.Lots, lotLine{row, daysSince(dateOf(row.Day), p.Today)})
	}
	return err
}

// registerLines lists the fillings, longest first; a least age ends the list where
// the first younger one stands.
func (s *Server) registerLines(r *http.Request, p *registerPage) error {
	list, next, err := s.Store.InEyes(r.Context(), store.Page{After: r.FormValue("after"), Limit: registerRows}, p.Register.media...)
	if err != nil {
		return err
	}
	p.Next = next
	if i := slices.IndexFunc(list, func(row store.InEyeRow) bool {
		days, known := row.Content.Since.DaysUntil(p.Today)
		return known && days < p.Age
	}); i >= 0 {
		list, p.Next = list[:i], ""
	}
	eyes := make([]record.ID, len(list))
	for i, row := range list {
		eyes[i] = row.EyeID
	}
	facts, err := s.Store.RegisterFacts(r.Context(), eyes)
	if err != nil {
		return err
	}
	for _, row := range list {
		line := p.row(row, facts[row.EyeID])
		if line.Late > 0 {
			p.Overdue++
		}
		p.Rows = append(p.Rows, line)
	}
	return nil
}

func (p *registerPage) row(row store.InEyeRow, f store.RegisterFacts) registerRow {
	c := row.Content
	out := registerRow{Owner: row.Owner, Since: c.Since, Days: daysSince(c.Since, p.Today), What: mediumWords(c.Medium), Visit: f.LastVisit}
	if c.Gas != "" {
		out.What = string(c.Gas)
		if c.Percent != nil {
			out.What = strconv.FormatFloat(*c.Percent, 'f', -1, 64) + " % " + out.What
		}
	}
	if c.State != record.Filled {
		out.State = map[record.ContentState]string{record.Residue: "some left", record.ContentUnclear: "unclear whether it is still there"}[c.State]
	}
	if c.LastSeen.Known() {
		out.LastLook = dayWords(c.LastSeen) + ": " + codeWords(string(c.LastLook))
	}
	for i, l := range c.Labels {
		if i > 0 {
			out.Labels += ", "
		}
		out.Labels += l.Lot
	}
	if f.LastContact != "" {
		out.Contact = dayWords(f.LastContact) + ": " + codeWords(string(f.Outcome))
	}
	on, is := f.Due[p.Register.due]
	if !is {
		on, is = f.Due[record.DueReview]
	}
	if out.NoDay = !is || on == ""; out.NoDay {
		return out
	}
	out.Due = dayWords(on)
	if late, ok := dateOf(on).DaysUntil(p.Today); ok {
		out.Late = late
	}
	return out
}

// dateOf reads a day of the store; what cannot be read is no day.
func dateOf(iso string) record.Date {
	d, err := record.DateFromISO(iso)
	if err != nil {
		return record.Date{}
	}
	return d
}

// daysSince counts the days until today, where both days are known.
func daysSince(from, today record.Date) string {
	days, ok := from.DaysUntil(today)
	if !ok {
		return "not told"
	}
	return strconv.Itoa(days)
}
