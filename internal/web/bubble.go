package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/bench"
	"limitans/internal/figure"
	"limitans/internal/figure/scene"
	"limitans/internal/record"
	"limitans/tamponade"
)

func (s *Server) bubbleRoutes() []route {
	return []route{
		{"GET", "/eyes/{eye}/bubble", seesEye(), s.showBubble},
		{"GET", "/eyes/{eye}/bubble/drawn", seesEye(), s.drawBubble},
	}
}

// bubblePage is the Bubble station of one eye. What the record does not tell is
// asked in its form and stays in the address; nothing of it is stored.
type bubblePage struct {
	At      string // address of the page
	Bench   bool   // without a patient: no day of the calendar
	Eye     eyeHead
	Empty   bool // no gas ever: nothing to draw
	In      bench.BubbleOfEye
	Gone    bool
	Fields  []bench.Field
	Sources map[string]string
	Missing []string // labels of what must be told first
	Trouble string
	Drawn   *drawnBubble
	Chart   *scene.Scene
	Dates   []bubbleDate
	Cover   []coverTable
	Sheet   *bench.Sheet
	Beside  *besideTable
	Media   []mediumSheet // oil and heavy liquid
	// OilFields ask what the record does not hold of an eye with oil.
	OilFields []bench.Field
	Diary     *diarySection
	Query     url.Values

	toldKey, toldFrom string // the posture that was ordered
}

// drawnBubble is the eye on one day in one position: what the slider redraws.
type drawnBubble struct {
	Picture  *scene.Scene
	Postures []postureLink
	Pitch    float64
	Roll     float64
	Day      string
	DayIndex int
	LastDay  int
	Days     []float64
	On       string
	Fill     string
	Pressure string
	Covers   []coverLine
	Before   string // addresses of the day before and after; empty at the ends
	After    string
	Targets  []string // the columns of Diary
	Diary    []diaryHours
}

type postureLink struct {
	To, Words  string
	Current    bool
	Pitch, Rol float64
}

type coverLine struct{ Target, Words string }

// diaryHours are the hours of one way to spend the day, by target.
type diaryHours struct {
	Words string
	Hours []string
}

// bubbleDate is a date with its band as days after surgery and as days of the
// calendar.
type bubbleDate struct{ What, Days, Calendar string }

// coverTable are the last days of every posture for one target.
type coverTable struct {
	Target string
	Rows   []bubbleDate
}

// showBubble shows the station.
func (s *Server) showBubble(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p, answer, err := s.bubbleOf(r)
	if err != nil {
		return err
	}
	if answer != nil {
		if err := p.fill(r, answer); err != nil {
			return err
		}
	}
	return s.render(w, v, http.StatusOK, "bubble", head{Title: p.Eye.Name + ", bubble", Rail: "eyes", Scripts: []string{"bubble.js"}, Wide: true}, p)
}

// drawBubble answers a slider or a drag: the drawing and what goes with it.
func (s *Server) drawBubble(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p, answer, err := s.bubbleOf(r)
	if err != nil {
		return err
	}
	if answer == nil {
		return &fault.Error{Code: fault.Invalid, Where: "bubble", What: "cannot be drawn: " + strings.Join(append(p.Missing, p.Trouble), ", ")}
	}
	if err := p.draw(r, answer); err != nil {
		return err
	}
	return s.renderPart(w, v, http.StatusOK, "bubble", "drawn", head{}, p)
}

