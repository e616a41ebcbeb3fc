package stain

import (
	"fmt"
	"math"
	"strings"

	"limitans/estimate"
	"limitans/fault"
)

// Written is a dye as somebody wrote it.
type Written struct {
	Name, Strength string
}

// Hole says whether dye can get under the retina through a hole.
type Hole int

// The states of a hole.
const (
	NoHole Hole = iota
	HoleProtected
	HoleOpen
)

// Input is what a preparation is made from. Numbers that are not known are NaN.
type Input struct {
	Dyes    []Written // one, or those of a combined product
	Vehicle Solution  // what the dye stands in; see [SolutionOf]
	StockML float64   // volume taken of it; NaN with no parts: as it stands
	Parts   []Part    // what is added to it
	// Target, with Diluent and TotalML, asks for the volumes instead; empty
	// without.
	Target  string
	Diluent Solution
	TotalML float64
	// OwnLimit is the unit's limit for the first dye; empty takes the table's.
	OwnLimit               string
	InjectedML             float64   // volume put on the retina, each time
	ContactS               []float64 // applications
	LightPercent           float64   // of the light source while the dye rests
	DistanceMM             float64   // of the probe meanwhile
	Hole                   Hole
	DryHydrophilicImplant  bool // a dry-state hydrophilic acrylic lens is to be put in
	SubretinalDyeSuspected bool
}

// NewInput is the input of dyes as they stand in their vehicle, with everything
// else not known.
func NewInput(vehicle Solution, dyes ...Written) Input {
	nan := math.NaN()
	return Input{Dyes: dyes, Vehicle: vehicle, StockML: nan, TotalML: nan, InjectedML: nan, LightPercent: nan, DistanceMM: nan}
}

// Prepared is one dye of a sheet.
type Prepared struct {
	Dye     Dye
	Reading StrengthReading // as written
	Limit   Strength
	// MGPerML and Percent are what comes to the retina.
	MGPerML, Percent estimate.Estimate
}

// Sheet is a preparation with everything that must be known about it. While a
// stop stands nothing is to be injected; figures are there where they could be
// computed, so that the stop can be understood.
type Sheet struct {
	Dyes           []Prepared
	StockML        float64 // NaN when nothing is mixed
	Parts          []Part
	TotalML        float64 // NaN when nothing is mixed
	GlucosePercent estimate.Estimate
	MOsmPerL       estimate.Estimate
	Glucose        Verdict
	Osmolarity     Verdict
	Contact        *Contact // nil when none was given
	Verdict        Verdict
	Stops          []Stop
	Warnings       []Warning
	Steps          []string
}

// Accepted reports whether nothing stops.
func (s Sheet) Accepted() bool { return len(s.Stops) == 0 }

const mostDyes = 3

// Prepare reads the dyes, mixes, and judges. What has two readings or must not be
// used becomes a stop on the sheet; what is no dye, strength or volume at all is
// an error.
func Prepare(in Input) (Sheet, error) {
	if len(in.Dyes) == 0 || len(in.Dyes) > mostDyes {
		return Sheet{}, &fault.Error{Code: fault.Invalid, Where: "dye", What: fmt.Sprintf("%d dyes", len(in.Dyes)), Expected: fmt.Sprintf("1 to %d", mostDyes)}
	}
	s := Sheet{StockML: math.NaN(), TotalML: math.NaN(), Verdict: Good, Glucose: Unknown, Osmolarity: Unknown}
	s.GlucosePercent = estimate.Missing("nothing was mixed, because a stop stands")
	s.MOsmPerL = s.GlucosePercent
	for i, w := range in.Dyes {
		own := ""
		if i == 0 {
			own = in.OwnLimit
		}
		if err := s.read(w, own); err != nil {
			return Sheet{}, err
		}
	}
	if len(s.Stops) == 0 {
		if err := s.mix(in); err != nil {
			return Sheet{}, err
		}
	}
	if err := s.contact(in); err != nil {
		return Sheet{}, err
	}
	if err := s.surroundings(in); err != nil {
		return Sheet{}, err
	}
	s.steps()
	if len(s.Stops) > 0 {
		s.Verdict, s.Steps = Halt, nil
	} else if s.Verdict == Good && s.Osmolarity == Unknown {
		s.Verdict = Caution
	}
	return s, nil
}

func (s *Sheet) stop(code StopCode, text, source string) {
	s.Stops = append(s.Stops, Stop{code, text, source})
}

