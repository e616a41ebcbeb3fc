package planning

import (
	"fmt"
	"slices"
	"strings"

	"limitans/acuity"
	"limitans/decide"
	"limitans/estimate"
	"limitans/internal/record"
	"limitans/tamponade"
)

// Told is where a finding was taken from.
type Told struct {
	Finding string // key of the table of findings of package decide
	From    string // entry, in words
}

// FindingsOf reads what an eye's course tells on a day. The patient may be nil.
// The condition is empty where no standing diagnosis is one that decide knows; the
// caller then asks.
func FindingsOf(course record.Course, patient *record.Patient, today record.Date) (decide.Findings, []Told) {
	r := reading{state: record.StateOf(course, today), today: today}
	if course.Eye != nil {
		r.diagnoses(course.Eye.Diagnoses)
		r.axialLength(course.Eye.AxialLengths)
	}
	r.figures(course.Figures)
	r.earlier(course)
	r.lens()
	r.sight()
	if patient != nil {
		r.body(patient)
	}
	return r.out, r.told
}

// reading collects findings with where each was taken from.
type reading struct {
	out   decide.Findings
	told  []Told
	state record.State
	today record.Date
}

func (r *reading) from(finding, entry string, values ...any) {
	r.told = append(r.told, Told{finding, fmt.Sprintf(entry, values...)})
}

// conditionOf is the condition that a diagnosis asks a plan for, those that come
// with others first.
var conditionOf = []struct {
	code      record.DiagnosisCode
	condition decide.Condition
}{
	{record.MacularHoleDetachment, decide.HoleWithDetachment},
	{record.RetainedHeavyLiquid, decide.RetainedLiquid},
	{record.FullThicknessHole, decide.Hole},
	{record.RetinalDetachment, decide.RecurrentDetachment},
	{record.LamellarHole, decide.LamellarHole},
	{record.Pseudohole, decide.LamellarHole},
	{record.MyopicFoveoschisis, decide.LamellarHole},
	{record.VitreomacularTraction, decide.Traction},
	{record.EpiretinalMembrane, decide.EpiretinalMembrane},
}

// diagnoses reads the standing ones.
func (r *reading) diagnoses(all []record.Diagnosis) {
	standing := func(code record.DiagnosisCode) (record.Diagnosis, bool) {
		at := slices.IndexFunc(all, func(d record.Diagnosis) bool { return d.Code == code && !d.Until.Known() })
		if at < 0 {
			return record.Diagnosis{}, false
		}
		return all[at], true
	}
	for _, c := range conditionOf {
		d, is := standing(c.code)
		if !is {
			continue
		}
		r.out.Condition = c.condition
		r.from("condition", "diagnosis %s", words(string(c.code)))
		if days, ok := d.Since.DaysUntil(r.today); ok && days >= 0 {
			months := float64(days) / daysPerMonth
			r.out.DurationMonths = &months
			r.from("duration", "diagnosis since %s", d.Since.Words())
		}
		if c.code == record.Pseudohole {
			r.out.Lamellar = decide.Pseudohole
			r.from("lamellar", "diagnosis")
		}
		if c.code == record.MyopicFoveoschisis {
			r.out.Lamellar = decide.Foveoschisis
			r.from("lamellar", "diagnosis")
		}
		break
	}
	for _, c := range []struct {
		code    record.DiagnosisCode
		finding string
		answer  *decide.Answer
	}{
		{record.VeinOcclusion, "vein-occlusion", &r.out.VeinOcclusion},
		{record.VitreousHaemorrhage, "haemorrhage", &r.out.VitreousHaemorrhage},
		{record.ProliferativeVR, "proliferation", &r.out.Proliferation},
		{record.Glaucoma, "glaucoma", &r.out.Glaucoma},
		{record.EpiretinalMembrane, "membrane", &r.out.Membrane},
		{record.VitreomacularTraction, "vitreous-attached", &r.out.VitreousAttached},
	} {
		// A diagnosis that is not there was perhaps never looked for.
		if _, is := standing(c.code); is {
			*c.answer = decide.Yes
			r.from(c.finding, "diagnosis %s", words(string(c.code)))
		}
	}
	if _, is := standing(record.EyeInjury); is {
		r.out.Cause = decide.Trauma
		r.from("cause", "diagnosis eye injury")
	}
}

const daysPerMonth = 365.25 / 12

func (r *reading) axialLength([]record.AxialLength) {
	if a := r.state.UsableAxial; a != nil {
		length := a.LengthMM
		r.out.AxialLengthMM = &length
		r.from("axial", "biometry by %s%s", words(string(a.Method)), onDay(a.On))
	}
}