// bubbleOf reads the eye and the answers of the form, and predicts where all that
// is needed is told.
func (s *Server) bubbleOf(r *http.Request) (*bubblePage, *bench.BubbleAnswer, error) {
	c, err := s.course(r)
	if err != nil {
		return nil, nil, err
	}
	if err := r.ParseForm(); err != nil {
		return nil, nil, &fault.Error{Code: fault.Malformed, Where: "form", What: "cannot be read", Cause: err}
	}
	today := record.DayOf(s.Now())
	p := &bubblePage{At: "/eyes/" + string(c.Eye.ID) + "/bubble", Eye: headOf(c, "bubble"), Query: r.Form}
	if err := p.media(r, c, today); err != nil {
		return nil, nil, err
	}
	in, ever := bench.BubbleInEye(c.Course, today)
	if !ever {
		p.Empty = true
		return p, nil, nil
	}
	p.In, p.Gone, p.Sources = in, in.Filling.State == record.Gone, in.Sources
	p.toldKey, p.toldFrom = toldPosture(c, in.Filling)
	question := new(bench.Bubble)
	told := func(name string) string {
		if r.Form.Has(name) {
			return r.Form.Get(name)
		}
		return in.Answers[name]
	}
	p.Fields, err = bench.Read(question, told)
	for i, f := range p.Fields {
		missing := slices.Contains(in.Missing, f.Name) && r.Form.Get(f.Name) == ""
		if missing {
			p.Fields[i].Value, p.Fields[i].Required = "", true
			if f.Kind == bench.Choice {
				p.Fields[i].Choices = append([]string{""}, f.Choices...)
			}
			p.Missing = append(p.Missing, f.Label)
		}
	}
	if len(p.Missing) > 0 {
		return p, nil, nil
	}
	answer, err := p.answer(question, err)
	return p, answer, err
}

// answer predicts; what is wrong with the question stands at its field or above, and
// nothing is answered then.
func (p *bubblePage) answer(question *bench.Bubble, err error) (*bench.BubbleAnswer, error) {
	var answer *bench.BubbleAnswer
	if err == nil {
		answer, err = bubbleAnswers.of(*question)
	}
	if err == nil {
		return answer, nil
	}
	if code := fault.CodeOf(err); code == "" || code == fault.Internal {
		return nil, err
	}
	if !bench.Blame(p.Fields, err) {
		p.Trouble = err.Error()
	}
	return nil, nil
}

// fill adds all that the whole page shows.
func (p *bubblePage) fill(r *http.Request, a *bench.BubbleAnswer) error {
	if err := p.draw(r, a); err != nil {
		return err
	}
	p.Chart, p.Sheet = figure.DrawBubble(a.Chart()), a.Answer().Sheet
	p.Sheet.Parts = slices.DeleteFunc(p.Sheet.Parts, func(part bench.Part) bool { // stands above, with days of the calendar
		return strings.HasSuffix(part.Title, "is covered until day") || part.Title == bench.RotaTitle || part.Title == bench.TogetherTitle
	})
	p.dates(a)
	if err := p.diary(r, a); err != nil {
		return err
	}
	return p.beside(r, a)
}

// positionOf reads the position of the head: one of the postures, or pitch and roll
// as dragged.
func positionOf(r *http.Request) (tamponade.Position, error) {
	if r.FormValue("pitch") != "" || r.FormValue("roll") != "" {
		pitch, err1 := strconv.ParseFloat(or(r.FormValue("pitch"), "0"), 64)
		roll, err2 := strconv.ParseFloat(or(r.FormValue("roll"), "0"), 64)
		p := tamponade.Position{PitchDeg: pitch, RollDeg: roll}
		if err1 != nil || err2 != nil {
			return p, &fault.Error{Code: fault.Invalid, Where: "position", What: "is no angle"}
		}
		for _, known := range bench.BubblePostures {
			if known.Position.PitchDeg == pitch && known.Position.RollDeg == roll {
				return known.Position, nil
			}
		}
		p.Name = positionWords(pitch, roll)
		_, err := p.Up()
		return p, err
	}
	for _, known := range bench.BubblePostures {
		if known.Key == r.FormValue("posture") {
			return known.Position, nil
		}
	}
	return tamponade.Upright, nil
}

// positionWords names a position that has no name.
func positionWords(pitch, roll float64) string {
	text := "upright"
	switch {
	case pitch > 0:
		text = "face down " + strconv.FormatFloat(pitch, 'f', 0, 64) + "°"
	case pitch < 0:
		text = "leaning back " + strconv.FormatFloat(-pitch, 'f', 0, 64) + "°"
	}
	switch {
	case roll > 0:
		text += ", left ear down " + strconv.FormatFloat(roll, 'f', 0, 64) + "°"
	case roll < 0:
		text += ", right ear down " + strconv.FormatFloat(-roll, 'f', 0, 64) + "°"
	}
	return text
}