func (s *Sheet) warn(code, text, source string) {
	s.Warnings = append(s.Warnings, Warning{code, text, source})
}

// read identifies a dye and its strength.
func (s *Sheet) read(w Written, ownLimit string) error {
	dye, denied, err := Identify(w.Name)
	switch {
	case denied != nil:
		s.stop(StopDenied, fmt.Sprintf("%s must not be used as a stain in the eye: %s.", denied.Name, denied.Reason), denied.Source+" ("+denied.HowKnown+")")
		return nil
	case fault.CodeOf(err) == fault.Conflict:
		s.stop(StopDyeUnclear, err.Error()+".", "a dye is never guessed")
		return nil
	case fault.CodeOf(err) == fault.NotFound:
		s.stop(StopUnlisted, err.Error()+". What is on no list is not put into an eye.", "rule of this program; no source")
		return nil
	case err != nil:
		return err
	}
	p := Prepared{Dye: dye, Limit: dye.Limit, MGPerML: estimate.Missing("a stop stands"), Percent: estimate.Missing("a stop stands")}
	if p.Limit, err = limitFor(dye, ownLimit); err != nil {
		return err
	}
	p.Reading, err = ParseStrength(w.Strength)
	if fault.CodeOf(err) == fault.Conflict {
		s.stop(StopStrength, fmt.Sprintf("%s. %s is usually %s, and this unit's limit is %s.", err, capital(dye.Name), dye.usual(), p.Limit), "a strength is never guessed; ten times more is what the other reading would be")
		err = nil
	}
	if err != nil {
		return err
	}
	s.Dyes = append(s.Dyes, p)
	return nil
}

// limitFor is the unit's own limit for a dye, or the table's. A unit may not go
// above the highest strength that a label or a human series used.
func limitFor(d Dye, own string) (Strength, error) {
	if own == "" {
		return d.Limit, nil
	}
	reading, err := ParseStrength(own)
	if f, is := err.(*fault.Error); is {
		named := *f
		named.Code, named.Where = fault.Invalid, "own limit"
		return Strength{}, &named
	}
	if reading.Strength.mgPerML > d.Highest.mgPerML*(1+roundingSlack) {
		return Strength{}, &fault.Error{
			Code: fault.Invalid, Where: "own limit", What: fmt.Sprintf("%s is more %s than any label or human series used", reading.Strength, d.Name),
			Expected: fmt.Sprintf("at most %s (%s)", d.Highest, d.HighestSource),
		}
	}
	return reading.Strength, nil
}

func capital(text string) string { return strings.ToUpper(text[:1]) + text[1:] }

// mix computes the mixture and judges strength, glucose and osmolarity.
func (s *Sheet) mix(in Input) error {
	if in.Vehicle.Key == "" {
		return &fault.Error{Code: fault.Invalid, Where: "vehicle", What: "is not told", Expected: "what the dye stands in, or unknown"}
	}
	stock, parts, err := s.volumes(in)
	if err != nil {
		return err
	}
	own := 0.0
	for _, p := range s.Dyes {
		more, err := IdealOsmolarity(Solute{p.Reading.Strength.mgPerML, p.Dye.MolarMassGPerMol, p.Dye.Particles})
		if err != nil {
			return err
		}
		own += more
	}
	m, err := Mix(stock, own, parts)
	if err != nil {
		return err
	}
	if len(parts) > 0 {
		s.StockML, s.Parts, s.TotalML = stock.ML, parts, m.TotalML
	}
	for i := range s.Dyes {
		p := &s.Dyes[i]
		label := p.Reading.Strength
		p.MGPerML, p.Percent = m.DyeShare.Scaled(label.mgPerML), m.DyeShare.Scaled(label.Percent())
		if p.MGPerML.Value > p.Limit.mgPerML*(1+roundingSlack) {
			s.stop(StopAboveLimit, fmt.Sprintf("%s at %s is %s times the unit's limit of %s.", capital(p.Dye.Name), strengthText(p.MGPerML.Value), times(p.MGPerML.Value/p.Limit.mgPerML), p.Limit),
				"customary limit unless the unit gave its own; highest used: "+p.Dye.HighestSource)
		}
		if p.MGPerML.Value < p.Dye.UsualLow.mgPerML*(1-roundingSlack) {
			s.warn("weaker_than_usual", fmt.Sprintf("%s at %s is weaker than the usual %s and may stain less.", capital(p.Dye.Name), strengthText(p.MGPerML.Value), p.Dye.usual()), p.Dye.HowKnown)
		}
	}
	s.GlucosePercent, s.MOsmPerL = m.GlucosePercent, m.MOsmPerL
	return s.judgeMixture()
}

