package eye

import (
	_ "embed" // the table of distances
	"fmt"

	"limitans/fault"
	"limitans/table"
)

//go:embed data/sclerotomy.csv
var sclerotomyCSV string

// LensStatus says what is in the place of the lens.
type LensStatus int

// What may be in the place of the lens. It is never guessed: what is not told
// stays LensUnknown.
const (
	LensUnknown  LensStatus = iota
	Phakic                  // its own lens
	Pseudophakic            // an artificial lens
	Aphakic                 // none
)

var lensNames = map[LensStatus]string{LensUnknown: "unknown", Phakic: "phakic", Pseudophakic: "pseudophakic", Aphakic: "aphakic"}

// String returns the term of the trade.
func (l LensStatus) String() string { return lensNames[l] }

// ParseLens reads "phakic", "pseudophakic" or "aphakic".
func ParseLens(text string) (LensStatus, error) {
	for l, name := range lensNames {
		if l != LensUnknown && name == text {
			return l, nil
		}
	}
	return LensUnknown, &fault.Error{Code: fault.Invalid, Where: "lens", What: fmt.Sprintf("%q is no state of the lens", text), Expected: "phakic, pseudophakic or aphakic"}
}

// Growth is what decides how far behind the limbus the pars plana can be entered.
type Growth struct {
	AgeMonths float64 // since birth, 0 to 1500
	Lens      LensStatus
	// Unusual: retinopathy of prematurity, coloboma or persistent fetal
	// vasculature, in which the ora lies nearer to the limbus than the table knows.
	Unusual bool
}

// SclerotomyRule is the published distance of an entry behind the limbus.
type SclerotomyRule struct {
	MM               float64
	LowMM, HighMM    float64 // range in use; equal to MM where none is published
	Source, HowKnown string
}

// youngestMonths is the age from which the source gives distances.
const youngestMonths = 1

// SclerotomyMM returns how far behind the limbus published practice enters an eye,
// in millimetres: by age up to 18 years, in adults 3.5 (3.0 to 3.5) without the
// lens or with an artificial one and 4.0 (3.5 to 4.0) with it. The ora lies
// farthest from the limbus above, then temporally, below and nearest nasally
// (Wright et al. 2018, doi 10.1016/j.oret.2018.06.008, abstract).
//
// It refuses (Unsupported) an age below one month and unusual growth: there the
// way in is a specialist's decision at the table and not a figure. Invalid: an
// age that is none, or an adult whose lens is not told. Adults' distance does not
// depend on axial length (Guedes et al., Vision 2024;8:30, abstract).
func SclerotomyMM(g Growth) (SclerotomyRule, error) {
	refused := func(what string) (SclerotomyRule, error) {
		return SclerotomyRule{}, &fault.Error{Code: fault.Unsupported, Where: "sclerotomy", What: what, Mend: "a specialist decides at the table"}
	}
	switch {
	case !(g.AgeMonths >= 0 && g.AgeMonths <= 1500):
		return SclerotomyRule{}, &fault.Error{Code: fault.Invalid, Where: "age", What: fmt.Sprintf("%g months is none", g.AgeMonths), Expected: "0 to 1500 months"}
	case g.AgeMonths < youngestMonths:
		return refused("no distance is given below one month of age")
	case g.Unusual:
		return refused("no distance is given after unusual growth of the eye")
	}
	rows, err := table.Rows(tableName, sclerotomyCSV, 11)
	if err != nil {
		return SclerotomyRule{}, err
	}
	for _, r := range rows {
		age, err := table.Full(tableName, r[1:3])
		if err != nil {
			return SclerotomyRule{}, err
		}
		mm, err := table.Full(tableName, r[4:7])
		if err != nil {
			return SclerotomyRule{}, err
		}
		last := r[2] == "1500" && g.AgeMonths == 1500
		if g.AgeMonths < age[0] || (g.AgeMonths >= age[1] && !last) || (r[3] != "any" && r[3] != g.Lens.String()) {
			continue
		}
		return SclerotomyRule{mm[0], mm[1], mm[2], r[8] + ": " + r[7], r[10]}, nil
	}
	return SclerotomyRule{}, &fault.Error{Code: fault.Invalid, Where: "lens", What: "is not told; an adult's distance depends on it", Expected: "phakic, pseudophakic or aphakic"}
}