func or(text, otherwise string) string {
	if text == "" {
		return otherwise
	}
	return text
}

// dayIndex is the day of the course that is drawn: as asked, else the one nearest
// to today, else day 1.
func (p *bubblePage) dayIndex(r *http.Request, days []float64) int {
	wanted := 1.0
	if p.In.TodayKnown && !p.Gone {
		wanted = float64(p.In.Today)
	}
	if asked, err := strconv.ParseFloat(r.FormValue("day"), 64); err == nil {
		wanted = asked
	}
	best := 0
	for i, d := range days {
		if abs(d-wanted) < abs(days[best]-wanted) {
			best = i
		}
	}
	return best
}

func abs(x float64) float64 { return max(x, -x) }

// draw makes the eye on a day in a position.
func (p *bubblePage) draw(r *http.Request, a *bench.BubbleAnswer) error {
	position, err := positionOf(r)
	if err != nil {
		return err
	}
	i := p.dayIndex(r, a.Days)
	day := a.Days[i]
	d := &drawnBubble{
		Pitch: position.PitchDeg, Roll: position.RollDeg, Day: dayText(day), DayIndex: i, LastDay: len(a.Days) - 1, Days: a.Days,
		On: p.calendar(day),
	}
	p.Drawn = d
	for _, known := range bench.BubblePostures {
		d.Postures = append(d.Postures, postureLink{
			To: p.to("posture", known.Key, "day", dayText(day)), Words: known.Position.Name, Current: known.Position == position,
			Pitch: known.Position.PitchDeg, Rol: known.Position.RollDeg,
		})
	}
	if i > 0 {
		d.Before = p.to("day", dayText(a.Days[i-1]))
	}
	if i < len(a.Days)-1 {
		d.After = p.to("day", dayText(a.Days[i+1]))
	}
	fill := a.Prediction.Fill[i]
	if !fill.Known() {
		d.Fill = "not computed: " + fill.Basis
		return nil
	}
	d.Fill = bandWords(100*fill.Value, 100*fill.Low, min(100, 100*fill.High), 0, "%")
	d.Pressure = strconv.FormatFloat(a.Pressure[i], 'f', 0, 64) + " mmHg"
	side := eye.Right
	if p.Eye.Side == "Left" {
		side = eye.Left
	}
	for _, t := range a.Targets {
		covered, err := figure.CoverOf(position, t, fill)
		if err != nil {
			return err
		}
		d.Covers = append(d.Covers, coverLine{t.Name, string(covered)})
	}
	d.Picture, err = figure.DrawBubbleEye(figure.BubbleEye{Side: side, Position: position, Fill: fill, Targets: a.Targets, When: "day " + dayText(day), Agent: a.Bubble.Mixture.String()})
	if err != nil {
		return err
	}
	return d.diaries(r, a, fill)
}

// to is the address of the page with some answers changed.
func (p *bubblePage) to(pairs ...string) string {
	q := url.Values{}
	for name, values := range p.Query {
		if len(values) > 0 && values[0] != "" {
			q.Set(name, values[0])
		}
	}
	for i := 0; i+1 < len(pairs); i += 2 {
		q.Set(pairs[i], pairs[i+1])
		if pairs[i] == "posture" {
			q.Del("pitch")
			q.Del("roll")
		}
	}
	return p.At + "?" + q.Encode()
}

// Leaflet is the address of the leaflet with the answers of this page.
func (p *bubblePage) Leaflet() string {
	return strings.Replace(p.to(), "/bubble?", "/leaflet.pdf?", 1)
}

// calendar is the day of the calendar on which a day after surgery falls.
func (p *bubblePage) calendar(day float64) string {
	if !p.In.TodayKnown {
		return ""
	}
	on, ok := p.In.Filling.Since.AddDays(int(day))
	if !ok {
		return ""
	}
	return dayWords(on)
}

func dayText(day float64) string { return strconv.FormatFloat(day, 'f', -1, 64) }
