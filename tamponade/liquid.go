package tamponade

import (
	"fmt"
	"math"

	"limitans/fault"
)

// Liquid is a heavy liquid: a perfluorocarbon that sinks in water.
type Liquid int

// The liquids.
const (
	LiquidUnknown Liquid = iota
	PerfluoroOctane
	Perfluorodecalin
	PerfluoroPhenanthrene // perfluoroperhydrophenanthrene
)

// LiquidProperties are the physical constants of a heavy liquid, all from
// memory (Chang; Peyman et al., Surv Ophthalmol 1995;39:375) unless said.
type LiquidProperties struct {
	Liquid              Liquid
	Name                string
	DensityGPerML       Span // 25 °C
	RefractiveIndex     float64
	SurfaceMNPerM       float64 // against air; against water about 50 to 57
	ViscosityMM2PerS    float64 // 25 °C
	VapourPressureMMHg  Span    // 37 °C
	EvaporatesUnderGas  bool    // a film leaves by itself under air
	Source, Consequence string
}

// Properties returns the constants of a liquid; Unsupported when none is named.
func (l Liquid) Properties() (LiquidProperties, error) {
	const source = "Chang; Peyman et al., Surv Ophthalmol 1995;39:375 (from memory)"
	switch l {
	case PerfluoroOctane:
		return LiquidProperties{l, "perfluoro-n-octane", Span{1.76, 1.76}, 1.27, 14, 0.8, Span{50, 57}, true, source, "evaporates under air; a rinse is still safer"}, nil
	case Perfluorodecalin:
		return LiquidProperties{l, "perfluorodecalin", Span{1.917, 1.941}, 1.31, 16, 2.7, Span{13.5, 13.5}, false, source + "; density also from an encyclopaedia (secondary)", "does not evaporate in time: rinse more"}, nil
	case PerfluoroPhenanthrene:
		return LiquidProperties{l, "perfluoroperhydrophenanthrene", Span{2.03, 2.03}, 1.33, 16, 8.0, Span{0, 1}, false, source, "index near that of water: hard to see; does not evaporate: rinse more"}, nil
	}
	return LiquidProperties{}, &fault.Error{Code: fault.Unsupported, Where: "heavy liquid", What: "no liquid is named", Expected: "perfluoro-n-octane, perfluorodecalin or perfluoroperhydrophenanthrene"}
}

// LiquidUse is what happened with heavy liquid during surgery.
type LiquidUse struct {
	RetinotomyDeg     float64 // 0 for none, 360 for all round; NaN when not told
	Rinsed            Answer  // with saline, after the liquid was taken out
	SeenEmpty         Answer  // looked, and no liquid was left
	OilDirectly       bool    // heavy silicone oil straight onto the liquid
	Liquid            Liquid
	LotAndExpiryKnown bool // both are in the record
}

// Answer is yes, no, or not told; not told is a question that stays open.
type Answer int

// The answers.
const (
	NotTold Answer = iota
	Yes
	No
)