// figures reads the latest that were not superseded.
func (r *reading) figures(all []*record.HoleFigures) {
	var latest *record.HoleFigures
	for _, f := range all {
		superseded := slices.ContainsFunc(all, func(g *record.HoleFigures) bool { return g.Supersedes == f.ID && !g.Identity().Struck() })
		if f.Identity().Struck() || superseded || r.today.CertainlyBefore(f.Taken) {
			continue
		}
		if latest == nil || f.Taken.Compare(latest.Taken) >= 0 {
			latest = f
		}
	}
	// Figures from before the last operation tell of another hole.
	if latest == nil || latest.HolePresent == record.No || r.state.Last != nil && latest.Taken.CertainlyBefore(r.state.Last.On) {
		return
	}
	entry := fmt.Sprintf("scan of %s, %s", latest.Taken.Words(), latest.Source)
	take := func(finding string, to **estimate.Estimate, what *estimate.Estimate) {
		if what != nil && what.Known() {
			kept := *what
			*to = &kept
			r.from(finding, "%s", entry)
		}
	}
	// The published classes rest on calipers between visible edges.
	if latest.VisibleMLDUM != nil && latest.VisibleMLDUM.Known() {
		take("mld", &r.out.MLDUM, latest.VisibleMLDUM)
	} else {
		take("mld", &r.out.MLDUM, latest.MLDUM)
	}
	take("oval", &r.out.LargestUM, latest.LargeUM)
	take("ratio", &r.out.BaseUM, latest.BaseUM)
	if days, ok := latest.Taken.DaysUntil(r.today); ok && days >= 0 {
		age := float64(days)
		r.out.ScanAgeDays = &age
		r.from("scan-age", "%s", entry)
	}
}

// earlier reads what operations for the same condition came to.
func (r *reading) earlier(course record.Course) {
	first := record.FirstOperation(course.Operations)
	if first == nil {
		r.out.EarlierSurgery = decide.EarlierNone
		r.from("earlier", "no operation in the record")
		return
	}
	last := r.state.Last
	if r.state.Closure != nil && closureOpen(r.state.Closure.Class) {
		r.out.EarlierSurgery = decide.EarlierFailed
		if r.state.Closure.Class == record.Reopened {
			r.out.EarlierSurgery = decide.EarlierReopened
		}
		r.from("earlier", "closure at the visit of %s", r.state.ClosureOn.Words())
		switch r.state.Closure.Class {
		case record.FlatOpen, record.ClosedWithDefect, record.KangType2:
			r.out.OpenAs = decide.OpenFlat
			r.from("open-as", "closure at the visit of %s", r.state.ClosureOn.Words())
		case record.ElevatedOpen:
			r.out.OpenAs = decide.OpenElevated
			r.from("open-as", "closure at the visit of %s", r.state.ClosureOn.Words())
		}
	}
	if last == nil {
		return
	}
	if days, ok := last.On.DaysUntil(r.today); ok && days >= 0 {
		since := float64(days)
		r.out.DaysSinceSurgery = &since
		r.from("days-since", "operation of %s", last.On.Words())
	}
	for _, p := range last.Peels {
		if p.Membrane != record.MembraneILM {
			continue
		}
		switch p.State {
		case record.LeftInPlace, record.PartlyPeeled:
			r.out.MembraneLeft = decide.Yes
		case record.Peeled:
			// Peeled does not say how far; what is left stays unknown.
			r.out.MembraneLeft = decide.Unknown
		default:
			continue
		}
		r.from("membrane-left", "limiting membrane %s at the operation of %s", words(string(p.State)), last.On.Words())
	}
}

// closureOpen reports a class that is not closed.
func closureOpen(class record.ClosureClass) bool {
	for _, c := range record.ClosureClasses() {
		if c.Class == class {
			return c.Closed == record.No
		}
	}
	return false
}

func (r *reading) lens() {
	switch r.state.Lens {
	case record.LensClear, record.LensCataract:
		r.out.Lens = tamponade.Phakic
	case record.LensPseudophakic, record.LensAnteriorChamber:
		r.out.Lens = tamponade.Pseudophakic
	case record.LensAphakic:
		r.out.Lens = tamponade.Aphakic
	default:
		return
	}
	r.from("lens", "lens on %s", r.state.LensOn.Words())
}

// sight takes the last acuity that counts, as logMAR.
func (r *reading) sight() {
	if p := r.state.Latest; p != nil && p.Entry.Kind == acuity.Measured && p.Entry.LogMAR != nil {
		logMAR := *p.Entry.LogMAR
		r.out.AcuityLogMAR = &logMAR
		r.from("acuity", "acuity %s of %s", p.Raw, p.On.Words())
	}
}

// body reads what the patient as a whole brings.
func (r *reading) body(p *record.Patient) {
	answer := func(a record.Answer) decide.Answer {
		switch a {
		case record.Yes:
			return decide.Yes
		case record.No:
			return decide.No
		}
		return decide.NotTold
	}
	if a := answer(p.ClotRisk); a != decide.NotTold {
		r.out.ClotRisk = a
		r.from("clot-risk", "patient")
	}
	switch answer(p.CannotLieProne) {
	case decide.Yes:
		r.out.CanPosture = decide.No
		r.from("can-posture", "patient cannot lie face down")
	case decide.No:
		r.out.CanPosture = decide.Yes
		r.from("can-posture", "patient can lie face down")
	}
	for _, known := range []struct {
		part    string
		allergy decide.Allergy
	}{
		{"brilliant blue", decide.AllergyBrilliantBlue},
		{"trypan", decide.AllergyTrypanBlue},
		{"indocyanine", decide.AllergyIndocyanineGreen},
		{"iod", decide.AllergyIodine},
		{"steroid", decide.AllergySteroid},
	} {
		for _, a := range p.Allergies {
			if strings.Contains(strings.ToLower(string(a.Substance)), known.part) {
				r.out.Allergies = append(r.out.Allergies, known.allergy)
				r.from("allergy", "allergy %s", a.Substance)
				break
			}
		}
	}
}

func onDay(d record.Date) string {
	if !d.Known() {
		return ""
	}
	return " of " + d.Words()
}

// words writes a code as people read it.
func words(code string) string { return strings.ReplaceAll(code, "_", " ") }
