package paper

import (
	"fmt"
	"strconv"
	"strings"

	"limitans/estimate"
	"limitans/fault"
	"limitans/internal/figure/scene"
	"limitans/internal/paper/typeset"
	"limitans/internal/record"
	"limitans/tamponade"
)

// Filling is what was left in the eye. Oil is not part of tamponade.Mixture.
type Filling struct {
	Oil     bool
	Mixture tamponade.Mixture // of a gas or air
}

// check refuses a filling without a name.
func (f Filling) check() error {
	if f.Oil {
		return nil
	}
	_, err := tamponade.NewMixture(f.Mixture.Agent, f.Mixture.Percent)
	return err
}

// agent is the filling in the words of the patient.
func (f Filling) agent(w *Words) string {
	switch {
	case f.Oil:
		return w.say("agent_oil")
	case f.Mixture.Agent == tamponade.AgentAir:
		return w.say("agent_air")
	case f.Mixture.Percent == 100:
		return w.fill("agent_gas_pure", map[string]string{"gas": f.Mixture.Agent.String()})
	}
	return w.fill("agent_gas", map[string]string{"gas": f.Mixture.Agent.String(), "percent": strings.ReplaceAll(f.Mixture.Percent.String(), " ", "\u00a0")})
}

// HeadPosture is how the patient is asked to hold the head; the zero value says
// nothing about it. Days and HoursPerDay are left out when 0.
type HeadPosture struct {
	Posture     record.Posture
	Days        int
	HoursPerDay int
}

// Appointment is a visit.
type Appointment struct {
	On   record.Date
	At   string // time of day as the unit writes it
	What string
}

// Leaflet is what the patient takes home: plain words in large letters, all
// hazards, how to hold the head, and the line of the bubble day by day.
type Leaflet struct {
	Common
	Filling Filling
	// Days and GoneDay as [PredictSeen] gives them; none where they are not known.
	Days    []SeenDay
	GoneDay estimate.Estimate
	Posture HeadPosture
	Phone   Telephone
	Visits  []Appointment
	// Words are the texts; nil for English.
	Words *Words
}

// Sizes of the leaflet's letters: 14 points and more (the size that large-print
// guidance asks for is 16 to 18; plain print for patients 12 to 14; common
// practice, no source).
const (
	leafletText = 13.5
	leafletHead = 17.0
	leafletLead = 15.0
)

// Document makes the leaflet.
func (l Leaflet) Document() (*Document, error) {
	d, err := l.Common.patientDocument(l.Words)
	if err != nil {
		return nil, err
	}
	if err := l.Filling.check(); err != nil {
		return nil, err
	}
	w := d.words
	values := map[string]string{"eye": w.eye(l.Side), "date": w.date(l.Surgery), "agent": l.Filling.agent(w)}
	if values["date"] == "" {
		values["date"] = w.say("on_the_day_told")
	}
	kind := "gas"
	if l.Filling.Oil {
		kind = "oil"
	}
	d.title = w.say("leaflet_title_" + kind)
	d.scales, d.pages = []float64{1, 0.97, 0.94, 0.91}, 3
	if l.Filling.Oil {
		d.pages = 2
	}
	d.body = append(d.body, paragraph{spans: plain(w.fill(kind+"_lead", values)), size: leafletLead})
	if l.Filling.Oil {
		d.body = append(d.body, l.section(d, "oil_title", markDot, "oil_visits", "oil_scan", "oil_sight", "oil_fly", "oil_drive"))
	} else {
		d.body = append(d.body,
			l.section(d, "until_title", markNo, "no_flying", "no_heights", "no_nitrous", "no_diving", "no_driving"),
			notice{role: roleCaution, lead: w.say("no_date"), text: w.say("no_date_why"), size: leafletText, above: 10})
	}
	d.body = append(d.body, l.help(d))
	posture, err := l.posture(d)
	if err != nil {
		return nil, err
	}
	d.body = append(d.body, posture...)
	if !l.Filling.Oil {
		d.body = append(d.body, l.seen(d))
	}
	d.body = append(d.body, l.visits(d), l.given(d))
	if !l.Filling.Oil && l.known() { // last, on a page of its own: it is drawn on, and brought to the visits
		d.body = append(d.body, l.days(d))
	}
	return d, nil
}

