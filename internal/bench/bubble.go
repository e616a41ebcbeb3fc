package bench

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fault"
	"limitans/internal/figure"
	"limitans/internal/figure/scene"
	"limitans/tamponade"
)

// Bubble predicts a bubble from surgery to its end. It never permits anything
// that waits for that end.
type Bubble struct {
	Gas         string   `required:"" placeholder:"GAS" offer:"air,sf6,c2f6,c3f8" help:"Gas in the eye: air, sf6, c2f6 or c3f8."`
	Percent     *string  `placeholder:"SHARE" label:"Share of gas in air" help:"Share of gas in air: 14, 14% or 0.14. Not for air."`
	AxialLength float64  `required:"" placeholder:"MM" help:"Axial length of the eye, mm."`
	Fill        string   `default:"85" placeholder:"SHARE" label:"Fill at the end of surgery" help:"Share of the cavity that the bubble takes up at the end of surgery: 85, 85% or 0.85. Default: 85."`
	Lens        string   `default:"unknown" enum:"phakic,aphakic,pseudophakic,unknown" help:"State of the lens: phakic, aphakic, pseudophakic or unknown. Default: unknown."`
	HoleUM      float64  `name:"hole-um" default:"0" placeholder:"UM" label:"Hole, diameter" help:"Diameter of the macular hole, µm; the bubble is to cover all of it. Default: 0, which stands for 1000."`
	Break       *string  `placeholder:"HOUR:MM" label:"Retinal break" help:"A retinal break as well: clock hour, and millimetres along the wall from the macula."`
	Pressure    *float64 `name:"pressure-mmhg" placeholder:"MMHG" label:"Pressure without gas" help:"Pressure of the eye without gas. Default: 15."`
	Glaucoma    bool     `help:"Glaucoma, drops for it, or another outflow resistance."`
	Seen        []string `sep:"none" placeholder:"DAY:SHARE" label:"Fill as seen" help:"Fill as it was seen on a day after surgery, for example 3:60; once for each visit. Narrows the bands."`
	SeenHeight  []string `sep:"none" name:"seen-height" placeholder:"DAY:SHARE" label:"Level as seen" help:"Instead of the fill, how far down the level stands, head upright: share of the height of the cavity, from the top."`
	Seed        uint64   `default:"1" placeholder:"NUMBER" more:"" help:"Seed of the sampling. Default: 1."`
	Paths       int      `default:"2000" placeholder:"NUMBER" more:"" label:"Sampled courses" help:"Sampled courses. Default: 2000."`
}

// Help is printed below the flags.
func (Bubble) Help() string {
	return "Dates are estimates to plan visits by. Flying, heights, nitrous oxide and diving: " + tamponade.NotUntilSeenEmpty + ", whatever the date."
}

// Answer predicts.
func (c Bubble) Answer() (Answer, error) {
	p, err := c.Predict()
	if err != nil {
		return Answer{}, err
	}
	return p.Answer(), nil
}

// Predict is the answer with its parts.
func (c Bubble) Predict() (*BubbleAnswer, error) {
	d := &BubbleAnswer{Asked: c}
	if err := d.read(); err != nil {
		return nil, err
	}
	return d, d.compute()
}

// Answer is the prediction as sheet, document and drawing.
func (d *BubbleAnswer) Answer() Answer {
	return Answer{Sheet: d.sheet(), Document: d.document(), Draw: func() (*scene.Scene, error) { return figure.DrawBubble(d.Chart()), nil }}
}

// BubbleAnswer is the question with its answers.
type BubbleAnswer struct {
	Asked   Bubble
	percent tamponade.PercentReading
	fill    tamponade.PercentReading
	// Bubble at the end of surgery, and what it is to cover: the macula first.
	Bubble  tamponade.Bubble
	Targets []tamponade.Target
	Seen    []tamponade.Observation
	// Prediction's LastAboveDay begins with the days of half full, a tenth full
	// and gone.
	Prediction tamponade.Prediction
	Surprises  []tamponade.Surprise
	contact    float64 // probability of the contact-area law
	// supportHours are those of [Diaries] on the supportDays.
	supportHours [][]estimate.Estimate
	// Covered are the last days, by the name of the target, in the order of
	// [BubblePostures].
	Covered map[string][]estimate.Estimate
	// Days of the course, with the pressure of the middle eye on each.
	Days     []float64
	Pressure []float64
	Peak     tamponade.Peak
	Rota     *tamponade.Rota
	Advice   *tamponade.PostureAdvice
	closed   []tamponade.ClosureCount
}

// supportDays are the days for which hours of support are told.
var supportDays = []float64{1, 2, 3, 4, 5, 6, 7}

