package planning

import (
	"testing"

	"limitans/decide"
	"limitans/estimate"
	"limitans/eye"
	"limitans/internal/record"
	"limitans/stats"
	"limitans/tamponade"
)

var today = record.Date{Year: 2026, Month: 11, Day: 24}

func day(month, d int) record.Date { return record.Date{Year: 2026, Month: month, Day: d} }

// openHole is an eye whose hole stayed open with flat edges after a peel that
// left membrane behind; the figures of before the operation tell of another hole.
func openHole() record.Course {
	um := func(x float64) *estimate.Estimate { e := estimate.Normal(x, 10, "invented"); return &e }
	length := 24.1
	return record.Course{
		Eye: &record.Eye{
			Base: record.Base{ID: "e"}, Side: eye.Left,
			Diagnoses: []record.Diagnosis{
				{Code: record.FullThicknessHole, Since: day(1, 24)},
				{Code: record.Glaucoma},
				{Code: record.VeinOcclusion, Since: day(1, 1), Until: day(2, 1)},
			},
			AxialLengths: []record.AxialLength{{LengthMM: length, Method: record.BiometryLight, MediumThen: record.MediumFluid, On: day(1, 24)}},
		},
		Figures: []*record.HoleFigures{
			{Base: record.Base{ID: "old"}, Taken: day(1, 24), HolePresent: record.Yes, MLDUM: um(300)},
			{Base: record.Base{ID: "first"}, Taken: day(10, 1), HolePresent: record.Yes, MLDUM: um(500)},
			{Base: record.Base{ID: "corrected"}, Supersedes: "first", Taken: day(10, 1), HolePresent: record.Yes, MLDUM: um(520), VisibleMLDUM: um(490), BaseUM: um(900)},
		},
		Operations: []*record.Operation{{
			Base: record.Base{ID: "o"}, On: day(3, 1), Procedure: record.Vitrectomy, LensAfter: record.LensPseudophakic,
			Peels: []record.Peel{{Membrane: record.MembraneILM, State: record.PartlyPeeled}},
		}},
		Visits: []*record.Visit{{Base: record.Base{ID: "v"}, On: day(6, 1), Closure: &record.Closure{Class: record.FlatOpen}}},
	}
}

// TestFindingsSayWhereTheyCameFrom reads a failed hole.
func TestFindingsSayWhereTheyCameFrom(t *testing.T) {
	course := openHole()
	f, told := FindingsOf(course, &record.Patient{CannotLieProne: record.Yes, Allergies: []record.Allergy{{Substance: "Povidone iodine"}}}, today)
	if f.Condition != decide.Hole || f.EarlierSurgery != decide.EarlierFailed || f.OpenAs != decide.OpenFlat || f.MembraneLeft != decide.Yes {
		t.Errorf("condition %s, earlier %s, open as %s, membrane left %s", f.Condition, f.EarlierSurgery, f.OpenAs, f.MembraneLeft)
	}
	if f.MLDUM == nil || f.MLDUM.Value != 490 || f.BaseUM == nil || f.BaseUM.Value != 900 {
		t.Errorf("diameters %v and %v, wanted those between visible edges of the corrected figures", f.MLDUM, f.BaseUM)
	}
	if f.Glaucoma != decide.Yes || f.VeinOcclusion != decide.NotTold || f.Lens != tamponade.Pseudophakic || f.CanPosture != decide.No {
		t.Errorf("glaucoma %q, vein occlusion %q, lens %v, posture %q", f.Glaucoma, f.VeinOcclusion, f.Lens, f.CanPosture)
	}
	if len(f.Allergies) != 1 || f.Allergies[0] != decide.AllergyIodine {
		t.Errorf("allergies %v", f.Allergies)
	}
	if f.AxialLengthMM == nil || *f.AxialLengthMM != 24.1 || f.DurationMonths == nil || *f.DurationMonths < 9.9 || *f.DurationMonths > 10.1 {
		t.Errorf("axial length %v, duration %v", f.AxialLengthMM, f.DurationMonths)
	}
	from := map[string]string{}
	for _, one := range told {
		from[one.Finding] = one.From
	}
	for _, finding := range []string{"condition", "mld", "ratio", "duration", "axial", "earlier", "open-as", "membrane-left", "days-since", "lens", "can-posture", "allergy", "glaucoma"} {
		if from[finding] == "" {
			t.Errorf("%s does not say where it was taken from", finding)
		}
	}
	if err := f.Check(); err != nil {
		t.Errorf("the findings cannot be asked about: %v", err)
	}
}