// patientDocument begins a sheet in the patient's language.
func (c Common) patientDocument(words *Words) (*Document, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	var err error
	if words == nil {
		if words, err = English(); err != nil {
			return nil, err
		}
	}
	d := &Document{common: c, words: words}
	d.dayLine = strings.Join(nonEmpty(typeset.Isolate(c.Unit), surgeryLine(words, c)), "  ·  ")
	return d, nil
}

// section is a heading with items of a bold sentence and its reason; the reason
// of text x is text x_why.
func (l Leaflet) section(d *Document, title string, m mark, keys ...string) block {
	var items []item
	for _, key := range keys {
		items = append(items, item{lead: d.words.say(key), text: d.words.say(key + "_why")})
	}
	return section{title: d.words.say(title), size: leafletHead, above: 14, more: d.words.say("continued"), body: []block{list{items: items, size: leafletText, mark: m, gap: 5}}}
}

func (l Leaflet) help(d *Document) block {
	w := d.words
	var items []item
	for _, key := range []string{"help_pain", "help_dark", "help_curtain", "help_sick", "help_red"} {
		items = append(items, item{text: w.say(key)})
	}
	return together{above: 14, body: append([]block{
		notice{role: roleStop, lead: w.say("help_title"), size: leafletHead},
		list{items: items, size: leafletText, mark: markDot, gap: 3, above: 6},
	}, l.Phone.callBlocks(w)...)}
}

func (l Leaflet) posture(d *Document) ([]block, error) {
	w := d.words
	var body []block
	title := func() []block {
		if len(body) == 0 {
			return nil
		}
		return []block{together{above: 14, body: []block{section{title: w.say("posture_title"), size: leafletHead, body: body, more: w.say("continued")}}}}
	}
	if !l.Filling.Oil {
		body = append(body, list{items: []item{{lead: w.say("no_back"), text: w.say("no_back_why")}}, size: leafletText, mark: markNo})
	}
	if l.Posture == (HeadPosture{}) {
		return title(), nil
	}
	key := "posture_" + string(l.Posture.Posture)
	if key == "posture_free" && l.Filling.Oil {
		key = "posture_free_oil"
	}
	if w.say(key) == "" {
		return nil, &fault.Error{Code: fault.Invalid, Where: "posture", What: fmt.Sprintf("%q is none", l.Posture.Posture), Expected: "face_down, upright, right_side, left_side, not_on_the_back or free"}
	}
	if l.Posture.Days < 0 || l.Posture.HoursPerDay < 0 || l.Posture.HoursPerDay > 24 {
		return nil, &fault.Error{Code: fault.Invalid, Where: "posture", What: fmt.Sprintf("%d days of %d hours cannot be", l.Posture.Days, l.Posture.HoursPerDay)}
	}
	body = append(body, paragraph{spans: strong(w.say(key)), size: leafletLead, above: 6})
	var more []string
	if n := l.Posture.Days; n == 1 {
		more = append(more, w.fill("posture_days", map[string]string{"days": w.say("days_one")}))
	} else if n > 1 {
		more = append(more, w.fill("posture_days", map[string]string{"days": w.fill("days_many", map[string]string{"n": strconv.Itoa(n)})}))
	}
	if n := l.Posture.HoursPerDay; n > 0 {
		more = append(more, w.fill("posture_hours", map[string]string{"hours": strconv.Itoa(n)}))
	}
	if len(more) > 0 {
		body = append(body, paragraph{spans: plain(strings.Join(more, " ")), size: leafletText, above: 3})
	}
	var items []item
	for _, key := range []string{"posture_breaks", "posture_elbows", "posture_tell"} {
		items = append(items, item{text: w.say(key)})
	}
	if l.Posture.Posture != record.PostureFree {
		body = append(body, list{items: items, size: leafletText, mark: markDot, gap: 3, above: 5})
	}
	return title(), nil
}

// known says whether the course of the bubble was predicted.
func (l Leaflet) known() bool { return len(l.Days) > 0 && l.GoneDay.Known() }

