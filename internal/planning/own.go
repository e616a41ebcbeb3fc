package planning

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"limitans/decide"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/stats"
)

// The window after an operation in which an OCT says whether a hole is closed,
// in days (ours, no source: late enough for gas to be off the macula, early
// enough to belong to this operation).
const (
	OwnFromDays = 14
	OwnToDays   = 365
)

// MostOwnEyes is how many of the newest eyes of a condition are counted at most.
const MostOwnEyes = 2000

// Series is what a unit's own record says of its operations: holes closed, and
// acuity after whatever was done.
type Series struct {
	Eyes    int  // that were looked at
	Cut     bool // there are more than MostOwnEyes of a condition
	Missing int  // operations on holes without a reading in the window
	first   map[string]stats.Counts
	again   map[string]stats.Counts
	sight   map[sightKey]*sightValues
}

func newSeries() *Series {
	return &Series{first: map[string]stats.Counts{}, again: map[string]stats.Counts{}, sight: map[sightKey]*sightValues{}}
}

// ownConditions are the conditions that are counted, and the diagnoses by which
// their eyes are found. An eye with several is looked at for each; an operation
// counts for what it was done for.
var ownConditions = []struct {
	condition decide.Condition
	diagnosis record.DiagnosisCode
}{
	{decide.Hole, record.FullThicknessHole},
	{decide.HoleWithDetachment, record.MacularHoleDetachment},
	{decide.EpiretinalMembrane, record.EpiretinalMembrane},
	{decide.Traction, record.VitreomacularTraction},
}

// OwnSeries counts the unit's own results as they stand on a day.
func OwnSeries(ctx context.Context, s *store.Store, today record.Date) (*Series, error) {
	out := newSeries()
	looked := map[record.ID]bool{} // whose operations without an indication are counted
	for _, of := range ownConditions {
		eyes, err := s.EyesDiagnosed(ctx, MostOwnEyes+1, of.diagnosis)
		if err != nil {
			return nil, err
		}
		if len(eyes) > MostOwnEyes {
			eyes, out.Cut = eyes[:MostOwnEyes], true
		}
		for _, id := range eyes {
			course, err := s.Course(ctx, id, false)
			if err != nil {
				return nil, err
			}
			untold := of.condition
			if looked[id] {
				untold = ""
			} else {
				out.Eyes++
			}
			looked[id] = true
			out.count(course.Course, of.condition, untold, today)
		}
	}
	return out, nil
}

// count adds the operations of one eye that were done for a condition; untold is
// what those without an indication are taken for.
func (s *Series) count(c record.Course, condition, untold decide.Condition, today record.Date) {
	first := record.FirstOperation(c.Operations)
	for i, o := range c.Operations {
		code := OptionOf(o, condition)
		if code == "" || treated(o, untold) != condition {
			continue
		}
		s.countSight(c, i, sightKey{condition, code, o != first}, today)
		if condition == decide.Hole || condition == decide.HoleWithDetachment {
			s.countClosure(c, i, code, o == first, today)
		}
	}
}

// countClosure adds whether a hole was closed by an operation.
func (s *Series) countClosure(c record.Course, i int, code string, first bool, today record.Date) {
	o, until := c.Operations[i], today
	if i+1 < len(c.Operations) {
		until = c.Operations[i+1].On
	}
	closed, seen := closedAfter(c.Visits, o.On, until)
	if !seen {
		// An operation of last week is not missing yet.
		if days, ok := o.On.DaysUntil(today); ok && days > OwnToDays {
			s.Missing++
		}
		return
	}
	counts := s.again
	if first {
		counts = s.first
	}
	n := counts[code]
	n.Trials++
	if closed {
		n.Events++
	}
	counts[code] = n
}

