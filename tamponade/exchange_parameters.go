package tamponade

import (
	"fmt"
	"math"
	"strings"

	"limitans/fault"
)

// Lens says what lies between the cavity and the front of the eye; the
// published half-lives differ by it.
type Lens int

// The states of the lens. What is not told stays LensUnknown and is computed as
// phakic, whose gas stays longest, with a wider band.
const (
	LensUnknown Lens = iota
	Phakic
	Aphakic
	Pseudophakic
)

// String returns the term of the trade.
func (l Lens) String() string {
	switch l {
	case Phakic:
		return "phakic"
	case Aphakic:
		return "aphakic"
	case Pseudophakic:
		return "pseudophakic"
	}
	return "unknown"
}

// MarshalText writes what [Lens.String] returns.
func (l Lens) MarshalText() ([]byte, error) { return []byte(l.String()), nil }

// UnmarshalText reads what [ParseLens] reads.
func (l *Lens) UnmarshalText(text []byte) error {
	lens, err := ParseLens(string(text))
	*l = lens
	return err
}

// ParseLens reads phakic, aphakic, pseudophakic or unknown, in any case. An
// empty text is refused like any other: the caller says that it is unknown.
func ParseLens(text string) (Lens, error) {
	wanted := strings.ToLower(strings.TrimSpace(text))
	for _, l := range []Lens{LensUnknown, Phakic, Aphakic, Pseudophakic} {
		if wanted == l.String() {
			return l, nil
		}
	}
	return LensUnknown, &fault.Error{
		Code: fault.Invalid, Where: "lens", What: fmt.Sprintf("%q is no state of the lens", text),
		Expected: "phakic, aphakic, pseudophakic or unknown",
	}
}

// Law is what a bubble's exchange is proportional to as it shrinks.
type Law int

// The laws. Both are fitted to the same half-lives; they part below half fill.
const (
	// VolumeLaw: the bubble's volume. Shrinking ends up first-order, as the
	// published series describe it, and never quite ends.
	VolumeLaw Law = iota
	// ContactAreaLaw: the wall that the bubble touches. Shrinking speeds up
	// towards a last day, as two bubbles that were followed daily did.
	ContactAreaLaw
)

// String names the law.
func (l Law) String() string {
	if l == ContactAreaLaw {
		return "contact area"
	}
	return "volume"
}

// share is the part of full exchange at a fill of the cavity from 0 up.
func (l Law) share(fill float64) float64 {
	if fill >= 1 {
		return 1
	}
	if l == ContactAreaLaw {
		return relativeHeight(fill)
	}
	return fill
}

// fitted holds what was adjusted to people's half-lives, for each law: the
// conductance of nitrogen, and those of the two gases relative to it.
var fitted = map[Law]struct{ nitrogenPerDay, sulphurHexafluoride, octafluoropropane float64 }{
	VolumeLaw:      {4.67, 0.157, 0.0237},
	ContactAreaLaw: {4.32, 0.180, 0.0248},
}

// halfLifeByLens multiplies a half-life. The ratios to phakic eyes are those of
// C3F8 10 %, 4.5/5.7 and 4.3/5.7 days (Thompson 1989, abstract), the gas that
// was seen with all three; SF6 showed 0.86 and air 0.56 in aphakic eyes. The
// series of 1992, which gives the absolute values, does not tell its lenses; it
// is taken for phakic eyes, the longer of two readings.
var halfLifeByLens = map[Lens]float64{LensUnknown: 1, Phakic: 1, Aphakic: 4.5 / 5.7, Pseudophakic: 4.3 / 5.7}

// Sources of the exchange.
const (
	sourceHalfLives = "fitted to air 1.3, C3F8 5, 10, 15, 20 % 4.2, 6.5, 8.0, 12.5 days (Thompson, Arch Ophthalmol 1992;110:1594, abstract) and SF6 20 % 2.6 days (phakic eyes of Thompson 1989, 2.8 days, brought down for the aphakic)"
	doiThompson1992 = "10.1001/archopht.1992.01080230094028"
	doiThompson1989 = "10.1001/archopht.1989.01070010705031"
	sourceFilm      = "solubility times diffusion in water, relative to nitrogen"
)

// Parameters rule the exchange of a bubble with blood.
type Parameters struct {
	// PerDay is the conductance of each species: the volume that a full
	// cavity's bubble takes up or loses in a day, as a share of the cavity, when
	// the difference of partial pressure is the whole pressure.
	PerDay [GasCount]float64
	// TissueMMHg is the partial pressure of each species in the tissue.
	TissueMMHg [GasCount]float64
}

