package tamponade

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
)

// The rules of an accepted recipe.
const (
	// MixingTolerancePoints is how far, in percentage points, a recipe that is
	// followed literally may miss the share that was asked for. Ours: no
	// published limit was found; it is a quarter of the step between the
	// closest shares that series compare (C3F8 14 and 16 %).
	MixingTolerancePoints = 0.5
	// preferredPoints lets a recipe use the whole syringe when that is nearly
	// right, instead of a smaller total that is exact on paper only.
	preferredPoints = 0.25
	// readingDivisions is how well a plunger is set on a line, in divisions
	// (ours, no source).
	readingDivisions = 0.25
	// smallestShareOfSyringe is the least total, as a share of the syringe, that
	// the search for a recipe goes down to: half a syringe of mixture less is
	// another syringe (ours).
	smallestShareOfSyringe = 0.5
)

// Nozzle says what stands between the zero mark of the mixing syringe and its
// tap before the gas is drawn.
type Nozzle int

// The contents of the nozzle.
const (
	// NozzleAir: the line and the filter are flushed with gas from the supply
	// or a second syringe, the mixing syringe itself is not. This is what the
	// steps of a recipe ask for, because the error it leaves is the smaller
	// one: x·s/V instead of (1 − x)·s/V.
	NozzleAir Nozzle = iota
	// NozzleGas: the mixing syringe was rinsed with gas, which fills the nozzle.
	NozzleGas
)

// Syringe is the syringe that the mixture is made in.
type Syringe struct {
	CapacityML   float64 `json:"capacity_ml"`
	GraduationML float64 `json:"graduation_ml"` // one division
	// DeadSpaceML is the volume between the zero mark and the tap that stays
	// on the syringe, nozzle and tap together: a range when it is not known.
	DeadSpaceML Span   `json:"dead_space_ml"`
	Nozzle      Nozzle `json:"-"`
	// Basis says where graduation and dead space are from.
	Basis string `json:"basis"`
}

// Syringes outside these capacities mix no gas for an eye.
const (
	minSyringeML = 0.5
	maxSyringeML = 100
)

// commonSyringes: the division is common practice (no source); the largest
// dead space is that of ISO 7886-1 for the capacity (from memory).
var commonSyringes = []struct{ upToML, graduationML, deadSpaceML float64 }{
	{1, 0.01, 0.07}, {3, 0.1, 0.07}, {5, 0.2, 0.075}, {12, 0.2, 0.10}, {20, 1, 0.15}, {30, 1, 0.17}, {maxSyringeML, 1, 0.20},
}

// NewSyringe returns a syringe of capacityML millilitres (0.5 to 100). A
// graduationML or deadSpaceML that is NaN is filled with what such syringes
// commonly have, as [Syringe.Basis] then says; a graduation must divide the
// syringe into 5 to 10,000 parts, and a dead space is at most a fifth of it.
func NewSyringe(capacityML, graduationML, deadSpaceML float64) (Syringe, error) {
	s := Syringe{CapacityML: capacityML, GraduationML: graduationML, DeadSpaceML: Span{deadSpaceML, deadSpaceML}, Basis: "graduation given"}
	common := commonSyringes[0]
	for _, c := range commonSyringes {
		if common = c; capacityML <= c.upToML {
			break
		}
	}
	if math.IsNaN(graduationML) {
		s.GraduationML = common.graduationML
		s.Basis = fmt.Sprintf("graduation of %g mL taken as common for this size (common practice, no source)", common.graduationML)
	}
	if math.IsNaN(deadSpaceML) {
		s.DeadSpaceML = Span{0, common.deadSpaceML}
		s.Basis += fmt.Sprintf("; dead space of nozzle and tap taken as 0 to %g mL (largest by ISO 7886-1, from memory)", common.deadSpaceML)
	} else {
		s.Basis += "; dead space given"
	}
	if err := s.Check(); err != nil {
		return Syringe{}, err
	}
	return s, nil
}

// Check refuses a syringe that cannot be: a capacity outside 0.5 to 100 mL,
// fewer than 5 or more than 10,000 divisions, a dead space below 0 or above a
// fifth of the capacity. All are Invalid.
func (s Syringe) Check() error {
	wrong := func(where, what, expected string) error {
		return &fault.Error{Code: fault.Invalid, Where: where, What: what, Expected: expected}
	}
	if !(s.CapacityML >= minSyringeML && s.CapacityML <= maxSyringeML) {
		return wrong("syringe", fmt.Sprintf("%g mL is no syringe for mixing gas", s.CapacityML), fmt.Sprintf("%g to %g mL", minSyringeML, float64(maxSyringeML)))
	}
	if parts := s.CapacityML / s.GraduationML; !(parts >= 5-1e-9 && parts <= 10000+1e-6) {
		return wrong("graduation", fmt.Sprintf("a division of %g mL on a syringe of %g mL cannot be", s.GraduationML, s.CapacityML), "5 to 10000 divisions")
	}
	if d := s.DeadSpaceML; !(d.Low >= 0 && d.High >= d.Low && d.High <= s.CapacityML/5) {
		return wrong("dead space", fmt.Sprintf("%s mL on a syringe of %g mL cannot be", d, s.CapacityML), "0 to a fifth of the syringe")
	}
	return nil
}

