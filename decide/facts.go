package decide

import (
	"math"
	"slices"
	"strings"

	"limitans/estimate"
	"limitans/tamponade"
)

// unknown is the word of a finding that nobody told.
const unknown = "unknown"

// fact is one finding as rows see it: words, or a number; a number that is not
// known is NaN.
type fact struct {
	words  []string
	number float64
}

func word(w string) fact { return fact{words: []string{w}, number: math.NaN()} }

func numberFact(v float64) fact { return fact{number: v} }

// known reports whether the finding was told.
func (f fact) known() bool {
	if len(f.words) > 0 {
		return f.words[0] != unknown
	}
	return !math.IsNaN(f.number)
}

// is reports whether the finding has a word.
func (f fact) is(w string) bool {
	if w == unknown {
		return !f.known()
	}
	return slices.Contains(f.words, w)
}

// facts are the findings by their key in the table of findings.
type facts map[string]fact

// sizeKey is the one finding that is a distribution.
const sizeKey = "mld"

// newFacts turns findings into facts. An answer that was not told is unknown.
func newFacts(f Findings) facts {
	answer := func(a Answer) fact {
		if a == NotTold {
			a = Unknown
		}
		return word(string(a))
	}
	text := func(t string) fact {
		if t == "" {
			t = unknown
		}
		return word(t)
	}
	number := func(v *float64) fact {
		if v == nil {
			return numberFact(math.NaN())
		}
		return numberFact(*v)
	}
	size := classedSize(f)
	all := facts{
		sizeKey: numberFact(size.Value), "oval": yesNo(f.LargestUM != nil && f.LargestUM.Known()), "ratio": numberFact(ratio(f)),
		"cause": text(string(f.Cause)), "duration": number(f.DurationMonths), "scan-age": number(f.ScanAgeDays),
		"axial": numberFact(axialLength(f)), "sound-in-oil": answer(f.BySoundInOil),
		"vitreous-attached": answer(f.VitreousAttached), "attachment": number(f.AttachmentUM),
		"membrane": answer(f.Membrane), "stage": numberFact(math.NaN()), "lamellar": text(string(f.Lamellar)),
		"symptoms": answer(f.Symptoms), "worsening": answer(f.Worsening), "acuity": number(f.AcuityLogMAR),
		"earlier": text(string(f.EarlierSurgery)), "open-as": text(string(f.OpenAs)),
		"membrane-left": answer(f.MembraneLeft), "membrane-further": answer(f.MembraneFurther), "days-since": number(f.DaysSinceSurgery),
		"vein-occlusion": answer(f.VeinOcclusion), "ischaemia": answer(f.MacularIschaemia), "haemorrhage": answer(f.VitreousHaemorrhage),
		"detachment": answer(f.Detachment), "proliferation": answer(f.Proliferation), "band-lifts": answer(f.BandLifts),
		"drop": number(f.DropUM), "drop-distance": number(f.DropDistanceUM), "drop-is-liquid": answer(f.DropIsLiquid), "subfoveal": subfoveal(f),
		"lens": text(lensWord(f.Lens)), "iridectomy-open": answer(f.IridectomyOpen), "hydrophilic": answer(f.Hydrophilic),
		"glaucoma": answer(f.Glaucoma), "only-eye": answer(f.OnlyEye), "pale-fundus": answer(f.PaleFundus), "lattice": answer(f.Lattice),
		"can-posture": answer(f.CanPosture), "clot-risk": answer(f.ClotRisk), "flight": answer(f.FlightAhead), "climb": answer(f.ClimbAhead),
		"anaesthetic": answer(f.AnaestheticAhead), "gauge": numberFact(math.NaN()),
	}
	if f.MembraneStage > 0 {
		all["stage"] = numberFact(float64(f.MembraneStage))
	}
	if f.GaugeG > 0 {
		all["gauge"] = numberFact(float64(f.GaugeG))
	}
	allergies := []string{"none-told"}
	if len(f.Allergies) > 0 {
		allergies = nil
	}
	for _, a := range f.Allergies {
		allergies = append(allergies, string(a))
	}
	// The condition's name says what the drop is until somebody doubts it.
	if f.Condition == RetainedLiquid && f.DropIsLiquid == NotTold {
		all["drop-is-liquid"] = word(string(Yes))
	}
	all["allergy"] = fact{words: allergies, number: math.NaN()}
	return all
}

func yesNo(is bool) fact {
	if is {
		return word(string(Yes))
	}
	return word(string(No))
}

// classedSize is the diameter by which the size class goes: the larger diameter
// of an oval hole's smallest section, else the minimum linear diameter.
func classedSize(f Findings) estimate.Estimate {
	for _, e := range []*estimate.Estimate{f.LargestUM, f.MLDUM} {
		if e != nil && e.Known() {
			return *e
		}
	}
	return estimate.Missing("no diameter was told")
}

// ratio is the minimum linear diameter over the base, NaN where one is unknown.
func ratio(f Findings) float64 {
	if f.MLDUM == nil || f.BaseUM == nil {
		return math.NaN()
	}
	return f.MLDUM.Value / f.BaseUM.Value
}

// axialLength is NaN where it must not be used: by sound in an oil-filled eye.
func axialLength(f Findings) float64 {
	if f.AxialLengthMM == nil || f.BySoundInOil == Yes {
		return math.NaN()
	}
	return *f.AxialLengthMM
}

func lensWord(l tamponade.Lens) string {
	if l == tamponade.LensUnknown {
		return unknown
	}
	return strings.ToLower(l.String())
}

// subfoveal asks package tamponade whether the drop reaches into the foveola.
func subfoveal(f Findings) fact {
	if f.DropUM == nil || f.DropDistanceUM == nil {
		return word(unknown)
	}
	report, err := tamponade.AssessDrop(tamponade.Drop{DiameterUM: *f.DropUM, FoveaDistanceUM: *f.DropDistanceUM})
	if err != nil {
		return word(unknown) // check has refused it
	}
	return yesNo(report.Subfoveal)
}
