package demo

import (
	"math"
	"slices"
	"testing"
	"time"

	"limitans/estimate"
	"limitans/eye"
	"limitans/internal/record"
	"limitans/tamponade"
)

// filled is an eye from the operation that filled it with gas or air on, up to the
// visit that saw it empty, or to the next operation.
type filled struct {
	patient   int
	course    string
	operation *record.Operation
	length    float64
	bubble    tamponade.Bubble
	visits    []*record.Visit
	empty     bool // at the last of the visits
}

// bubblesOf reads the bubbles of a clinic from what is written, by a route that
// does not pass the teller: mixture, lens and the eye's own length.
func bubblesOf(t *testing.T, c *Clinic) (out []*filled) {
	t.Helper()
	for one, err := range c.Cases() {
		if err != nil {
			t.Fatal(err)
		}
		var last *filled
		length := math.NaN()
		for _, e := range one.Entries {
			switch x := e.Entity.(type) {
			case *record.Eye:
				if len(x.AxialLengths) > 0 {
					length = x.AxialLengths[0].LengthMM
				}
			case *record.Operation:
				last = nil
				for _, a := range x.Agents {
					if a.Action == record.AgentPlaced && (a.Class == record.AgentGas || a.Class == record.AgentAir) {
						last = &filled{patient: one.Number, course: one.Course, operation: x, length: length, bubble: bubbleOf(t, x, a, length)}
						out = append(out, last)
					}
				}
			case *record.Visit:
				if last == nil {
					continue
				}
				if last.empty { // a second look
					if len(x.Bubble) > 0 {
						t.Errorf("patient %d (%s): gas on %s, after it was seen gone", one.Number, one.Course, x.On)
					}
					continue
				}
				last.visits = append(last.visits, x)
				last.empty = slices.ContainsFunc(x.MediaSeen, func(m record.MediumSeen) bool {
					return (m.Medium == record.MediumGas || m.Medium == record.MediumAir) && m.State == record.LookNone
				})
				if last.empty == (len(x.Bubble) > 0) {
					t.Errorf("patient %d (%s): the look of %s found gas and none, or nobody looked", one.Number, one.Course, x.On)
				}
			}
		}
	}
	return out
}

func bubbleOf(t *testing.T, o *record.Operation, a record.AgentUse, lengthMM float64) tamponade.Bubble {
	t.Helper()
	cavity, err := eye.CavityVolumeML(lengthMM)
	if err != nil {
		t.Fatal(err)
	}
	b := tamponade.Bubble{
		Mixture: tamponade.Mixture{Agent: tamponade.AgentAir, Percent: 100}, Lens: tamponade.Phakic,
		CavityML: cavity, Fill: 0.85, Globe: tamponade.DefaultGlobe(cavity.Value),
	}
	if o.LensAfter == record.LensPseudophakic {
		b.Lens = tamponade.Pseudophakic
	}
	if a.Class == record.AgentGas {
		agent, err := tamponade.ParseAgent(string(a.Gas))
		if err != nil {
			t.Fatal(err)
		}
		if b.Mixture, err = tamponade.NewMixture(agent, tamponade.Percent(*a.Percent)); err != nil {
			t.Fatal(err)
		}
	}
	return b
}

// daysAfter is from the start of an operation to a visit.
func daysAfter(t *testing.T, o *record.Operation, v *record.Visit) float64 {
	t.Helper()
	clock := func(d record.Date, c record.Clock) time.Time {
		at, err := time.Parse("15:04", string(c))
		if err != nil {
			t.Fatal(err)
		}
		return momentOf(d, at.Hour()*60+at.Minute())
	}
	return clock(v.On, v.At).Sub(clock(o.On, o.StartedAt)).Hours() / 24
}

// TestReadingsAreOfTheBubble: what a visit reads lies within the 95 % band that
// package tamponade predicts for the eye, widened by the error of the reading, and
// an eye is seen empty when the band lets it be empty.
//
// Of a bubble with spread p, read with spread e, the reading has the spread
// √(p² + e²), which is at most p + e; the widened band is 1.96·(p + e) wide to each
// side, so at most 5 of 100 readings lie outside, the share of the band itself.
// Readings of one eye share its course: as many of them as an eye has count as one,
// which multiplies the variance of their number.
func TestReadingsAreOfTheBubble(t *testing.T) {
	const outsideShare, sigmas = 0.05, 3
	var read, outside, above, dayOne, empty, mostOfOneEye int
	for _, f := range bubblesOf(t, clinicOf(t, 250, 1)) {
		var days []float64
		for _, v := range f.visits {
			days = append(days, daysAfter(t, f.operation, v))
		}
		if len(days) == 0 {
			continue
		}
		predicted, err := tamponade.Predict(f.bubble, tamponade.Question{Days: days}, 77, tamponade.DefaultPaths)
		if err != nil {
			t.Fatal(err)
		}
		ofEye := 0
		for i, v := range f.visits {
			band := predicted.Fill[i]
			if f.empty && i == len(f.visits)-1 {
				empty++
				ofEye++
				if band.Low > tamponade.GoneFill {
					outside++
					t.Logf("patient %d (%s): seen empty on day %.1f, predicted %.3f to %.3f", f.patient, f.course, days[i], band.Low, band.High)
				}
			}
			for _, r := range v.Bubble {
				read++
				ofEye++
				if days[i] < 2 {
					dayOne++
					if *r.FillPercent > 100*band.Value {
						above++
					}
				}
				if !holds(band, r) {
					outside++
					t.Logf("patient %d (%s): %.0f %% read on day %.1f, predicted %.0f to %.0f", f.patient, f.course, *r.FillPercent, days[i], 100*band.Low, 100*band.High)
				}
			}
		}
		mostOfOneEye = max(mostOfOneEye, ofEye)
	}
	looks := float64(read + empty)
	most := outsideShare*looks + sigmas*math.Sqrt(outsideShare*(1-outsideShare)*looks*float64(mostOfOneEye))
	t.Logf("%d readings, %d seen empty, %d outside; on day 1 %d of %d above the median", read, empty, outside, above, dayOne)
	if read < 100 || empty < 100 || dayOne < 100 {
		t.Fatal("too few to tell")
	}
	if float64(outside) > most {
		t.Errorf("%d of %.0f lie outside, at most %.0f may", outside, looks, most)
	}
	// Each eye's first reading is above the median as often as below.
	if off := math.Abs(float64(above) - float64(dayOne)/2); off > sigmas*math.Sqrt(float64(dayOne))/2 {
		t.Errorf("%d of %d first readings are above the median", above, dayOne)
	}
}

