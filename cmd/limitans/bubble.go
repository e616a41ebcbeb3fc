package main

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fault"
	"limitans/internal/figure"
	"limitans/tamponade"
)

// bubbleCommand predicts a bubble from surgery to its end. It never permits
// anything that waits for that end.
type bubbleCommand struct {
	Gas         string   `required:"" placeholder:"GAS" help:"Gas in the eye: air, sf6, c2f6 or c3f8."`
	Percent     *string  `placeholder:"SHARE" help:"Share of gas in air: 14, 14% or 0.14. Not for air."`
	AxialLength float64  `required:"" placeholder:"MM" help:"Axial length of the eye, mm."`
	Fill        string   `default:"85" placeholder:"SHARE" help:"Share of the cavity that the bubble takes up at the end of surgery: 85, 85% or 0.85. Default: 85."`
	Lens        string   `default:"unknown" enum:"phakic,aphakic,pseudophakic,unknown" help:"State of the lens: phakic, aphakic, pseudophakic or unknown. Default: unknown."`
	HoleUM      float64  `name:"hole-um" default:"0" placeholder:"UM" help:"Diameter of the macular hole, µm; the bubble is to cover all of it. Default: 0, which stands for 1000."`
	Break       *string  `placeholder:"HOUR:MM" help:"A retinal break as well: clock hour, and millimetres along the wall from the macula."`
	Pressure    *float64 `name:"pressure-mmhg" placeholder:"MMHG" help:"Pressure of the eye without gas. Default: 15."`
	Glaucoma    bool     `help:"Glaucoma, drops for it, or another outflow resistance."`
	Seen        []string `sep:"none" placeholder:"DAY:SHARE" help:"Fill as it was seen on a day after surgery, for example 3:60; once for each visit. Narrows the bands."`
	SeenHeight  []string `sep:"none" name:"seen-height" placeholder:"DAY:SHARE" help:"Instead of the fill, how far down the level stands, head upright: share of the height of the cavity, from the top."`
	Seed        uint64   `default:"1" placeholder:"NUMBER" help:"Seed of the sampling. Default: 1."`
	Paths       int      `default:"2000" placeholder:"NUMBER" help:"Sampled courses. Default: 2000."`
	Figure      string   `placeholder:"FILE" help:"Draw the course into this file, FILE.svg. A file there is replaced."`
	JSON        bool     `name:"json" help:"Print a JSON document instead of text."`
}

// Help is printed below the flags.
func (bubbleCommand) Help() string {
	return "Dates are estimates to plan visits by. Flying, heights, nitrous oxide and diving: " + tamponade.NotUntilSeenEmpty + ", whatever the date."
}

// Run prints the prediction.
func (c bubbleCommand) Run(out *console) error {
	if c.Figure != "" && !strings.HasSuffix(strings.ToLower(c.Figure), ".svg") {
		return &fault.Error{Code: fault.Invalid, Where: "--figure", What: fmt.Sprintf("%q is no SVG file", c.Figure), Expected: "a name that ends in .svg"}
	}
	d := bubbleDocument{command: c}
	if err := d.read(); err != nil {
		return err
	}
	if err := d.compute(); err != nil {
		return err
	}
	if c.Figure != "" {
		if err := figure.WriteFile(c.Figure, figure.DrawBubble(d.chart())); err != nil {
			return undone{err}
		}
	}
	if c.JSON {
		return writeIndented(out.Stdout, d.jsonDocument())
	}
	var b strings.Builder
	d.text(&b)
	_, err := io.WriteString(out.Stdout, b.String())
	return err
}

// bubbleDocument is the question with its answers.
type bubbleDocument struct {
	command    bubbleCommand
	percent    tamponade.PercentReading
	fill       tamponade.PercentReading
	bubble     tamponade.Bubble
	targets    []tamponade.Target // the macula first
	seen       []tamponade.Observation
	prediction tamponade.Prediction
	surprises  []tamponade.Surprise
	contact    float64                        // probability of the contact-area law
	covered    map[string][]estimate.Estimate // by target, in the order of bubblePostures
	days       []float64
	pressure   []float64
	peak       tamponade.Peak
	rota       *tamponade.Rota
	advice     *tamponade.PostureAdvice
	closed     []tamponade.ClosureCount
}

// supportDays are the days for which hours of support are told.
var supportDays = []float64{1, 2, 3, 4, 5, 6, 7}

// bubblePostures are the positions with their stable keys.
var bubblePostures = []struct {
	key      string
	position tamponade.Position
}{
	{"upright", tamponade.Upright},
	{"looking_down_30", tamponade.Reading},
	{"face_down_45", tamponade.FaceDown45},
	{"face_down_60", tamponade.FaceDown60},
	{"prone", tamponade.Prone},
	{"left_side", tamponade.LeftSide},
	{"right_side", tamponade.RightSide},
	{"reclined_30", tamponade.Reclined},
	{"supine", tamponade.Supine},
}