// shareInSyringe is the fraction of gas after gas was drawn to the mark gasML
// and air to the mark totalML, with deadSpaceML beyond the zero mark:
//
//	nozzle of air   (gasML + e) / (totalML + deadSpaceML)
//	nozzle of gas   (gasML + deadSpaceML) / (totalML + deadSpaceML)
//
// e = excess·deadSpaceML is what overdrawing adds: gas drawn beyond the mark and
// pushed back takes some of the air that stood in the nozzle with it.
func (s Syringe) shareInSyringe(gasML, totalML, deadSpaceML, excess float64) float64 {
	gas := gasML + excess*deadSpaceML
	if s.Nozzle == NozzleGas {
		gas = gasML + deadSpaceML
	}
	return gas / (totalML + deadSpaceML)
}

// mostExcess is the largest e / deadSpaceML when gas is drawn at most one
// division beyond its mark: o / (gasML + o + d) for an overdraw o of one
// division, well mixed, the dead space d in the divisor left out.
func (s Syringe) mostExcess(gasML float64) float64 {
	return s.GraduationML / (gasML + s.GraduationML)
}

// shareBand is the smallest and largest share over the dead space and the
// overdraw; the share is monotone in both, so the corners suffice.
func (s Syringe) shareBand(gasML, totalML float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, dead := range []float64{s.DeadSpaceML.Low, s.DeadSpaceML.High} {
		for _, excess := range []float64{0, s.mostExcess(gasML)} {
			share := s.shareInSyringe(gasML, totalML, dead, excess)
			low, high = math.Min(low, share), math.Max(high, share)
		}
	}
	return low, high
}

// worstPoints is the largest error in percentage points over that band.
func (s Syringe) worstPoints(want Percent, gasML, totalML float64) float64 {
	low, high := s.shareBand(gasML, totalML)
	return math.Max(float64(want)-100*low, 100*high-float64(want))
}

// Marks are the two plunger settings of a recipe; both lie on lines of the
// syringe. GasML is the first, TotalML the second; the air between them is
// what is drawn in the second step.
type Marks struct {
	GasML   float64 `json:"gas_ml"`
	AirML   float64 `json:"air_ml"`
	TotalML float64 `json:"total_ml"`
	// ErrorPoints is the worst error of the literal recipe in percentage
	// points, over the range of the dead space.
	ErrorPoints float64 `json:"error_points"`
}

// FindMarks returns the settings for a mixture of want per cent gas in air. The
// largest total whose error is at most 0.25 points is taken, so that the whole
// syringe is used when it can be; without one, the total of the smallest error.
// NotMeasurable when even that error exceeds [MixingTolerancePoints]: the
// syringe is too coarse for this mixture.
//
//	0      GasML              TotalML      CapacityML
//	|——————|——————————————————|————————————|
//	  gas          air           not used
func (s Syringe) FindMarks(want Percent) (Marks, error) {
	if !(want > 0 && want < 100) {
		return Marks{}, &fault.Error{Code: fault.Invalid, Where: "percentage", What: fmt.Sprintf("%g %% is no mixture with air", float64(want)), Expected: "between 0 and 100 %"}
	}
	if err := s.Check(); err != nil {
		return Marks{}, err
	}
	best := Marks{ErrorPoints: math.Inf(1)}
	middle := (s.DeadSpaceML.Low + s.DeadSpaceML.High) / 2
	lines := int(math.Floor(s.CapacityML/s.GraduationML + 1e-9))
	fewest := int(math.Ceil(s.CapacityML*smallestShareOfSyringe/s.GraduationML - 1e-9))
	for total := lines; total >= fewest; total-- {
		totalML := cleanProduct(float64(total), s.GraduationML)
		gas := want.Fraction() * (totalML + middle)
		if s.Nozzle == NozzleGas {
			gas -= middle
		}
		nearest := int(math.Round(gas / s.GraduationML))
		for line := max(1, nearest-1); line <= min(total-1, nearest+1); line++ {
			gasML := cleanProduct(float64(line), s.GraduationML)
			if e := s.worstPoints(want, gasML, totalML); e < best.ErrorPoints-1e-12 {
				best = Marks{GasML: gasML, AirML: cleanProduct(float64(total-line), s.GraduationML), TotalML: totalML, ErrorPoints: e}
			}
		}
		if best.ErrorPoints <= preferredPoints {
			break
		}
	}
	if best.ErrorPoints > MixingTolerancePoints {
		return Marks{}, &fault.Error{
			Code: fault.NotMeasurable, Where: "syringe",
			What:     fmt.Sprintf("no two lines of a %g mL syringe with divisions of %g mL and a dead space of %s mL give %s within %g percentage points", s.CapacityML, s.GraduationML, s.DeadSpaceML, want, MixingTolerancePoints),
			Expected: "a larger or finer syringe",
		}
	}
	return best, nil
}