func holds(band estimate.Estimate, r record.BubbleReading) bool {
	return *r.FillPercent >= 100*band.Low-*r.FillErrorPercent && *r.FillPercent <= 100*band.High+*r.FillErrorPercent
}

// TestExchangeExplainsTheReadings asks what the Bubble station asks: is a reading
// too high or too low for the exchange? By chance one of 200 is (see
// [tamponade.SampleSeen]: a quarter of one per cent to each side).
func TestExchangeExplainsTheReadings(t *testing.T) {
	const surpriseShare, sigmas, paths = 0.005, 3, 500
	read, surprises := 0, 0
	for _, f := range bubblesOf(t, clinicOf(t, 150, 1)) {
		var seen []tamponade.Observation
		for _, v := range f.visits {
			day, _ := f.operation.On.DaysUntil(v.On)
			for _, r := range v.Bubble {
				seen = append(seen, tamponade.Observation{Day: float64(day), Fill: *r.FillPercent / 100, FillSD: tamponade.ReadingSD(f.bubble.CavityML.Value)})
			}
		}
		if len(seen) == 0 {
			continue
		}
		read += len(seen)
		courses, err := tamponade.SampleSeen(f.bubble, seen, 1, paths)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range courses.Surprises {
			surprises++
			t.Logf("patient %d (%s, %v): %s", f.patient, f.course, f.bubble.Mixture, s.Say)
		}
	}
	t.Logf("%d surprises in %d readings", surprises, read)
	expected := surpriseShare * float64(read)
	if read < 60 || float64(surprises) > expected+sigmas*math.Sqrt(expected) {
		t.Errorf("%d of %d readings surprise, about %.1f do by chance", surprises, read, expected)
	}
}

// TestCoursesAgree holds every eye to the rules between its entries. What the rules
// may ask about is in the stories on purpose: detachments are operated without a scan,
// heavy liquid was left behind by somebody else or in the operation that used it,
// droplets of oil are seen after its removal.
func TestCoursesAgree(t *testing.T) {
	meant := []record.FindingCode{record.CodeOddOrder, record.CodeRemovalAlone, record.CodeResidual}
	counts := map[record.FindingCode]int{}
	for one, err := range clinicOf(t, 400, 9).Cases() {
		if err != nil {
			t.Fatal(err)
		}
		course := record.Course{}
		for _, e := range one.Entries {
			switch x := e.Entity.(type) {
			case *record.Eye:
				course.Eye = x // the last one is operated
			case *record.Scan:
				course.Scans = append(course.Scans, x)
			case *record.Plan:
				course.Plans = append(course.Plans, x)
			case *record.Operation:
				course.Operations = append(course.Operations, x)
			case *record.Visit:
				course.Visits = append(course.Visits, x)
			}
		}
		for _, f := range record.CheckCourse(course, record.Around{Today: testDay}) {
			counts[f.Code]++
			if !slices.Contains(meant, f.Code) {
				t.Errorf("patient %d (%s): %v", one.Number, one.Course, f)
			}
		}
	}
	for _, code := range meant {
		if counts[code] == 0 {
			t.Errorf("nothing is %s: no longer in the stories?", code)
		}
	}
}

// TestSomebodyHasGas: on every day a small clinic has an eye with gas in it, read
// the day after surgery.
func TestSomebodyHasGas(t *testing.T) {
	for seed := range uint64(20) {
		today, _ := testDay.AddDays(int(17 * seed))
		c, err := New(freshPatient+1, seed, today)
		if err != nil {
			t.Fatal(err)
		}
		one, err := c.Case(freshPatient)
		if err != nil {
			t.Fatal(err)
		}
		var operations []*record.Operation
		var visits []*record.Visit
		read := 0
		for _, e := range one.Entries {
			switch x := e.Entity.(type) {
			case *record.Operation:
				operations = append(operations, x)
			case *record.Visit:
				visits = append(visits, x)
				read += len(x.Bubble)
			}
		}
		in := record.InEye(operations, visits, today)
		if len(in) != 1 || in[0].Medium != record.MediumGas || in[0].State != record.Filled || read != 1 {
			t.Errorf("seed %d: %d readings, in the eye %+v", seed, read, in)
		}
	}
}
