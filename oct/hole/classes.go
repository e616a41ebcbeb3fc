package hole

import (
	"math"

	"limitans/estimate"
)

// Class is one size class of a published scheme: (above, to] in µm.
type Class struct {
	Name            string  `json:"name"`
	AboveUM, UpToUM float64 `json:"-"`
}

// Scheme is a published classification of hole size.
type Scheme struct {
	Name    string
	Source  string
	Classes []Class
}

// Schemes are the two published size classifications. Limits exist only here.
var Schemes = []Scheme{
	{
		Name:   "IVTS 2013",
		Source: "International Vitreomacular Traction Study group, Duker et al., Ophthalmology 2013;120:2611, doi 10.1016/j.ophtha.2013.07.042 (abstract and secondary summary)",
		Classes: []Class{
			{"small", 0, 250}, {"medium", 250, 400}, {"large", 400, math.Inf(1)},
		},
	},
	{
		Name:   "CLOSE 2023",
		Source: "CLOSE study group, Rezende et al., Int J Retina Vitreous 2023, doi 10.1186/s40942-022-00439-4 (limits 535 and 800 µm in the abstract; class names and limits 400, 550, 800, 1000 µm from memory)",
		Classes: []Class{
			{"not large", 0, 400}, {"large", 400, 550}, {"X-large", 550, 800}, {"XX-large", 800, 1000}, {"giant", 1000, math.Inf(1)},
		},
	},
}

// SizeClass is the class of one figure under one scheme, with the probability of
// every class given the figure's interval.
type SizeClass struct {
	Scheme        string             `json:"scheme"`
	Figure        string             `json:"figure"` // which figure was classed: mld_visible_um, mld_um or min_section.large_um
	Class         string             `json:"class"`  // the most probable one
	Probability   float64            `json:"probability"`
	Probabilities []ClassProbability `json:"probabilities"`
	Borderline    bool               `json:"borderline"` // within 31 µm of a limit
	Source        string             `json:"source"`
}

// ClassProbability is the probability of one class.
type ClassProbability struct {
	Class       string  `json:"class"`
	Probability float64 `json:"probability"`
}

// RealChangeUM is the smallest change of the minimum linear diameter that is not
// reading error: 95 % repeatability of one reading, 31 µm (Baumann et al.,
// Transl Vis Sci Technol 2021;10(13), full-text excerpt). The same distance to
// a limit makes a class borderline.
const RealChangeUM = 31.0

// readingSDUM is the standard deviation of one reading that this repeatability
// implies, 31/(1.96·√2) = 11 µm. The published limits were drawn on such readings, so
// it blurs every class.
const readingSDUM = RealChangeUM / (estimate.Z95 * math.Sqrt2)

// ClassifyAll classes the diameters of a hole: first the reading between visible
// edges, because the limits come from calipers on a screen.
func ClassifyAll(visible, mld, largest estimate.Estimate) []SizeClass {
	out := Classify(visible, "mld_visible_um")
	out = append(out, Classify(mld, "mld_um")...)
	return append(out, Classify(largest, "min_section.large_um")...)
}

// Classify gives the classes of a diameter under every scheme. The error is taken
// as normal, with the standard deviation that the 95 % interval implies and that
// of one reading by a person, on which the limits rest:
//
//	P(class) = Φ((upper − value)/σ) − Φ((lower − value)/σ),   σ² = ((High − Low)/(2·1.96))² + 11²
//
// normalised to a positive diameter. A missing estimate gives no classes.
func Classify(diameterUM estimate.Estimate, figure string) []SizeClass {
	if !diameterUM.Known() {
		return nil
	}
	sd := math.Hypot((diameterUM.High-diameterUM.Low)/(2*estimate.Z95), readingSDUM)
	below := func(limit float64) float64 {
		if math.IsInf(limit, 1) {
			return 1
		}
		return 0.5 * math.Erfc((diameterUM.Value-limit)/(sd*math.Sqrt2))
	}
	possible := 1 - below(0)
	var out []SizeClass
	for _, scheme := range Schemes {
		c := SizeClass{Scheme: scheme.Name, Figure: figure, Source: scheme.Source}
		for _, class := range scheme.Classes {
			p := (below(class.UpToUM) - below(class.AboveUM)) / possible
			c.Probabilities = append(c.Probabilities, ClassProbability{class.Name, p})
			if p > c.Probability {
				c.Class, c.Probability = class.Name, p
			}
			if math.Abs(diameterUM.Value-class.UpToUM) <= RealChangeUM {
				c.Borderline = true
			}
		}
		out = append(out, c)
	}
	return out
}