// seen tells what a bubble looks like from inside.
func (l Leaflet) seen(d *Document) block {
	w := d.words
	body := []block{paragraph{spans: plain(w.say("see_first") + " " + w.say("see_line") + " " + w.say("see_half")), size: leafletText}}
	if !l.known() {
		body = append(body, paragraph{spans: strong(w.say("see_not_computed")), size: leafletText, above: 6})
	}
	return together{above: 14, body: []block{section{title: w.say("see_title"), size: leafletHead, body: body, more: w.say("continued")}}}
}

// days is the page on which the patient draws.
func (l Leaflet) days(d *Document) block {
	w := d.words
	var body []block
	for from := 0; from < len(l.Days); from += seenColumns {
		row := l.Days[from:min(from+seenColumns, len(l.Days))]
		body = append(body, picture{scene: drawSeen(w, l.Side, l.Surgery, row), tall: 141, above: 5})
	}
	body = append(body,
		paragraph{spans: plain(w.say("see_key")), size: 11.5, quiet: true, above: 2},
		paragraph{spans: strong(w.say("see_draw")), size: leafletText, above: 4},
		paragraph{spans: plain(w.fill("see_gone", map[string]string{"from": l.goneText(w, l.GoneDay.Low), "to": l.goneText(w, l.GoneDay.High)})), size: leafletText, above: 4})
	return together{above: 14, body: []block{section{title: w.say("days_title"), size: leafletHead, body: body, more: w.say("continued")}}}
}

// goneText is a day after surgery as a date where surgery's is known.
func (l Leaflet) goneText(w *Words, day float64) string {
	n := int(day + 0.5)
	text := w.fill("see_day_inside", map[string]string{"n": strconv.Itoa(n)})
	if on, ok := l.Surgery.AddDays(n); ok && l.Surgery.Full() {
		text += " (" + w.date(on) + ")"
	}
	return strings.ReplaceAll(text, " ", "\u00a0")
}

func (l Leaflet) visits(d *Document) block {
	var rows []row
	for _, v := range l.Visits {
		on := d.words.date(v.On)
		if v.On.Full() {
			on = d.words.shortDate(v.On, true)
		}
		rows = append(rows, row{label: on, value: strings.Join(nonEmpty(d.words.apart(v.At), d.words.apart(v.What)), ", ")})
	}
	body := []block{}
	if len(rows) > 0 {
		body = append(body, table{rows: rows, size: leafletText, share: 0.36})
	}
	body = append(body, blanks{labels: []string{d.words.say("visit_blank")}, size: leafletText, single: true})
	return section{title: d.words.say("visits_title"), size: leafletHead, above: 14, body: body, more: d.words.say("continued")}
}

// given is the list of what was said and handed over.
func (l Leaflet) given(d *Document) block {
	w := d.words
	keys := []string{"given_flying", "given_nitrous", "given_posture", "given_help", "given_card", "given_band"}
	if l.Filling.Oil {
		keys = []string{"given_help", "given_card"}
	}
	var left, right []item
	for i, key := range keys {
		if i%2 == 0 {
			left = append(left, item{text: w.say(key)})
		} else {
			right = append(right, item{text: w.say(key)})
		}
	}
	return together{above: 14, body: []block{section{title: w.say("given_title"), size: leafletHead, more: w.say("continued"), body: []block{
		columns{share: 0.5, left: []block{list{items: left, size: 12, mark: markTick, gap: 4}}, right: []block{list{items: right, size: 12, mark: markTick, gap: 4}}},
		blanks{labels: []string{w.say("given_by"), w.say("given_on")}, size: 12},
	}}}}
}

// eyeShape is an eye as an almond; open eyes are filled.
func eyeShape(x, y, size float64, filled bool, ink scene.Colour) *scene.Path {
	var points []scene.Point
	const steps = 16
	for i := 0; i <= steps; i++ {
		t := float64(i) / steps
		points = append(points, point(x+size*t, y-size*0.62*t*(1-t)*1.9))
	}
	for i := steps - 1; i > 0; i-- {
		t := float64(i) / steps
		points = append(points, point(x+size*t, y+size*0.62*t*(1-t)*1.9))
	}
	fill := scene.Colour{}
	if filled {
		fill = ink
	}
	return scene.Polygon(fill, scene.Stroke{Colour: ink, Width: 1.1}, points...)
}