// closedAfter reads the last class of closure in the window.
func closedAfter(visits []*record.Visit, operation, until record.Date) (closed, seen bool) {
	for _, v := range visits {
		days, ok := operation.DaysUntil(v.On)
		if v.Closure == nil || !ok || days < OwnFromDays || days > OwnToDays || until.CertainlyBefore(v.On) {
			continue
		}
		for _, class := range record.ClosureClasses() {
			if class.Class == v.Closure.Class && class.Closed != record.Unclear {
				closed, seen = class.Closed == record.Yes, true
			}
		}
	}
	return closed, seen
}

// OptionOf assigns an operation for a condition to an option of the table of package
// decide by what was recorded of flap and peel; empty where it fits none.
func OptionOf(o *record.Operation, condition decide.Condition) string {
	if o.Procedure != record.Vitrectomy && o.Procedure != record.VitrectomyWithLens {
		return ""
	}
	limiting, epiretinal, hyaloid := took(o, record.MembraneILM), took(o, record.MembraneERM), took(o, record.MembraneHyaloid)
	switch {
	case condition == decide.EpiretinalMembrane && epiretinal && limiting:
		return "membrane-and-peel"
	case condition == decide.EpiretinalMembrane && epiretinal:
		return "membrane-peel"
	case condition == decide.Traction && hyaloid:
		return "peel-remove-traction"
	case condition == decide.Hole || condition == decide.HoleWithDetachment:
		return optionOfHole(o, limiting)
	}
	return ""
}

// took reports whether a membrane was peeled.
func took(o *record.Operation, membrane record.Membrane) bool {
	return slices.ContainsFunc(o.Peels, func(p record.Peel) bool { return p.Membrane == membrane && p.State == record.Peeled })
}

func optionOfHole(o *record.Operation, limiting bool) string {
	if o.Flap != nil {
		switch o.Flap.Type {
		case record.FlapInverted, record.FlapTemporal, record.FlapPedicle:
			return "inverted-flap"
		case record.FlapFree:
			return "complete-peel-free-flap"
		case record.FlapLensCapsule:
			return "capsular-flap"
		case record.FlapRetina:
			return "retinal-transplant"
		case record.FlapAmnion:
			return "amniotic-membrane"
		case record.FlapBloodPlug:
			return "platelets"
		}
		return ""
	}
	if limiting {
		return "peel"
	}
	return ""
}

// Unit is the series as package decide takes it: results of first operations, or
// of later ones where the eye has had one.
func (s *Series) Unit(f decide.Findings) decide.Unit {
	counts, which := s.first, "first operations"
	if hadSurgery(f) {
		counts, which = s.again, "operations after a first one"
	}
	var unit decide.Unit
	if f.Condition != decide.Hole && f.Condition != decide.HoleWithDetachment {
		return unit
	}
	for _, code := range slices.Sorted(maps.Keys(counts)) {
		unit.Own = append(unit.Own, decide.OwnResult{
			Code: code, Counts: counts[code],
			What: fmt.Sprintf("own %s on holes of any size, closed at the last OCT %d to %d days after", which, OwnFromDays, OwnToDays),
		})
	}
	return unit
}

// hadSurgery reports whether results of operations after a first one are meant.
func hadSurgery(f decide.Findings) bool {
	return f.EarlierSurgery == decide.EarlierFailed || f.EarlierSurgery == decide.EarlierReopened
}

// Decide asks the table of package decide for the options of an eye, with the
// unit's own results beside the published ones; series may be nil. Own results
// of options that the table does not offer for this eye are left aside, since
// they are results of other eyes.
func Decide(f decide.Findings, series *Series) (decide.Decision, error) {
	alone, err := decide.Decide(f, decide.Unit{})
	if err != nil || series == nil {
		return alone, err
	}
	unit := series.Unit(f)
	unit.Own = slices.DeleteFunc(unit.Own, func(o decide.OwnResult) bool {
		_, offered := alone.Option(o.Code)
		return !offered
	})
	if len(unit.Own) == 0 {
		return alone, nil
	}
	return decide.Decide(f, unit)
}