// DefaultParameters returns the calibrated parameters for a law and a lens:
//
//	            relative conductance        from
//	N2          1 (4.67 or 4.32 per day)    fitted
//	O2, CO2     2.2, 45                     solubility × diffusion
//	N2O         30                          solubility × diffusion
//	SF6         0.157 or 0.180              fitted (solubility × diffusion: 0.200)
//	C2F6        0.045                       solubility × diffusion: no human half-life was found
//	C3F8        0.0237 or 0.0248            fitted (solubility × diffusion: 0.010, uncertain × 2)
//
// The lens scales all of them (published: not the same for all gases).
func DefaultParameters(law Law, lens Lens) Parameters {
	var p Parameters
	fit := fitted[law]
	unit := fit.nitrogenPerDay / halfLifeByLens[lens]
	for g := range gasCount {
		p.PerDay[g] = unit * filmConductance(g)
		p.TissueMMHg[g] = gasTable[g].tissue
	}
	p.PerDay[SulphurHexafluoride] = unit * fit.sulphurHexafluoride
	p.PerDay[Octafluoropropane] = unit * fit.octafluoropropane
	return p
}

// filmConductance is solubility times diffusion in water, over that of nitrogen.
func filmConductance(g Gas) float64 {
	of := func(g Gas) float64 {
		row := gasTable[g]
		return OstwaldCoefficient(row.henry, row.temperatureK, BodyTemperatureK) * row.diffusion
	}
	return of(g) / of(Nitrogen)
}

// scaled returns the parameters of an eye whose exchange is faster by factor.
func (p Parameters) scaled(factor float64) Parameters {
	for g := range p.PerDay {
		p.PerDay[g] *= factor
	}
	return p
}

// DefaultOpenMinutes is how long gas is commonly in the eye before the ports are
// closed (ours; no source).
const DefaultOpenMinutes = 5.0

// Settled returns the composition after minutes in an open eye at a fill and dry
// pressure: every species moves towards the tissue's pressure,
//
//	p(t) = tissue + (p(0) − tissue)·exp(−g·S/fill·t),
//
// and the shares are brought back to one by what flows through the port. Carbon
// dioxide, the fastest, takes about five minutes for half its way.
func (c Composition) Settled(law Law, p Parameters, fill, dryMMHg, minutes float64) Composition {
	if minutes <= 0 {
		return c
	}
	clock := minutes / minutesPerDay * law.share(fill) / fill
	total := 0.0
	for g, share := range c {
		tissue := p.TissueMMHg[g] / dryMMHg
		c[g] = tissue + (share-tissue)*math.Exp(-p.PerDay[g]*clock)
		total += c[g]
	}
	for g := range c {
		c[g] /= total
	}
	return c
}

// check refuses parameters that no tissue has.
func (p Parameters) check() error {
	for g := range gasCount {
		if !(p.PerDay[g] > 0 && p.PerDay[g] < 1e5) {
			return &fault.Error{Code: fault.Invalid, Where: "conductance of " + g.Symbol(), What: fmt.Sprintf("%g a day cannot be", p.PerDay[g]), Expected: "a positive number"}
		}
		if !(p.TissueMMHg[g] >= 0 && p.TissueMMHg[g] < 2*SeaLevelMMHg) {
			return &fault.Error{Code: fault.Invalid, Where: "tissue pressure of " + g.Symbol(), What: fmt.Sprintf("%g mmHg cannot be", p.TissueMMHg[g]), Expected: "0 mmHg and more"}
		}
	}
	return nil
}

// ExchangeParameters returns every parameter of the exchange and of the eye's
// water in one table, with spread, source and how it is known.
func ExchangeParameters() []Constant {
	var table []Constant
	for _, law := range []Law{VolumeLaw, ContactAreaLaw} {
		f := fitted[law]
		name := func(what string) string { return what + ", " + law.String() + " law" }
		table = append(table,
			Constant{name("conductance of nitrogen"), f.nitrogenPerDay, f.nitrogenPerDay * 0.8, f.nitrogenPerDay * 1.25, "per day", sourceHalfLives, doiThompson1992, Fitted},
			Constant{name("conductance of SF6 over nitrogen"), f.sulphurHexafluoride, 0.12, 0.25, "1", sourceHalfLives, doiThompson1989, Fitted},
			Constant{name("conductance of C3F8 over nitrogen"), f.octafluoropropane, 0.02, 0.04, "1", sourceHalfLives, doiThompson1992, Fitted})
	}
	for _, g := range []Gas{Oxygen, CarbonDioxide, NitrousOxide, Hexafluoroethane} {
		r := filmConductance(g)
		table = append(table, Constant{"conductance of " + g.Symbol() + " over nitrogen", r, 0.65 * r, 1.4 * r, "1", sourceFilm, henryDOI, Derived})
	}
	for _, l := range []Lens{Aphakic, Pseudophakic} {
		table = append(table, Constant{"half-life, " + l.String() + " over phakic", halfLifeByLens[l], nan, nan, "1", "Thompson, Arch Ophthalmol 1989;107:687, abstract: ratios of half-lives by lens", doiThompson1989, Derived})
	}
	for _, g := range []Gas{Nitrogen, Oxygen, CarbonDioxide} {
		tissue := g.Constants().Tissue
		tissue.Quantity += ", " + g.Symbol()
		table = append(table, tissue)
	}
	return append(table, waterConstants...)
}