// LiquidPrompts are the open questions and risks at the end of surgery and at
// the first visit after heavy liquid was used.
func LiquidPrompts(u LiquidUse) ([]Warning, error) {
	if u.RetinotomyDeg < 0 || u.RetinotomyDeg > 360 {
		return nil, &fault.Error{Code: fault.Invalid, Where: "retinotomy", What: fmt.Sprintf("%g degrees cannot be", u.RetinotomyDeg), Expected: "0 to 360 degrees"}
	}
	e := RetainedLiquidEvidence()
	var out []Warning
	add := func(code, text, source string) { out = append(out, Warning{code, text, source}) }
	switch {
	case math.IsNaN(u.RetinotomyDeg):
		add("retinotomy", "Size of the retinotomy, in degrees?", sourceGarcia)
	case u.RetinotomyDeg >= 120:
		add("retinotomy", fmt.Sprintf("Retinotomy of %g degrees: liquid stayed under the retina in %s, always after 120 degrees or more, 40 %% after 360.", u.RetinotomyDeg, e.All), sourceGarcia)
	}
	switch u.Rinsed {
	case NotTold:
		add("rinse", "Rinsed with saline, yes or no?", sourceGarcia)
	case No:
		add("rinse", fmt.Sprintf("Not rinsed. After a rinse liquid stayed in %s; too few to prove it.", e.Rinsed), sourceGarcia)
	}
	if u.SeenEmpty != Yes {
		add("seen_empty", "Liquid removed: seen empty? OCT of the macula at the first visit.", sourceGarcia)
	}
	if u.OilDirectly {
		add("sticky", "Heavy liquid mixes with heavy oil into a thick, sticky product: no direct exchange.", "reference text, section 6 (abstracts)")
	}
	if p, err := u.Liquid.Properties(); err == nil && !p.EvaporatesUnderGas {
		add("no_evaporation", p.Name+": "+p.Consequence+".", p.Source)
	}
	if !u.LotAndExpiryKnown {
		add("lot", "Lot and expiry of the liquid? Toxic batches: 117 eyes reported, 96 tied to the liquid, 53 without light; only lot numbers found them.", "Pastor et al., Retina 2017;37:1140 (abstract)")
	}
	return out, nil
}

const (
	sourceGarcia   = "Garcia-Valenzuela, Ito and Abrams, Retina 2004;24:746 (abstract)"
	sourceZacharia = "Zacharias et al., Int J Retina Vitreous 2020;6:53, doi 10.1186/s40942-020-00256-7 (abstract)"
)

// LiquidEvidence are the published counts of retained liquid.
type LiquidEvidence struct {
	All, Rinsed Counted
	// Signs on OCT of drops under the retina.
	Signs []Counted
	// Elsewhere is what liquid does that stays in front of the retina.
	Elsewhere []string
}

// RetainedLiquidEvidence returns them with exact intervals.
func RetainedLiquidEvidence() LiquidEvidence {
	rows := counted([]Counted{
		{What: "liquid under the retina", Events: 8, Trials: 72, Note: "all after a retinotomy of 120 degrees or more, mean 259; 40 % after 360", Source: sourceGarcia},
		{What: "liquid under the retina after a rinse", Events: 1, Trials: 23, Source: sourceGarcia},
	})
	return LiquidEvidence{
		All: rows[0], Rinsed: rows[1],
		Signs: counted([]Counted{
			{What: "bright floor of the drop", Events: 8, Trials: 13, Source: sourceZacharia},
			{What: "shadow of the choroid at the edge", Events: 11, Trials: 13, Source: sourceZacharia},
			{What: "bright dot at the top", Events: 8, Trials: 13, Source: sourceZacharia},
			{What: "halo", Events: 5, Trials: 13, Source: sourceZacharia},
		}),
		Elsewhere: []string{
			"in the vitreous longer than a week: foreign-body reaction in up to 30 %, clears on removal (Biomed Res Int 2014:907816, doi 10.1155/2014/907816, abstract)",
			"in the front chamber: oedema of the cornea after 2 to 3 days where it touches (Peyman et al. 1995, PMID 7604361, abstract)",
		},
	}
}

// Drop is a round lucent body seen on OCT after surgery.
type Drop struct {
	DiameterUM float64
	// FoveaDistanceUM is from the foveal centre to the drop's centre.
	FoveaDistanceUM float64
	// UnderRetina: it lies under the neurosensory retina.
	UnderRetina Answer
	// SightLost: acuity or a scotoma that fits the drop.
	SightLost Answer
	// Identity is what the user decided it is; candidates are listed while it
	// is not told.
	Identity DropIdentity
}

// DropIdentity is what a round lucent body is held to be. The user decides.
type DropIdentity int

// The identities.
const (
	DropUndecided DropIdentity = iota
	DropLiquid
	DropOil
	DropGas
	DropFluid
)

