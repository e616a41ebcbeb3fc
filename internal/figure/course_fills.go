package figure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sync"

	"limitans/eye"
	"limitans/internal/record"
	"limitans/tamponade"
)

// takeFills reads what was put into the eye: bubbles with their prediction, oil
// and heavy liquid.
func (b *courseBuilder) takeFills() {
	for _, c := range record.Fillings(b.operations, b.visits, b.options.AsOf) {
		switch c.Medium {
		case record.MediumGas, record.MediumAir:
			b.takeBubble(c)
		default:
			b.takeFilling(c)
		}
	}
	sortByDay(b.chart.Bubbles, func(x CourseBubble) CourseMark { return x.CourseMark })
	sortByDay(b.chart.Fillings, func(x CourseFilling) CourseMark { return x.CourseMark })
}

// operation finds an operation by its identifier.
func (b *courseBuilder) operation(id record.ID) *record.Operation {
	for _, o := range b.operations {
		if o.ID == id && id != "" {
			return o
		}
	}
	return nil
}

// contentMark places a filling: on the day it was put in, else on the day it was
// first known of.
func (b *courseBuilder) contentMark(c record.Content, text string) (CourseMark, bool) {
	day, at := c.Since, record.Clock("")
	kind, id := record.KindOperation, c.OperationID
	if o := b.operation(c.OperationID); o != nil {
		at = o.StartedAt
	}
	if !day.Known() && c.OperationID == "" {
		day = c.LastSeen
		for _, v := range b.visits { // the first visit that tells of it
			if slices.ContainsFunc(v.MediaSeen, func(s record.MediumSeen) bool { return s.Medium == c.Medium }) && v.On.Known() {
				day = v.On
				break
			}
		}
	}
	return b.mark(day, at, text, kind, id)
}

// takeFilling reads oil or heavy liquid.
func (b *courseBuilder) takeFilling(c record.Content) {
	name := wordsOf(c.Medium)
	if c.Medium == record.MediumOil {
		name = "silicone oil"
	}
	label := name
	if len(c.Labels) > 0 && c.Labels[0].Product != "" {
		label = c.Labels[0].Product
	}
	if c.AmountML != nil {
		label += fmt.Sprintf(", %g mL", *c.AmountML)
	}
	f := CourseFilling{
		Medium: c.Medium, Label: label, Until: math.NaN(), Rest: c.State == record.Residue,
		Doubt: c.State == record.ContentUnclear, SinceUnknown: !c.Since.Known(),
	}
	text := sentence(label) + ": "
	switch c.State {
	case record.Gone:
		text += "out on " + dateWords(c.RemovedOn)
	case record.Residue:
		text += "some is left"
	case record.ContentUnclear:
		text += "whether it is still in the eye is unclear"
	default:
		text += "in the eye"
	}
	if c.LastLook != "" && c.State != record.Gone {
		text += fmt.Sprintf(", seen %s on %s", wordsOf(c.LastLook), dateWords(c.LastSeen))
	}
	if f.SinceUnknown {
		text += "; since when is not told"
	}
	if c.RemovedOn.Known() {
		f.Until = b.day(c.RemovedOn)
	}
	if m, ok := b.contentMark(c, text); ok {
		f.CourseMark = m
		b.chart.Fillings = append(b.chart.Fillings, f)
	}
}

// takeBubble reads a bubble and predicts it.
func (b *courseBuilder) takeBubble(c record.Content) {
	x := CourseBubble{Label: "air", Until: math.NaN(), Doubt: c.State == record.ContentUnclear || c.State == record.Residue, Level: math.NaN()}
	if c.Medium == record.MediumGas {
		x.Label = cmp.Or(string(c.Gas), "gas")
		if c.Percent != nil {
			x.Label += fmt.Sprintf(" %g %%", *c.Percent)
		}
	}
	text := sentence(x.Label) + " in the eye"
	switch {
	case c.State == record.Gone:
		text += " until " + dateWords(c.RemovedOn)
		x.Until = b.day(c.RemovedOn)
	case x.Doubt:
		text += ", how long is unclear"
	default:
		text += ", " + tamponade.NotUntilSeenEmpty + ": not recorded yet"
	}
	operation := b.operation(c.OperationID)
	prediction, why := predictionOf(operation, c.Medium)
	if why != "" {
		x.Why = "not predicted: " + why
		text += "; " + x.Why
		b.note(sentence(x.Label) + " on " + cmp.Or(dateWords(c.Since), "an unknown day") + " is " + x.Why + ".")
	} else {
		x.Days, x.Value, x.Low, x.High = prediction.days, prediction.value, prediction.low, prediction.high
		text += fmt.Sprintf("; predicted at surgery: half full on day %.0f (%.0f to %.0f), gone on day %.0f (%.0f to %.0f)",
			prediction.half[0], prediction.half[1], prediction.half[2], prediction.gone[0], prediction.gone[1], prediction.gone[2])
		b.note(predictionNote)
		if x.Level = b.coverLevel(operation); x.Level > 0 {
			text += fmt.Sprintf("; covers the macula of an upright head down to %.0f %%", 100*x.Level)
		}
	}
	if m, ok := b.contentMark(c, text); ok {
		x.CourseMark = m
		b.chart.Bubbles = append(b.chart.Bubbles, x)
	}
}