// TestFiguresOfAnotherHoleAreLeft wants no diameter from before the last operation.
func TestFiguresOfAnotherHoleAreLeft(t *testing.T) {
	course := openHole()
	course.Figures = course.Figures[:1]
	if f, _ := FindingsOf(course, nil, today); f.MLDUM != nil {
		t.Errorf("the diameter of before the operation is taken: %v", f.MLDUM)
	}
}

// TestNothingIsGuessed reads an eye of which nothing is told.
func TestNothingIsGuessed(t *testing.T) {
	f, told := FindingsOf(record.Course{Eye: &record.Eye{Side: eye.Right}}, nil, today)
	if f.Condition != "" || f.MLDUM != nil || f.AxialLengthMM != nil || f.Lens != tamponade.LensUnknown || f.Membrane != decide.NotTold {
		t.Errorf("%+v", f)
	}
	if len(told) != 1 || told[0].Finding != "earlier" {
		t.Errorf("told %v, wanted only that there was no operation", told)
	}
}

// TestOwnResultsAreCountedByWhatWasDone counts operations by hand.
func TestOwnResultsAreCountedByWhatWasDone(t *testing.T) {
	op := func(id string, on record.Date, flap *record.Flap) *record.Operation {
		return &record.Operation{
			Base: record.Base{ID: record.ID(id)}, On: on, Procedure: record.Vitrectomy, Flap: flap,
			Peels: []record.Peel{{Membrane: record.MembraneILM, State: record.Peeled}},
		}
	}
	seen := func(on record.Date, class record.ClosureClass) *record.Visit {
		return &record.Visit{On: on, Closure: &record.Closure{Class: class}}
	}
	s := newSeries()
	// Peeled and open, then a free flap and closed.
	s.count(record.Course{
		Operations: []*record.Operation{op("a", day(1, 1), nil), op("b", day(4, 1), &record.Flap{Type: record.FlapFree})},
		Visits:     []*record.Visit{seen(day(2, 1), record.FlatOpen), seen(day(5, 1), record.ClosedNoDefect)},
	}, decide.Hole, decide.Hole, today)
	// Flap, closed; the reading of the third day is too early to count.
	s.count(record.Course{
		Operations: []*record.Operation{op("c", day(1, 1), &record.Flap{Type: record.FlapTemporal})},
		Visits:     []*record.Visit{seen(day(1, 4), record.FlatOpen), seen(day(3, 1), record.KangType1)},
	}, decide.Hole, decide.Hole, today)
	// Two years ago and never read.
	s.count(record.Course{Operations: []*record.Operation{op("d", record.Date{Year: 2024, Month: 5, Day: 1}, nil)}}, decide.Hole, decide.Hole, today)
	// Last week: not missing yet.
	s.count(record.Course{Operations: []*record.Operation{op("e", day(11, 17), nil)}}, decide.Hole, decide.Hole, today)

	if got := s.first["peel"]; got != (stats.Counts{Events: 0, Trials: 1}) {
		t.Errorf("first peels: %v", got)
	}
	if got := s.first["inverted-flap"]; got != (stats.Counts{Events: 1, Trials: 1}) {
		t.Errorf("first flaps: %v", got)
	}
	if got := s.again["complete-peel-free-flap"]; got != (stats.Counts{Events: 1, Trials: 1}) {
		t.Errorf("free flaps after a first operation: %v", got)
	}
	if s.Missing != 1 {
		t.Errorf("%d missing, wanted the one of 2024", s.Missing)
	}
	unit := s.Unit(decide.Findings{Condition: decide.Hole})
	if len(unit.Own) != 2 {
		t.Errorf("first operations: %v", unit.Own)
	}
	if unit := s.Unit(decide.Findings{Condition: decide.EpiretinalMembrane}); len(unit.Own) != 0 {
		t.Errorf("results of holes for a membrane: %v", unit.Own)
	}
	// Own results of options that the table does not offer are left aside.
	mld := decide.TypedDiameter(300)
	if _, err := Decide(decide.Findings{Condition: decide.Hole, MLDUM: &mld, EarlierSurgery: decide.EarlierNone}, s); err != nil {
		t.Error(err)
	}
}