// DropReport is what can be said about a drop.
type DropReport struct {
	// EdgeDistanceUM is from the foveal centre to the nearest edge, 0 when the
	// drop covers it.
	EdgeDistanceUM float64
	// Subfoveal: the drop reaches into the foveola.
	Subfoveal bool
	// Place in words.
	Place      string
	Candidates []Warning // while undecided
	Options    []Warning // each with its source; none is a recommendation
}

// foveolaRadiusUM is the foveola's radius (textbook, from memory).
const foveolaRadiusUM = 175

// AssessDrop says where a drop lies and which options are published for it.
// Diameter 10 to 10,000 µm, distance 0 to 30,000 µm.
func AssessDrop(d Drop) (DropReport, error) {
	if !(d.DiameterUM >= 10 && d.DiameterUM <= 10000 && d.FoveaDistanceUM >= 0 && d.FoveaDistanceUM <= 30000) {
		return DropReport{}, &fault.Error{
			Code: fault.Invalid, Where: "drop", What: fmt.Sprintf("%g µm across at %g µm cannot be", d.DiameterUM, d.FoveaDistanceUM), Expected: "10 to 10000 µm across, 0 to 30000 µm from the fovea",
		}
	}
	out := DropReport{EdgeDistanceUM: math.Max(0, d.FoveaDistanceUM-d.DiameterUM/2)}
	out.Subfoveal = out.EdgeDistanceUM <= foveolaRadiusUM
	switch {
	case out.EdgeDistanceUM == 0:
		out.Place = fmt.Sprintf("%.0f µm across, under the foveal centre", d.DiameterUM)
	case out.Subfoveal:
		out.Place = fmt.Sprintf("%.0f µm across, its edge %.0f µm from the foveal centre, inside the foveola (radius 175 µm, from memory)", d.DiameterUM, out.EdgeDistanceUM)
	default:
		out.Place = fmt.Sprintf("%.0f µm across, its edge %.0f µm from the foveal centre", d.DiameterUM, out.EdgeDistanceUM)
	}
	if d.Identity == DropUndecided {
		out.Candidates = []Warning{
			{"liquid", "Heavy liquid: bright floor, shadow of the choroid at the edge, dot at the top, thin retina above; often a round dome.", sourceZacharia},
			{"oil", "Oil: overlapping signs; an incomplete septum points to oil or gas.", sourceZacharia},
			{"gas", "Gas: the only one with a round base; gone at the next visit.", sourceZacharia},
			{"fluid", "Fluid: no edge shadow; changes with time.", "common practice, no source"},
		}
		return out, nil
	}
	if d.Identity != DropLiquid {
		return out, nil
	}
	if d.UnderRetina != Yes {
		for _, text := range RetainedLiquidEvidence().Elsewhere {
			out.Options = append(out.Options, Warning{"elsewhere", text, "as named"})
		}
		return out, nil
	}
	out.Options = liquidOptions(out.Subfoveal, d.SightLost)
	return out, nil
}

func liquidOptions(subfoveal bool, sightLost Answer) []Warning {
	watch := Warning{"watch", "Watch with dated OCT: diameter and distance from the fovea each time; a drop can move.", "extrafoveal: common practice; one subfoveal drop stable for 10 years (case report)"}
	if !subfoveal {
		return []Warning{watch}
	}
	options := []Warning{
		{"aspirate", "Peel the inner limiting membrane, then aspirate gently through 38 to 41 gauge at the top or edge of the drop, air. In one series 4 eyes, 20/1000 to 20/60 in the first.", "BMC Ophthalmol 2018, doi 10.1186/s12886-018-0798-y (full text, part)"},
		{"displace", "Raise a bleb with 41 gauge at no more than 8 psi, move the drop down to a drainage retinotomy below, aspirate there, air. One eye.", "Takahashi et al., BMC Ophthalmol 2020;20:427 (abstract)"},
	}
	if sightLost == Yes {
		return append([]Warning{{"early", "Under the fovea with loss of sight: early removal is what is published.", "reviews and case series (secondary)"}}, append(options, watch)...)
	}
	return append([]Warning{watch}, options...)
}
