package web

import (
	"bytes"
	"html/template"
	"math"
	"net/http"
	"slices"
	"strings"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/bench"
	"limitans/internal/exchange/calendar"
	"limitans/internal/paper"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/tamponade"
)

func (s *Server) papersRoutes() []route {
	sees := needs(account.ReadClinical, account.ReadIdentity)
	return slices.Concat(
		s.printed("/eyes/{eye}/mixing/{sheet}/sheet", sees, s.mixingPaper),
		s.printed("/eyes/{eye}/mixing", sees, s.latestMixingPaper),
		s.printed("/eyes/{eye}/leaflet", sees, s.leafletPaper),
		s.printed("/eyes/{eye}/card", sees, s.cardPaper),
		s.printed("/eyes/{eye}/plan/{plan}/theatre", seesEye(), s.theatrePaper),
		s.printed("/eyes/{eye}/plan/{plan}/kit", seesEye(), s.kitPaper),
		s.printed("/bench/mix/sheet", needs(account.ReadClinical), s.benchMixingPaper),
		[]route{{"GET", "/eyes/{eye}/visits.ics", sees, s.visitsCalendar}},
	)
}

// A paperMaker makes the sheet of a request, with the unit's own facts. The sheet of
// who asks is the same for everybody who may see it.
type paperMaker func(r *http.Request, unit *record.Unit) (paperMade, error)

// paperMade is a sheet, the page it belongs to, and whether it tells a telephone.
type paperMade struct {
	document  *paper.Document
	back      string
	telephone bool
}

// printed are the two addresses of a sheet: PATH.pdf, and PATH.html, the page to read
// and print. Both are made from one document and cannot differ.
func (s *Server) printed(path string, who rule, make paperMaker) []route {
	return []route{
		{"GET", path + ".pdf", who, func(w http.ResponseWriter, r *http.Request, _ *visitor) error {
			made, size, _, err := s.makePaper(r, make)
			if err != nil {
				return err
			}
			data, err := made.document.PDF(size)
			if err != nil {
				return err
			}
			w.Header().Set("Content-Type", "application/pdf")
			// The status is out; a reader that left is no fault of ours.
			_, _ = w.Write(data)
			return nil
		}},
		{"GET", path + ".html", who, func(w http.ResponseWriter, r *http.Request, v *visitor) error {
			made, size, unit, err := s.makePaper(r, make)
			if err != nil {
				return err
			}
			return s.showPaper(w, r, v, made, size, unit)
		}},
	}
}

// makePaper makes a sheet and finds the paper: as asked, else as the unit's printers
// hold it, else A4.
func (s *Server) makePaper(r *http.Request, make paperMaker) (made paperMade, size paper.Size, unit *record.Unit, err error) {
	if unit, err = s.Store.Unit(r.Context()); err != nil {
		return made, size, unit, err
	}
	if text := or(r.FormValue("paper"), string(unit.Paper)); text != "" {
		if size, err = paper.ParseSize(text); err != nil {
			return made, size, unit, err
		}
	}
	made, err = make(r, unit)
	return made, size, unit, err
}

// printPage is the address of the print page beside that of a PDF file.
func printPage(pdf string) string { return strings.Replace(pdf, ".pdf", ".html", 1) }

// paperPage is a sheet as a page, below a bar that is not printed.
type paperPage struct {
	Sheet  template.HTML
	Title  string
	Back   string
	PDF    string
	Size   string
	Sizes  []option
	NoCall string // what of the telephone is not told
}

func (s *Server) showPaper(w http.ResponseWriter, r *http.Request, v *visitor, made paperMade, size paper.Size, unit *record.Unit) error {
	fragment, err := made.document.Fragment(size)
	if err != nil {
		return err
	}
	// The fragment is written by package paper, whose template escapes every text.
	p := paperPage{Sheet: template.HTML(fragment), Title: made.document.Title(), Back: made.back, Size: size.String()}
	query := r.URL.Query()
	to := func(ending string, size paper.Size) string {
		query.Set("paper", strings.ToLower(size.String()))
		return strings.TrimSuffix(r.URL.Path, ".html") + ending + "?" + query.Encode()
	}
	p.PDF = to(".pdf", size)
	for _, one := range []paper.Size{paper.A4, paper.Letter} {
		p.Sizes = append(p.Sizes, option{to(".html", one), one.String()})
	}
	if made.telephone {
		p.NoCall = noCall(unit)
	}
	return s.renderPart(w, v, http.StatusOK, "paper", "paper", titled(p.Title), p)
}