// BubblePosture is a position with its stable key.
type BubblePosture struct {
	Key      string
	Position tamponade.Position
}

// BubblePostures are the positions with their stable keys.
var BubblePostures = []BubblePosture{
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
func (d *BubbleAnswer) read() error {
	c := d.Asked
	agent, err := tamponade.ParseAgent(c.Gas)
	if err != nil {
		return wrongAt(err, "--gas")
	}
	d.percent = tamponade.PercentReading{Percent: 100, How: "pure"}
	switch {
	case c.Percent != nil:
		if d.percent, err = tamponade.ParsePercent(*c.Percent); err != nil {
			return wrongAt(err, "--percent")
		}
	case agent != tamponade.AgentAir:
		return &fault.Error{Code: fault.Invalid, Where: "--percent", What: "is missing", Expected: "the share of gas in air, for example 14"}
	}
	if d.Bubble.Mixture, err = tamponade.NewMixture(agent, d.percent.Percent); err != nil {
		return atFlag(err, "--percent")
	}
	if d.fill, err = tamponade.ParsePercent(c.Fill); err != nil {
		return wrongAt(err, "--fill")
	}
	d.Bubble.Fill = d.fill.Percent.Fraction()
	if d.Bubble.Lens, err = tamponade.ParseLens(c.Lens); err != nil {
		return err
	}
	if d.Bubble.CavityML, err = eye.CavityVolumeML(c.AxialLength); err != nil {
		return atFlag(err, "--axial-length")
	}
	d.Bubble.Globe = tamponade.DefaultGlobe(d.Bubble.CavityML.Value)
	if c.Pressure != nil {
		d.Bubble.Globe.BaselineMMHg = *c.Pressure
		// A facility that would drain more than flows in is not this eye's.
		g := &d.Bubble.Globe
		if over := *c.Pressure - g.EpiscleralMMHg; over > 0 {
			g.FacilityULPerMinPerMMHg = math.Min(g.FacilityULPerMinPerMMHg, g.InflowULPerMin/over)
		}
	}
	if err := d.Bubble.Check(); err != nil {
		return bubbleFlag(err)
	}
	if err := d.readTargets(); err != nil {
		return err
	}
	return d.readSeen()
}

// bubbleFlag names the flag behind a fault of the bubble.
func bubbleFlag(err error) error {
	return atFlagOf(err, map[string]string{"fill": "--fill", "baseline pressure": "--pressure-mmhg", "cavity": "--axial-length", "volume of the cavity": "--axial-length", "paths": "--paths"})
}

func (d *BubbleAnswer) readTargets() error {
	cavity, err := eye.SphereOfVolume(d.Bubble.CavityML.Value)
	if err != nil {
		return atFlag(err, "--axial-length")
	}
	macula, err := tamponade.MaculaTarget(d.Asked.HoleUM, cavity)
	if err != nil {
		return atFlag(err, "--hole-um")
	}
	d.Targets = []tamponade.Target{macula}
	if d.Asked.Break == nil {
		return nil
	}
	hour, distance, err := twoNumbers("--break", *d.Asked.Break, "HOUR:MM, for example 6:14")
	if err != nil {
		return err
	}
	target, err := tamponade.BreakTarget(hour, distance, 1, cavity)
	if err != nil {
		return atFlag(err, "--break")
	}
	d.Targets = append(d.Targets, target)
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
func (d *BubbleAnswer) readSeen() error {
	for _, from := range []struct {
		flag  string
		texts []string
	}{{"--seen", d.Asked.Seen}, {"--seen-height", d.Asked.SeenHeight}} {
		for _, text := range from.texts {
			day, share, cut := strings.Cut(text, ":")
			at, err := strconv.ParseFloat(strings.TrimSpace(day), 64)
			if !cut || err != nil || !(at >= 0 && at <= tamponade.MaxDays) {
				return &fault.Error{Code: fault.Invalid, Where: from.flag, What: fmt.Sprintf("%q cannot be read", text), Expected: "DAY:SHARE, for example 3:60"}
			}
			reading, err := tamponade.ParsePercent(share)
			if err != nil {
				return wrongAt(err, from.flag)
			}
			o := tamponade.Observation{Day: at, Fill: reading.Percent.Fraction(), FillSD: tamponade.ReadingSD(d.Bubble.CavityML.Value)}
			if from.flag == "--seen-height" {
				if o, err = tamponade.ObservedHeight(at, reading.Percent.Fraction(), d.Bubble.CavityML.Value); err != nil {
					return atFlag(err, from.flag)
				}
			}
			d.Seen = append(d.Seen, o)
		}
	}
	return nil
}
