package eye

import (
	"fmt"

	"limitans/fault"
)

// Growth is what decides how far behind the limbus the pars plana can be entered.
type Growth struct {
	AgeMonths float64 // since birth, 0 to 1500
	Phakic    bool    // has its lens; matters in adults
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

const (
	lemleyHan = "Lemley and Han, Trans Am Ophthalmol Soc 2007;105:86-91: 82 operations without injury of lens or retina"
	textbook  = "textbook; practice of vitrectomy"
)

// sclerotomies: up to, but not at, an age in months.
var sclerotomies = []struct {
	toMonths float64
	rule     SclerotomyRule
}{
	{6, SclerotomyRule{1.5, 1.5, 1.5, lemleyHan, "abstract"}},
	{12, SclerotomyRule{2.0, 2.0, 2.0, lemleyHan, "abstract"}},
	{24, SclerotomyRule{2.5, 2.5, 2.5, lemleyHan, "abstract"}},
	{72, SclerotomyRule{3.0, 3.0, 3.0, lemleyHan, "abstract"}},
	{216, SclerotomyRule{3.5, 3.5, 3.5, lemleyHan, "abstract"}},
}

// SclerotomyMM returns how far behind the limbus published practice enters an eye,
// in millimetres: by age up to 18 years, in adults 3.5 (3.0 to 3.5) without the
// lens or with an artificial one and 4.0 (3.5 to 4.0) with it. The ora lies
// farthest from the limbus above, then temporally, below and nearest nasally
// (Wright et al. 2018, doi 10.1016/j.oret.2018.06.008, abstract).
//
// It refuses an age below one month and unusual growth: there the way in is a
// specialist's decision at the table and not a figure. Adults' distance does not
// depend on axial length (Guedes et al., Vision 2024;8:30, abstract).
func SclerotomyMM(g Growth) (SclerotomyRule, error) {
	refused := func(what string) (SclerotomyRule, error) {
		return SclerotomyRule{}, &fault.Error{Code: fault.Unsupported, Where: "sclerotomy", What: what, Mend: "a specialist decides at the table"}
	}
	switch {
	case !(g.AgeMonths >= 0 && g.AgeMonths <= 1500):
		return SclerotomyRule{}, &fault.Error{Code: fault.Invalid, Where: "age", What: fmt.Sprintf("%g months is none", g.AgeMonths), Expected: "0 to 1500 months"}
	case g.AgeMonths < 1:
		return refused("no distance is given below one month of age")
	case g.Unusual:
		return refused("no distance is given after unusual growth of the eye")
	}
	for _, row := range sclerotomies {
		if g.AgeMonths < row.toMonths {
			return row.rule, nil
		}
	}
	if g.Phakic {
		return SclerotomyRule{4.0, 3.5, 4.0, textbook, "secondary"}, nil
	}
	return SclerotomyRule{3.5, 3.0, 3.5, textbook, "secondary"}, nil
}