// times writes a factor without false digits.
func times(x float64) string { return fmt.Sprintf("%.3g", x) }

func strengthText(mgPerML float64) string { return Strength{mgPerML}.String() }

// volumes gives the parts of the mixture, from volumes or from a target.
func (s *Sheet) volumes(in Input) (stock Part, parts []Part, err error) {
	stock = Part{in.Vehicle, in.StockML}
	switch {
	case in.Target != "":
		if len(in.Parts) > 0 || !math.IsNaN(in.StockML) {
			return stock, nil, &fault.Error{Code: fault.Invalid, Where: "mixture", What: "both a target and volumes are given"}
		}
		reading, err := ParseStrength(in.Target)
		if f, is := err.(*fault.Error); is {
			named := *f
			named.Code, named.Where = fault.Invalid, "target"
			return stock, nil, &named
		}
		a, b, err := Dilute(s.Dyes[0].Reading.Strength, reading.Strength, in.TotalML)
		if err != nil {
			return stock, nil, err
		}
		stock.ML, parts = a, []Part{{in.Diluent, b}}
		if a < 0.1 {
			s.warn("small_volume", fmt.Sprintf("%.3g mL of stock is hard to measure; dilute in two steps or make more.", a), "common practice, no source")
		}
		return stock, parts, nil
	case len(in.Parts) == 0:
		if math.IsNaN(stock.ML) {
			stock.ML = 1 // any volume: nothing is mixed
		}
		return stock, nil, nil
	case math.IsNaN(in.StockML):
		return stock, nil, &fault.Error{Code: fault.Invalid, Where: "volume of the dye", What: "is missing"}
	}
	return stock, append([]Part{}, in.Parts...), nil
}

// judgeMixture grades glucose and osmolarity.
func (s *Sheet) judgeMixture() error {
	sensitiser := s.sensitiser()
	var err error
	if s.Glucose, err = GlucoseVerdict(s.GlucosePercent.Value, sensitiser); err != nil {
		return err
	}
	glucose := fmt.Sprintf("%.4g %% glucose in the mixture", s.GlucosePercent.Value)
	switch {
	case s.Glucose == Halt && sensitiser && s.GlucosePercent.Value < avoidedGlucose-roundingSlack:
		s.stop(StopGlucose, glucose+": more than 5 % with an indocyanine dye.", sourceProposal)
	case s.Glucose == Halt:
		s.stop(StopGlucose, glucose+": from 10 % on to be avoided.", sourceGlucose)
	case s.Glucose == Caution:
		s.warn("glucose", glucose+": more than the 5 % that the authors accept.", sourceGlucose)
	}
	s.Verdict = worse(s.Verdict, s.Glucose)
	if !s.MOsmPerL.Known() {
		s.Osmolarity = Unknown
		s.warn("osmolarity_unknown", "The osmolarity is not known, because the vehicle is not told: read the label; 270 to 320 mOsm/L is the aim.", sourceOsmolarity)
		return nil
	}
	if s.Osmolarity, err = OsmolarityVerdict(s.MOsmPerL.Value, sensitiser); err != nil {
		return err
	}
	text := fmt.Sprintf("%.4g mOsm/L (%.4g to %.4g)", s.MOsmPerL.Value, s.MOsmPerL.Low, s.MOsmPerL.High)
	switch {
	case s.Osmolarity == Halt && s.MOsmPerL.Value < lowestSafeMOsm:
		s.stop(StopTooThin, text+": hypo-osmotic. A dye in water alone is never injected; dilute in balanced salt solution.", sourceOsmolarity)
	case s.Osmolarity == Halt:
		s.stop(StopTooThick, text+": hyperosmotic, above 385 with an indocyanine dye.", sourceProposal)
	case s.Osmolarity == Caution && s.MOsmPerL.Value > highMOsm:
		s.warn("hyperosmotic", text+": hyperosmotic, above 270 to 320. Short contact, wash out at once.", sourceOsmolarity)
	case s.Osmolarity == Caution:
		s.warn("hypo_osmotic", text+": below 270 to 320.", sourceOsmolarity)
	}
	s.Verdict = worse(s.Verdict, s.Osmolarity)
	return nil
}

func (s *Sheet) sensitiser() bool {
	for _, p := range s.Dyes {
		if p.Dye.Sensitiser {
			return true
		}
	}
	return false
}
