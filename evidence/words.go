package evidence

import "slices"

// Question is what was operated for.
type Question string

// The questions.
const (
	Hole               Question = "hole" // primary full-thickness macular hole
	PersistentHole     Question = "persistent-hole"
	TraumaticHole      Question = "traumatic-hole"
	MyopicHole         Question = "myopic-hole"
	HoleWithDetachment Question = "hole-with-detachment"
	Membrane           Question = "membrane" // epiretinal
	VeinOcclusion      Question = "vein-occlusion"
	Detachment         Question = "detachment"
	Proliferation      Question = "proliferation" // vitreoretinal, with detachment
	GiantTear          Question = "giant-tear"
)

// Questions are all questions, in the order of the table's subjects.
func Questions() []Question {
	return []Question{Hole, PersistentHole, TraumaticHole, MyopicHole, HoleWithDetachment, Membrane, VeinOcclusion, Detachment, Proliferation, GiantTear}
}

// String is the question in words.
func (q Question) String() string {
	return map[Question]string{
		Hole: "Primary macular hole", PersistentHole: "Macular hole that stayed open or reopened", TraumaticHole: "Traumatic macular hole",
		MyopicHole: "Macular hole in high myopia", HoleWithDetachment: "Macular hole with retinal detachment", Membrane: "Epiretinal membrane",
		VeinOcclusion: "Retinal vein occlusion", Detachment: "Retinal detachment", Proliferation: "Detachment with vitreoretinal proliferation",
		GiantTear: "Detachment with a giant tear",
	}[q]
}

// Technique is what was done, as a class.
type Technique string

// The techniques. Peel is of the inner limiting membrane; MixedPeel is a group
// of which only a part was peeled; Comparison is a row that compares two.
const (
	Peel               Technique = "peel"
	NoPeel             Technique = "no-peel"
	HalfPeel           Technique = "half-peel"
	MixedPeel          Technique = "mixed-peel"
	InvertedFlap       Technique = "inverted-flap"
	FreeFlap           Technique = "free-flap"
	AmnioticMembrane   Technique = "amniotic-membrane"
	Hydrodissection    Technique = "hydrodissection"
	RetinalTransplant  Technique = "retinal-transplant"
	CapsularFlap       Technique = "capsular-flap"
	Platelets          Technique = "platelets"
	WholeBlood         Technique = "whole-blood"
	GasAlone           Technique = "gas-alone"
	Reoperation        Technique = "reoperation"
	Observation        Technique = "observation"
	MembranePeel       Technique = "membrane-peel"
	MembraneAndPeel    Technique = "membrane-and-peel"
	Vitrectomy         Technique = "vitrectomy"
	OilRemoval         Technique = "oil-removal"
	TechniquesCompared Technique = "comparison"
)

// Techniques are all techniques, in the order in which they are listed.
func Techniques() []Technique {
	return []Technique{
		Peel, InvertedFlap, FreeFlap, NoPeel, HalfPeel, MixedPeel, AmnioticMembrane, Hydrodissection, RetinalTransplant, CapsularFlap,
		Platelets, WholeBlood, GasAlone, Reoperation, Observation, MembranePeel, MembraneAndPeel, Vitrectomy, OilRemoval, TechniquesCompared,
	}
}

// String is the technique in words.
func (t Technique) String() string {
	return map[Technique]string{
		Peel: "Peel of the inner limiting membrane", NoPeel: "No peel", HalfPeel: "Peel of the temporal half", MixedPeel: "Peel in some eyes",
		InvertedFlap: "Inverted flap", FreeFlap: "Free flap", AmnioticMembrane: "Amniotic membrane", Hydrodissection: "Fluid under the hole's edge",
		RetinalTransplant: "Own retina transplanted", CapsularFlap: "Lens capsule", Platelets: "Platelets of own blood", WholeBlood: "Own whole blood",
		GasAlone: "Gas alone", Reoperation: "Another operation, any", Observation: "Observation", MembranePeel: "Membrane peel",
		MembraneAndPeel: "Membrane and limiting membrane peel", Vitrectomy: "Vitrectomy", OilRemoval: "Removal of oil", TechniquesCompared: "Two techniques compared",
	}[t]
}

// Tamponade is what filled the eye at the end, as a class.
type Tamponade string

// The tamponades; Gas is any long-acting gas in air.
const (
	TamponadeNotStated Tamponade = ""
	NoTamponade        Tamponade = "none"
	Gas                Tamponade = "gas"
	Air                Tamponade = "air"
	Oil                Tamponade = "oil"
	MixedTamponade     Tamponade = "mixed"
)

// Tamponades are all that a row can state.
func Tamponades() []Tamponade { return []Tamponade{Gas, Air, Oil, MixedTamponade, NoTamponade} }

// Outcome is what the events of a row are.
type Outcome string

// The outcomes. Sight stands in rows about acuity, which count no events.
const (
	Closed           Outcome = "closed"
	Attached         Outcome = "attached"           // after one operation
	AttachedAfterOil Outcome = "attached-after-oil" // of eyes whose oil was removed
	AttachedFinally  Outcome = "attached-finally"   // at the last visit, further operations included
	Sight            Outcome = "sight"
)

// String is the outcome in words.
func (o Outcome) String() string {
	return map[Outcome]string{
		Closed: "closed", Attached: "attached after one operation", AttachedAfterOil: "attached after the oil was removed",
		AttachedFinally: "attached at the last visit", Sight: "acuity",
	}[o]
}

// Design is the kind of publication.
type Design string

// The designs.
const (
	Trial        Design = "RCT"
	Series       Design = "series"
	Registry     Design = "registry"
	MetaAnalysis Design = "meta"
)

func known[T ~string](value T, all []T) bool { return slices.Contains(all, value) }
