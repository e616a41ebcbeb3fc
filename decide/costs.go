package decide

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"limitans/estimate"
	"limitans/eye"
	"limitans/stats"
	"limitans/tamponade"
)

// filling is the value of a tamponade row: "sf6 20 first", "air alternative".
type filling struct {
	code    string
	percent float64 // NaN where there is none
	place   Place
}

// fillingNames are the fillings that rows may name.
var fillingNames = map[string]string{
	"none": "no tamponade", "air": "air", "sf6": "SF6", "c2f6": "C2F6", "c3f8": "C3F8", "oil": "silicone oil", "heavy-liquid": "heavy liquid for some days",
}

func fillingOf(text string) (filling, error) {
	fields := strings.Fields(text)
	f := filling{percent: math.NaN()}
	if len(fields) == 3 {
		v, err := strconv.ParseFloat(fields[1], 64)
		if err != nil || !(v > 0 && v <= 100) {
			return f, fmt.Errorf("%q is no share of gas", fields[1])
		}
		f.percent = v
		fields = slices.Delete(fields, 1, 2)
	}
	if len(fields) != 2 || fillingNames[fields[0]] == "" {
		return f, fmt.Errorf("%q is no filling", text)
	}
	place, err := placeOf(fields[1])
	f.code, f.place = fields[0], place
	return f, err
}

// goneSeed and gonePaths of the prediction of the day on which gas is gone.
const (
	goneSeed  = 1
	gonePaths = 400
	goneFill  = 0.85 // share of the cavity filled at the end of surgery
)

// choice is a filling with what it means in days.
func (a *asked) choice(f filling) (TamponadeChoice, error) {
	c := TamponadeChoice{
		Code: f.code, Name: fillingNames[f.code], Percent: f.percent, Place: f.place, StayLow: math.NaN(), StayHigh: math.NaN(), Longest: math.NaN(),
		Closure: estimate.Missing("no number for this filling alone"), Gone: estimate.Missing("it does not leave by itself"),
	}
	agent, err := tamponade.ParseAgent(f.code)
	if err != nil { // oil, heavy liquid, nothing
		if f.code == "none" {
			c.Gone = estimate.Missing("nothing is left in the eye")
		}
		return c, nil
	}
	stays, err := agent.Facts()
	if err != nil {
		return c, err
	}
	c.StayLow, c.StayHigh, c.Longest, c.Until = stays.StayDays.Low, stays.StayDays.High, stays.LongestStayDays, tamponade.NotUntilSeenEmpty
	if !math.IsNaN(f.percent) {
		c.Name = fmt.Sprintf("%g %% %s", f.percent, c.Name)
	}
	c.Gone, err = a.gone(agent, f.percent)
	return c, err
}

// gone predicts the day on which gas is gone from this eye.
func (a *asked) gone(agent tamponade.Agent, percent float64) (estimate.Estimate, error) {
	length := a.known["axial"].number
	if math.IsNaN(length) {
		return estimate.Missing("the cavity is not known without an axial length that may be used"), nil
	}
	if math.IsNaN(percent) {
		percent = 100
	}
	key := fmt.Sprintf("%v %g", agent, percent)
	if e, done := a.goneDays[key]; done {
		return e, nil
	}
	mixture, err := tamponade.NewMixture(agent, tamponade.Percent(percent))
	if err != nil {
		return estimate.Estimate{}, err
	}
	cavity, err := eye.CavityVolumeML(length)
	if err != nil {
		return estimate.Estimate{}, err
	}
	p, err := tamponade.Predict(
		tamponade.Bubble{Mixture: mixture, Lens: a.findings.Lens, CavityML: cavity, Fill: goneFill, Globe: tamponade.DefaultGlobe(cavity.Value)},
		tamponade.Question{Thresholds: []float64{tamponade.GoneFill}}, goneSeed, gonePaths)
	if err != nil {
		return estimate.Estimate{}, err
	}
	e := p.LastAboveDay[0]
	e.Basis = fmt.Sprintf("filled to %.0f %% at the end of surgery, an assumption; %s", 100*goneFill, e.Basis)
	a.goneDays[key] = e
	return e, nil
}

// newRisk reads a row of the table of risks: id, conditions, options, when,
// what, events, eyes, setting, source, how known. A share without counts stands
// in the column of events as a percentage and eyes are empty or the group's.
func newRisk(r []string, n []float64) (Risk, error) {
	k := Risk{Row: r[0], What: r[4], Events: -1, Eyes: -1, Setting: r[7], Source: r[8], HowKnown: r[9]}
	if k.What == "" || k.Source == "" || k.HowKnown == "" {
		return k, fmt.Errorf("no words, source or mark of how it is known")
	}
	events, eyes := n[0], n[1]
	if !(eyes > 0) || events != math.Trunc(events) || !(events >= 0 && events <= eyes) {
		return k, fmt.Errorf("%g of %g eyes", events, eyes)
	}
	k.Events, k.Eyes = int(events), int(eyes)
	share, err := stats.Proportion(k.Events, k.Eyes)
	k.Share = share
	k.Share.Basis = fmt.Sprintf("%d of %d eyes, %s; %s", k.Events, k.Eyes, k.Setting, share.Basis)
	return k, err
}

// bySize is the value of a posture row that takes the default of package
// tamponade for the size.
const bySize = "by-size"

// posture is the posture of an option from its last row that holds.
func (a *asked) posture(r Rule) (*Posture, error) {
	basis := r.Source + " (" + r.HowKnown + ")"
	if r.Value != bySize {
		days := strings.Fields(r.Value)
		low, _ := strconv.ParseFloat(days[0], 64) // the table was checked
		high, _ := strconv.ParseFloat(days[1], 64)
		return &Posture{Text: r.Text, DaysLow: low, DaysHigh: high, Basis: basis}, nil
	}
	if !a.size.Known() {
		return &Posture{
			Text:    "By size, which was not told: up to 400 µm anything but lying on the back, above it face down, for some days.",
			DaysLow: math.NaN(), DaysHigh: math.NaN(), Basis: basis,
		}, nil
	}
	advice, err := tamponade.AdvisePosture(a.size.Value)
	if err != nil {
		return nil, err
	}
	return &Posture{Text: advice.Text, DaysLow: advice.Days.Low, DaysHigh: advice.Days.High, Basis: advice.Basis}, nil
}