// read turns the flags into the question.
func (d *bubbleDocument) read() error {
	c := d.command
	agent, err := tamponade.ParseAgent(c.Gas)
	if err != nil {
		return undoConflict(err, "--gas")
	}
	d.percent = tamponade.PercentReading{Percent: 100, How: "pure"}
	switch {
	case c.Percent != nil:
		if d.percent, err = tamponade.ParsePercent(*c.Percent); err != nil {
			return undoConflict(err, "--percent")
		}
	case agent != tamponade.AgentAir:
		return &fault.Error{Code: fault.Invalid, Where: "--percent", What: "is missing", Expected: "the share of gas in air, for example 14"}
	}
	if d.bubble.Mixture, err = tamponade.NewMixture(agent, d.percent.Percent); err != nil {
		return atFlag(err, "--percent")
	}
	if d.fill, err = tamponade.ParsePercent(c.Fill); err != nil {
		return undoConflict(err, "--fill")
	}
	d.bubble.Fill = d.fill.Percent.Fraction()
	if d.bubble.Lens, err = tamponade.ParseLens(c.Lens); err != nil {
		return err
	}
	if d.bubble.CavityML, err = eye.CavityVolumeML(c.AxialLength); err != nil {
		return atFlag(err, "--axial-length")
	}
	d.bubble.Globe = tamponade.DefaultGlobe(d.bubble.CavityML.Value)
	if c.Pressure != nil {
		d.bubble.Globe.BaselineMMHg = *c.Pressure
		// A facility that would drain more than flows in is not this eye's.
		g := &d.bubble.Globe
		if over := *c.Pressure - g.EpiscleralMMHg; over > 0 {
			g.FacilityULPerMinPerMMHg = math.Min(g.FacilityULPerMinPerMMHg, g.InflowULPerMin/over)
		}
	}
	if err := d.bubble.Check(); err != nil {
		return bubbleFlag(err)
	}
	if err := d.readTargets(); err != nil {
		return err
	}
	return d.readSeen()
}

// bubbleFlag names the flag behind a fault of the bubble.
func bubbleFlag(err error) error {
	f, ok := err.(*fault.Error)
	if !ok {
		return err
	}
	for where, flag := range map[string]string{"fill": "--fill", "baseline pressure": "--pressure-mmhg", "cavity": "--axial-length", "volume of the cavity": "--axial-length", "paths": "--paths"} {
		if f.Where == where {
			return atFlag(err, flag)
		}
	}
	return err
}

func (d *bubbleDocument) readTargets() error {
	cavity, err := eye.SphereOfVolume(d.bubble.CavityML.Value)
	if err != nil {
		return atFlag(err, "--axial-length")
	}
	macula, err := tamponade.MaculaTarget(d.command.HoleUM, cavity)
	if err != nil {
		return atFlag(err, "--hole-um")
	}
	d.targets = []tamponade.Target{macula}
	if d.command.Break == nil {
		return nil
	}
	hour, distance, err := twoNumbers("--break", *d.command.Break, "HOUR:MM, for example 6:14")
	if err != nil {
		return err
	}
	target, err := tamponade.BreakTarget(hour, distance, 1, cavity)
	if err != nil {
		return atFlag(err, "--break")
	}
	d.targets = append(d.targets, target)
	return nil
}

// twoNumbers reads "a:b".
func twoNumbers(flag, text, expected string) (a, b float64, err error) {
	first, second, cut := strings.Cut(text, ":")
	a, err1 := strconv.ParseFloat(strings.TrimSpace(first), 64)
	b, err2 := strconv.ParseFloat(strings.TrimSpace(second), 64)
	if !cut || err1 != nil || err2 != nil || math.IsNaN(a+b) || math.IsInf(a+b, 0) {
		return 0, 0, &fault.Error{Code: fault.Invalid, Where: flag, What: fmt.Sprintf("%q cannot be read", text), Expected: expected}
	}
	return a, b, nil
}

// readSeen reads the visits; fills and heights may be mixed, days must rise.
func (d *bubbleDocument) readSeen() error {
	for _, from := range []struct {
		flag  string
		texts []string
	}{{"--seen", d.command.Seen}, {"--seen-height", d.command.SeenHeight}} {
		for _, text := range from.texts {
			day, share, cut := strings.Cut(text, ":")
			at, err := strconv.ParseFloat(strings.TrimSpace(day), 64)
			if !cut || err != nil || !(at >= 0 && at <= tamponade.MaxDays) {
				return &fault.Error{Code: fault.Invalid, Where: from.flag, What: fmt.Sprintf("%q cannot be read", text), Expected: "DAY:SHARE, for example 3:60"}
			}
			reading, err := tamponade.ParsePercent(share)
			if err != nil {
				return undoConflict(err, from.flag)
			}
			o := tamponade.Observation{Day: at, Fill: reading.Percent.Fraction(), FillSD: tamponade.ReadingSD(d.bubble.CavityML.Value)}
			if from.flag == "--seen-height" {
				if o, err = tamponade.ObservedHeight(at, reading.Percent.Fraction(), d.bubble.CavityML.Value); err != nil {
					return atFlag(err, from.flag)
				}
			}
			d.seen = append(d.seen, o)
		}
	}
	return nil
}