// TruePercent is the share in the syringe after the marks were followed, with
// the band of what a careful person can miss: each setting within a quarter of
// a division (ours, no source), the dead space anywhere in its range. The
// barrel's own tolerance is not in it; see [Syringe.BarrelPercent].
func (s Syringe) TruePercent(m Marks) estimate.Estimate {
	slack := readingDivisions * s.GraduationML
	middle := (s.DeadSpaceML.Low + s.DeadSpaceML.High) / 2
	low, _ := s.shareBand(math.Max(0, m.GasML-slack), m.TotalML+slack)
	_, high := s.shareBand(m.GasML+slack, m.TotalML-slack)
	return estimate.Estimate{
		Value: 100 * s.shareInSyringe(m.GasML, m.TotalML, middle, 0), Low: 100 * low, High: math.Min(100, 100*high),
		Basis: fmt.Sprintf("by volumes at room pressure; each plunger setting within a quarter of a division of %g mL (ours), dead space %s mL, gas drawn at most one division beyond its mark; the barrel's own tolerance not included", s.GraduationML, s.DeadSpaceML),
	}
}

// BarrelPercent is the span of the share when the barrel is as wrong as
// ISO 7886-1 lets it be: a volume of at least half the capacity within 4 %, a
// smaller one within 1.5 % of the capacity and 1 % of itself; syringes below
// 5 mL 5 %, and 1.5 % with 2 % (all from memory). A good barrel is far better,
// and its errors at both marks go the same way; this is the outer limit.
func (s Syringe) BarrelPercent(m Marks) Span {
	tolerance := func(ml float64) float64 {
		large, ofCapacity, ofVolume := 0.04, 0.015, 0.01
		if s.CapacityML < 5 {
			large, ofVolume = 0.05, 0.02
		}
		if ml >= s.CapacityML/2 {
			return large * ml
		}
		return ofCapacity*s.CapacityML + ofVolume*ml
	}
	gas, total := tolerance(m.GasML), tolerance(m.TotalML)
	return Span{
		100 * s.shareInSyringe(math.Max(0, m.GasML-gas), m.TotalML+total, s.DeadSpaceML.High, 0),
		100 * s.shareInSyringe(m.GasML+gas, m.TotalML-total, s.DeadSpaceML.Low, 0),
	}
}

// OverpressurePercent is the true share when the gas was drawn at an absolute
// pressure of atmospheres (1 is room pressure) and the air was added at room
// pressure,
//
//	x·k / (x·k + 1 − x),
//
// for a nominal share x and k from 0.5 to 10. The plunger must be let go until
// it stands still before the gas is read. Derived from Boyle's law; the error
// is named as a cause of three overdosed eyes by Kanclerz and Grzybowski, Case
// Rep Ophthalmol 2018;9:405, doi 10.1159/000492746 (abstract).
func OverpressurePercent(nominal Percent, atmospheres float64) (Percent, error) {
	if !(nominal >= 0 && nominal <= 100) {
		return 0, &fault.Error{Code: fault.Invalid, Where: "percentage", What: fmt.Sprintf("%g %% cannot be", float64(nominal)), Expected: "0 to 100 %"}
	}
	if !(atmospheres >= 0.5 && atmospheres <= 10) {
		return 0, &fault.Error{Code: fault.Invalid, Where: "pressure of the drawn gas", What: fmt.Sprintf("%g atmospheres cannot be", atmospheres), Expected: "0.5 to 10, with 1 as room pressure"}
	}
	x := nominal.Fraction()
	return Percent(100 * x * atmospheres / (x*atmospheres + 1 - x)), nil
}

// ResidualAfterPurge is the share of the old content that is left after purges
// rinses of a dead space, each drawing drawnML and expelling it again,
//
//	(d / (V + d))ⁿ,
//
// for a dead space d = deadSpaceML and V = drawnML in millilitres (derived;
// assumes complete mixing at each draw).
func ResidualAfterPurge(deadSpaceML, drawnML float64, purges int) (float64, error) {
	if !(deadSpaceML >= 0 && drawnML > 0) || purges < 0 || math.IsInf(deadSpaceML, 0) || math.IsInf(drawnML, 0) {
		return 0, &fault.Error{
			Code: fault.Invalid, Where: "purge", What: fmt.Sprintf("dead space %g mL, %g mL drawn, %d times cannot be", deadSpaceML, drawnML, purges),
			Expected: "volumes and a count that are not negative",
		}
	}
	return math.Pow(deadSpaceML/(drawnML+deadSpaceML), float64(purges)), nil
}