// assumedFill is the share of the cavity that a bubble takes up at the end of an
// operation that "filled the cavity": no record tells it better, and some fluid
// is always left (common practice, no source). The bubble command takes the same.
const assumedFill = 0.85

const predictionNote = "Bubble: predicted at surgery from gas, share and lens as recorded, at sea level, with 85 ± 10 % of the cavity filled (assumed: " +
	"the record tells only that it was filled); line: median, band: 95 % of sampled eyes (package tamponade). " +
	"Readings do not change it here; the bubble station fits it to them. Flying, heights, nitrous oxide and diving: " + tamponade.NotUntilSeenEmpty + "."

// prediction is a predicted course: days and shares of the cavity, and the days
// of being half full and gone (value, low, high).
type prediction struct {
	days, value, low, high []float64
	half, gone             [3]float64
}

// predictionKey is all that a prediction depends on: shares of the cavity do not
// depend on its volume.
type predictionKey struct {
	mixture tamponade.Mixture
	lens    tamponade.Lens
}

// predictions remembers what was predicted: few mixtures are in use, and 2,000
// sampled eyes take longer than the whole drawing.
var predictions struct {
	sync.Mutex
	known map[predictionKey]prediction
}

const (
	mostPredictions  = 512
	predictionPoints = 60
	predictionSeed   = 1
)

// predictionOf predicts from what an operation stored; why says what is lacking.
func predictionOf(o *record.Operation, medium record.Medium) (p prediction, why string) {
	if o == nil {
		return p, "it was put in elsewhere, or before the record"
	}
	var use *record.AgentUse
	for i := range o.Agents {
		a := &o.Agents[i]
		if a.Action == record.AgentPlaced && (a.Class == record.AgentGas && medium == record.MediumGas || a.Class == record.AgentAir && medium == record.MediumAir) {
			if use != nil {
				return p, "two gases were recorded in one operation"
			}
			use = a
		}
	}
	if use == nil {
		return p, "the operation does not tell of it"
	}
	key := predictionKey{lens: lensOf(o.LensAfter)}
	if key.mixture, why = mixtureOf(*use); why != "" {
		return p, why
	}
	predictions.Lock()
	defer predictions.Unlock()
	if p, ok := predictions.known[key]; ok {
		return p, ""
	}
	p, err := predict(key)
	if err != nil {
		return p, err.Error()
	}
	if len(predictions.known) >= mostPredictions || predictions.known == nil {
		predictions.known = map[predictionKey]prediction{}
	}
	predictions.known[key] = p
	return p, ""
}

// mixtureOf reads the mixture of a filling.
func mixtureOf(a record.AgentUse) (m tamponade.Mixture, why string) {
	switch {
	case a.Technique == record.GasRetinopexy:
		return m, "a small volume of pure gas exchanges otherwise than a filled cavity"
	case a.Technique == record.GasTopUp:
		return m, "gas was added to a bubble whose share is not known"
	case a.FullFill == record.No:
		return m, "the cavity was not filled, and how much is not recorded"
	case a.FullFill != record.Yes:
		return m, "whether the cavity was filled is not recorded"
	case a.Class == record.AgentAir:
		return tamponade.Mixture{Agent: tamponade.AgentAir, Percent: 100}, ""
	case a.Gas == "":
		return m, "which gas it was is not recorded"
	case a.Percent == nil:
		return m, "the share of gas in air is not recorded"
	}
	agent, err := tamponade.ParseAgent(string(a.Gas))
	if err == nil {
		m, err = tamponade.NewMixture(agent, tamponade.Percent(*a.Percent))
	}
	if err != nil {
		return m, err.Error()
	}
	return m, ""
}

func lensOf(l record.LensState) tamponade.Lens {
	switch l {
	case record.LensClear, record.LensCataract:
		return tamponade.Phakic
	case record.LensPseudophakic, record.LensAnteriorChamber:
		return tamponade.Pseudophakic
	case record.LensAphakic:
		return tamponade.Aphakic
	}
	return tamponade.LensUnknown
}

