package web

import (
	"bytes"
	"net/http"
	"slices"

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
	return []route{
		{"GET", "/eyes/{eye}/mixing/{sheet}/sheet.pdf", sees, s.mixingPaper},
		{"GET", "/eyes/{eye}/mixing.pdf", sees, s.latestMixingPaper},
		{"GET", "/eyes/{eye}/leaflet.pdf", sees, s.leafletPaper},
		{"GET", "/eyes/{eye}/card.pdf", sees, s.cardPaper},
		{"GET", "/eyes/{eye}/visits.ics", sees, s.visitsCalendar},
	}
}

// sendPaper answers with a sheet as PDF.
func sendPaper(w http.ResponseWriter, r *http.Request, d *paper.Document, err error) error {
	if err != nil {
		return err
	}
	size := paper.A4
	if text := r.FormValue("paper"); text != "" {
		if size, err = paper.ParseSize(text); err != nil {
			return err
		}
	}
	data, err := d.PDF(size)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/pdf")
	// The status is out; a reader that left is no fault of ours.
	_, _ = w.Write(data)
	return nil
}

// commonOf is what every sheet of an eye carries.
func (s *Server) commonOf(c *store.Course, surgery record.Date) paper.Common {
	p := paper.Common{Side: c.Eye.Side, Surgery: surgery, Made: s.Now()}
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

// mixingPaper prints one sheet that was begun.
func (s *Server) mixingPaper(w http.ResponseWriter, r *http.Request, _ *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	d, m, err := s.mixingOf(r, c)
	if err != nil {
		return err
	}
	return s.printMixing(w, r, c, d, m)
}

// latestMixingPaper prints the last sheet of the eye.
func (s *Server) latestMixingPaper(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	for _, d := range slices.Backward(c.Documents) {
		if d.Sort == record.DocumentMixingSheet && d.EyeID == c.Eye.ID && !d.Struck() && d.File.MediaType == mixingMedia {
			r.SetPathValue("sheet", string(d.ID))
			return s.mixingPaper(w, r, v)
		}
	}
	return &fault.Error{Code: fault.NotFound, Where: "mixing sheet", What: "none was begun for this eye", Mend: "make the recipe first"}
}

func (s *Server) printMixing(w http.ResponseWriter, r *http.Request, c *store.Course, d *record.Document, m bench.Mixing) error {
	plan, err := m.Asked.Plan()
	if err != nil {
		return err
	}
	sheet := paper.Mixing{Common: s.commonOf(c, d.On), Sheet: plan.Sheet, First: m.Maker.Name, Lot: m.Lot, Expiry: m.Expiry}
	if m.Checker != nil {
		sheet.Second = m.Checker.Name
	}
	made, err := sheet.Document()
	return sendPaper(w, r, made, err)
}

// fillingOf is what is in the eye now, as the patient's sheets need it. It fails
// with fault.NotFound where nothing is, and where the mixture is not told.
func fillingOf(c *store.Course, today record.Date) (f paper.Filling, since record.Date, err error) {
	for _, content := range slices.Backward(record.InEye(c.Operations, c.Visits, today)) {
		switch content.Medium {
		case record.MediumOil, record.MediumHeavyOil:
			return paper.Filling{Oil: true}, content.Since, nil
		case record.MediumAir:
			f.Mixture, err = tamponade.NewMixture(tamponade.AgentAir, 100)
			return f, content.Since, err
		case record.MediumGas:
			if content.Gas == "" || content.Percent == nil {
				return f, content.Since, &fault.Error{Code: fault.Invalid, Where: "gas", What: "which gas and share is in the eye is not told", Mend: "enter them at the operation"}
			}
			agent, err := tamponade.ParseAgent(string(content.Gas))
			if err != nil {
				return f, content.Since, err
			}
			f.Mixture, err = tamponade.NewMixture(agent, tamponade.Percent(*content.Percent))
			return f, content.Since, err
		}
	}
	return f, since, &fault.Error{Code: fault.NotFound, Where: "leaflet", What: "nothing stands in this eye that a patient must be warned of"}
}

// cardPaper prints the card for the wallet.
func (s *Server) cardPaper(w http.ResponseWriter, r *http.Request, _ *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	f, since, err := fillingOf(c, record.DayOf(s.Now()))
	if err != nil {
		return err
	}
	made, err := paper.Card{Common: s.commonOf(c, since), Filling: f, Phone: r.FormValue("phone")}.Document()
	return sendPaper(w, r, made, err)
}

// leafletPaper prints what the patient takes home. The line of the bubble day by
// day is drawn where fill, length and lens are told, as on the Bubble station.
func (s *Server) leafletPaper(w http.ResponseWriter, r *http.Request, _ *visitor) error {
	page, answer, err := s.bubbleOf(r)
	if err != nil {
		return err
	}
	c, err := s.course(r)
	if err != nil {
		return err
	}
	f, since, err := fillingOf(c, record.DayOf(s.Now()))
	if err != nil {
		return err
	}
	l := paper.Leaflet{Common: s.commonOf(c, since), Filling: f, Phone: r.FormValue("phone"), Visits: visitsAhead(c, record.DayOf(s.Now()))}
	if answer != nil && !page.Gone {
		if l.Days, l.GoneDay, err = paper.PredictSeen(answer.Bubble, answer.Asked.Seed, answer.Asked.Paths); err != nil {
			return err
		}
	}
	made, err := l.Document()
	return sendPaper(w, r, made, err)
}

// visitsAhead are the days agreed from today on.
func visitsAhead(c *store.Course, today record.Date) []paper.Appointment {
	var out []paper.Appointment
	for _, v := range c.Visits {
		if !v.Struck() && v.DueBy.Full() && !v.DueBy.CertainlyBefore(today) {
			out = append(out, paper.Appointment{On: v.DueBy, What: dueWords(v.DueFor)})
		}
	}
	return out
}

// visitsCalendar writes the visits agreed as a calendar file that names nobody.
func (s *Server) visitsCalendar(w http.ResponseWriter, r *http.Request, _ *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	var events []calendar.Event
	today := record.DayOf(s.Now())
	for _, v := range c.Visits {
		if v.Struck() || !v.DueBy.Full() || v.DueBy.CertainlyBefore(today) {
			continue
		}
		event, err := calendar.Visit{ID: v.ID, Version: v.Version, On: v.DueBy, Side: c.Eye.Side, For: v.DueFor}.Event()
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