// commonOf is what every sheet of an eye carries.
func (s *Server) commonOf(c *store.Course, unit *record.Unit, surgery record.Date) paper.Common {
	p := paper.Common{Side: c.Eye.Side, Surgery: surgery, Unit: unit.Name, Made: s.Now()}
	if len(c.Persons) > 0 {
		person := c.Persons[0]
		p.Patient = paper.Patient{Born: person.BirthDate, Identifier: person.UnitNumber}
		for i, n := range person.Names {
			if i == 0 {
				p.Patient.Name = string(n.Text)
			} else if p.Patient.OtherName == "" {
				p.Patient.OtherName = string(n.Text)
			}
		}
	}
	return p
}

// telephoneOf is what a patient of the unit calls.
func telephoneOf(unit *record.Unit) paper.Telephone {
	return paper.Telephone{Day: unit.DayPhone, Night: unit.NightPhone}
}

// mixingPaper prints one sheet that was begun.
func (s *Server) mixingPaper(r *http.Request, unit *record.Unit) (made paperMade, err error) {
	c, err := s.course(r)
	if err != nil {
		return made, err
	}
	d, m, err := s.mixingOf(r, c)
	if err != nil {
		return made, err
	}
	plan, err := m.Asked.Plan()
	if err != nil {
		return made, err
	}
	sheet := paper.Mixing{
		Common: s.commonOf(c, unit, record.Date{}), Sheet: plan.Sheet, First: s.nameOf(r, d.Mixing.Maker.By.AccountID), Lot: m.Lot, Expiry: m.Expiry,
		StruckOut: s.struckWords(r, d),
	}
	sheet.Signed = "Mixed by " + sheet.First + ", " + momentWords(d.Mixing.Maker.At)
	if d.Signed != nil {
		sheet.Second = s.nameOf(r, d.Signed.By.AccountID)
		sheet.Signed += "; bottle and syringe read by " + sheet.Second + ", " + momentWords(d.Signed.At) + "; both signed in the record."
	} else {
		sheet.Signed += ". NOBODY HAS READ BOTTLE AND SYRINGE YET: nothing is connected."
	}
	made.back = mixingPath(c, d)
	made.document, err = sheet.Document()
	return made, err
}

// latestMixingPaper prints the last sheet of the eye.
func (s *Server) latestMixingPaper(r *http.Request, unit *record.Unit) (paperMade, error) {
	c, err := s.course(r)
	if err != nil {
		return paperMade{}, err
	}
	for _, d := range slices.Backward(c.Documents) {
		if isMixing(d, c.Eye) && !d.Struck() {
			r.SetPathValue("sheet", string(d.ID))
			return s.mixingPaper(r, unit)
		}
	}
	return paperMade{}, &fault.Error{Code: fault.NotFound, Where: "mixing sheet", What: "none was begun for this eye", Mend: "make the recipe first"}
}

// benchMixingPaper prints the recipe of the bench for nobody yet: the box of the
// patient is filled in by hand.
func (s *Server) benchMixingPaper(r *http.Request, unit *record.Unit) (made paperMade, err error) {
	question := new(bench.Mix)
	if _, err := bench.Read(question, r.FormValue); err != nil {
		return made, err
	}
	plan, err := question.Plan()
	if err != nil {
		return made, err
	}
	back := r.URL.Query()
	back.Set("ask", "1")
	back.Del("paper")
	made.back = "/bench/mix?" + back.Encode()
	sheet := paper.Mixing{Common: paper.Common{Unit: unit.Name, Made: s.Now()}, ByHand: true, Sheet: plan.Sheet, First: question.First, Second: question.Second}
	made.document, err = sheet.Document()
	return made, err
}

// fillingOf is what is in the eye now, as the patient's sheets need it. It fails
// with fault.NotFound where nothing is, and where the mixture is not told.
func fillingOf(c *store.Course, today record.Date) (f paper.Filling, in record.Content, err error) {
	for _, content := range slices.Backward(record.InEye(c.Operations, c.Visits, today)) {
		if content.State == record.Gone {
			continue
		}
		switch content.Medium {
		case record.MediumOil, record.MediumHeavyOil:
			return paper.Filling{Oil: true}, content, nil
		case record.MediumAir:
			f.Mixture, err = tamponade.NewMixture(tamponade.AgentAir, 100)
			return f, content, err
		case record.MediumGas:
			if content.Gas == "" || content.Percent == nil {
				return f, content, &fault.Error{Code: fault.Invalid, Where: "gas", What: "which gas and share is in the eye is not told", Mend: "enter them at the operation"}
			}
			agent, err := tamponade.ParseAgent(string(content.Gas))
			if err != nil {
				return f, content, err
			}
			f.Mixture, err = tamponade.NewMixture(agent, tamponade.Percent(*content.Percent))
			return f, content, err
		}
	}
	return f, in, &fault.Error{Code: fault.NotFound, Where: "leaflet", What: "nothing stands in this eye that a patient must be warned of"}
}