// predict samples the course of a mixture.
func predict(key predictionKey) (p prediction, err error) {
	// Any volume does: what is asked for are shares of it.
	cavity, err := eye.CavityVolumeML(eye.ReferenceAxialLengthMM)
	if err != nil {
		return p, err
	}
	b := tamponade.Bubble{Mixture: key.mixture, Lens: key.lens, CavityML: cavity, Fill: assumedFill, Globe: tamponade.DefaultGlobe(cavity.Value)}
	q := tamponade.Question{Thresholds: []float64{0.5, tamponade.GoneFill}}
	found, err := tamponade.Predict(b, q, predictionSeed, tamponade.DefaultPaths)
	if err != nil {
		return p, err
	}
	half, gone := found.LastAboveDay[0], found.LastAboveDay[1]
	p.half, p.gone = [3]float64{half.Value, half.Low, half.High}, [3]float64{gone.Value, gone.Low, gone.High}
	last := math.Min(gone.High, tamponade.MaxDays)
	for i := range predictionPoints + 1 { // dense at the start, where it swells
		p.days = append(p.days, last*math.Pow(float64(i)/predictionPoints, 2))
	}
	found, err = tamponade.Predict(b, tamponade.Question{Days: p.days}, predictionSeed, tamponade.DefaultPaths)
	if err != nil {
		return p, err
	}
	for _, f := range found.Fill {
		p.value, p.low, p.high = append(p.value, f.Value), append(p.low, f.Low), append(p.high, f.High)
	}
	return p, nil
}

// coverLevel is the least share with which a bubble covers the macula of an
// upright head; NaN when neither the cavity nor the length of the eye is known.
func (b *courseBuilder) coverLevel(o *record.Operation) float64 {
	cavity := 0.0
	if o.CavityML != nil && o.CavityML.Known() {
		cavity = o.CavityML.Value
	} else if b.course.Eye != nil {
		if a, ok, _ := record.UsableAxialLength(b.course.Eye); ok {
			if v, err := eye.CavityVolumeML(a.LengthMM); err == nil {
				cavity = v.Value
			}
		}
	}
	size := 0.0 // stands for a hole of 1 mm
	for _, h := range b.chart.Holes {
		if h.Day <= b.day(o.On)+1 && h.SizeUM > 0 {
			size = h.SizeUM
		}
	}
	sphere, err := eye.SphereOfVolume(cavity)
	if err != nil {
		return math.NaN()
	}
	target, err := tamponade.MaculaTarget(size, sphere)
	if err != nil {
		return math.NaN()
	}
	least, err := tamponade.MinimumFill(tamponade.Upright, target)
	if err != nil || least >= 1 {
		return math.NaN()
	}
	return least
}

// takeReadings reads bubbles as they were seen.
func (b *courseBuilder) takeReadings() {
	for _, v := range b.visits {
		for _, r := range v.Bubble {
			if r.Medium != record.MediumGas && r.Medium != record.MediumAir {
				continue
			}
			low, high, value, ok := record.MeniscusFill(r)
			how := "from the height of the meniscus"
			if r.FillPercent != nil {
				half := record.DefaultReadingErrorPercent
				if r.FillErrorPercent != nil {
					half = *r.FillErrorPercent
				}
				value, low, high, ok, how = *r.FillPercent, math.Max(0, *r.FillPercent-half), math.Min(100, *r.FillPercent+half), true, "read by eye"
			}
			if !ok || math.IsNaN(value+low+high) {
				continue
			}
			at := cmp.Or(r.At, v.At)
			x := CourseReading{Fill: value / 100, Low: low / 100, High: high / 100}
			text := fmt.Sprintf("Bubble seen: %.0f %% of the cavity (%.0f to %.0f), %s", value, low, high, how)
			m, placed := b.mark(v.On, at, text, record.KindVisit, v.ID)
			if !placed {
				continue
			}
			if from, to, known := b.predicted(m.Day); known && (x.Low > to || x.High < from) {
				x.Unlike = true
				m.Text += fmt.Sprintf("; unlike what was predicted at surgery (%.0f to %.0f %%)", 100*from, 100*to)
			}
			x.CourseMark = m
			b.chart.Readings = append(b.chart.Readings, x)
		}
	}
	sortByDay(b.chart.Readings, func(r CourseReading) CourseMark { return r.CourseMark })
}

// predicted is the band of the latest bubble on a day.
func (b *courseBuilder) predicted(day float64) (low, high float64, known bool) {
	for _, x := range b.chart.Bubbles {
		if len(x.Days) == 0 || day < x.Day || day > x.Day+x.Days[len(x.Days)-1] {
			continue
		}
		i := max(1, min(len(x.Days)-1, int(sortSearch(x.Days, day-x.Day))))
		share := (day - x.Day - x.Days[i-1]) / (x.Days[i] - x.Days[i-1])
		low = x.Low[i-1] + share*(x.Low[i]-x.Low[i-1])
		high, known = x.High[i-1]+share*(x.High[i]-x.High[i-1]), true
	}
	return low, high, known
}

// sortSearch is the first place in ascending days that is not before a day.
func sortSearch(days []float64, day float64) int {
	at, _ := slices.BinarySearch(days, day)
	return at
}