// cardPaper prints the card for the wallet.
func (s *Server) cardPaper(r *http.Request, unit *record.Unit) (made paperMade, err error) {
	c, err := s.course(r)
	if err != nil {
		return made, err
	}
	f, in, err := fillingOf(c, record.DayOf(s.Now()))
	if err != nil {
		return made, err
	}
	made.back, made.telephone = "/eyes/"+string(c.Eye.ID)+"/bubble", true
	made.document, err = paper.Card{Common: s.commonOf(c, unit, in.Since), Filling: f, Phone: telephoneOf(unit)}.Document()
	return made, err
}

// leafletPaper prints what the patient takes home. The line of the bubble day by
// day is drawn where fill, length and lens are told, as on the Bubble station.
func (s *Server) leafletPaper(r *http.Request, unit *record.Unit) (made paperMade, err error) {
	page, answer, err := s.bubbleOf(r)
	if err != nil {
		return made, err
	}
	c, err := s.course(r)
	if err != nil {
		return made, err
	}
	f, in, err := fillingOf(c, record.DayOf(s.Now()))
	if err != nil {
		return made, err
	}
	l := paper.Leaflet{
		Common: s.commonOf(c, unit, in.Since), Filling: f, Phone: telephoneOf(unit), Visits: visitsAhead(c, record.DayOf(s.Now())),
		Posture: postureAsked(c, in, record.DayOf(s.Now())),
	}
	if answer != nil && !page.Gone {
		if l.Days, l.GoneDay, err = paper.PredictSeen(answer.Bubble, answer.Asked.Seed, answer.Asked.Paths); err != nil {
			return made, err
		}
	}
	made.back, made.telephone = page.to(), true
	made.document, err = l.Document()
	return made, err
}

// postureAsked is how the plan of the operation that filled the eye wants the head to
// be held, for the days that are left. Where the plan tells no days, or they are over,
// the leaflet says nothing of it: an old posture would be held for nothing.
func postureAsked(c *store.Course, in record.Content, today record.Date) paper.HeadPosture {
	at := slices.IndexFunc(c.Operations, func(o *record.Operation) bool { return o.ID == in.OperationID })
	if at < 0 {
		return paper.HeadPosture{}
	}
	for _, p := range c.Plans {
		if p.ID != c.Operations[at].PlanID || p.Posture == "" || p.PostureDays == nil {
			continue
		}
		since, ok := in.Since.DaysUntil(today)
		if left := int(math.Ceil(*p.PostureDays)) - since; ok && since >= 0 && left > 0 {
			return paper.HeadPosture{Posture: p.Posture, Days: left}
		}
	}
	return paper.HeadPosture{}
}

// visitsAhead are the days agreed from today on.
func visitsAhead(c *store.Course, today record.Date) []paper.Appointment {
	var out []paper.Appointment
	for _, v := range c.Visits {
		if !v.Struck() && v.DueBy.Full() && !v.DueBy.CertainlyBefore(today) {
			out = append(out, paper.Appointment{On: v.DueBy, What: dueWords(v.DueFor)})
		}
	}
	slices.SortStableFunc(out, func(a, b paper.Appointment) int { return a.On.Compare(b.On) })
	return out
}

// visitsCalendar writes the visits agreed as a calendar file that names nobody.
func (s *Server) visitsCalendar(w http.ResponseWriter, r *http.Request, _ *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	unit, err := s.Store.Unit(r.Context())
	if err != nil {
		return err
	}
	var events []calendar.Event
	today := record.DayOf(s.Now())
	for _, v := range c.Visits {
		if v.Struck() || !v.DueBy.Full() || v.DueBy.CertainlyBefore(today) {
			continue
		}
		event, err := calendar.Visit{ID: v.ID, Version: v.Version, On: v.DueBy, Side: c.Eye.Side, For: v.DueFor, Place: unit.Name, Description: callWords(unit)}.Event()
		if err != nil {
			return err
		}
		events = append(events, event)
	}
	if len(events) == 0 {
		return &fault.Error{Code: fault.NotFound, Where: "calendar", What: "no visit is agreed from today on", Mend: "enter the day of the next visit"}
	}
	var out bytes.Buffer
	if err := calendar.Write(&out, calendar.Calendar{Product: "-//limitans//" + s.Program + "//EN", Stamp: s.Now(), Events: events}); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/calendar; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="visits.ics"`)
	// The status is out; a reader that left is no fault of ours.
	_, _ = w.Write(out.Bytes())
	return nil
}
