package tamponade

import (
	"fmt"

	"limitans/estimate"
	"limitans/fault"
)

// ClosureCount is what one published series counted: holes closed among eyes.
type ClosureCount struct {
	What         string
	Closed, Eyes int
	// Share closed with its exact 95 % interval (Clopper and Pearson 1934).
	Share  estimate.Estimate
	Source string
}

// closureCounts are rows of published abstracts.
type closureCounts []struct {
	what         string
	closed, eyes int
	source       string
}

// closedOnOCT is when holes were first seen closed through the gas.
var closedOnOCT = closureCounts{
	{"air, day 1", 18, 33, "Eckardt et al., Retina 2008;28:1087, doi 10.1097/IAE.0b013e318185fb5f (abstract)"},
	{"air, day 2", 25, 33, "Eckardt et al., Retina 2008;28:1087, doi 10.1097/IAE.0b013e318185fb5f (abstract)"},
	{"air, day 3", 88, 112, "Gesser, Eckardt et al., Ophthalmologe 2010;107:1043 (abstract)"},
	{"SF6 or C3F8, day 1", 24, 32, "Shah et al., Retina 2013;33:356, doi 10.1097/IAE.0b013e318263d0e8 (abstract)"},
	{"SF6 16 %, day 1", 10, 16, "Masuyama et al., Am J Ophthalmol 2009;147:481, doi 10.1016/j.ajo.2008.09.028 (abstract)"},
	{"SF6 20 %, day 1", 40, 43, "Sato and Iwase, J Clin Med 2023;12:5282, doi 10.3390/jcm12165282 (abstract)"},
}

// postureTrials are the trials of positions, face down first in each pair.
var postureTrials = closureCounts{
	{"400 µm and more, C3F8 14 %, face down 5 days of 8 h", 84, 88, "Pasu et al., JAMA Ophthalmol 2020;138:725, doi 10.1001/jamaophthalmol.2020.0987 (abstract)"},
	{"400 µm and more, C3F8 14 %, face forward", 77, 90, "Pasu et al., JAMA Ophthalmol 2020;138:725, doi 10.1001/jamaophthalmol.2020.0987 (abstract)"},
	{"above 400 µm, C3F8 14 %, face down 10 days", 10, 11, "Lange et al., Eye 2012;26:272 (abstract)"},
	{"above 400 µm, C3F8 14 %, no posture", 4, 10, "Lange et al., Eye 2012;26:272 (abstract)"},
	{"all sizes, face down 5 days", 76, 78, "Guillaubey et al., Am J Ophthalmol 2008;146:128 (abstract)"},
	{"all sizes, seated 5 days", 63, 72, "Guillaubey et al., Am J Ophthalmol 2008;146:128 (abstract)"},
	{"C3F8, face down 3 days", 33, 34, "Alberti and la Cour, Retina 2016;36:2072 (abstract)"},
	{"C3F8, anything but the back 3 days", 33, 34, "Alberti and la Cour, Retina 2016;36:2072 (abstract)"},
}

func (c closureCounts) estimated() ([]ClosureCount, error) {
	out := make([]ClosureCount, len(c))
	for i, row := range c {
		interval, err := exactInterval(row.closed, row.eyes)
		if err != nil {
			return nil, err
		}
		out[i] = ClosureCount{
			What: row.what, Closed: row.closed, Eyes: row.eyes, Source: row.source,
			Share: estimate.Estimate{
				Value: float64(row.closed) / float64(row.eyes), Low: interval.Low, High: interval.High,
				Basis: fmt.Sprintf("%d of %d eyes; exact interval of Clopper and Pearson", row.closed, row.eyes),
			},
		}
	}
	return out, nil
}

// ClosedByDay returns how many holes were seen closed on OCT by the first days.
// An eye that is open on day 3 seldom closes later (1 of 4, same series).
func ClosedByDay() ([]ClosureCount, error) { return closedOnOCT.estimated() }

// PostureTrials returns the trials of head positions, in pairs with face down
// first. Pooled, face down helps above 400 µm (odds ratio 2.95, 1.10 to 7.94)
// and shows no clear gain below (1.32, 0.39 to 4.49; meta-analysis of five
// trials 2019, doi 10.1186/s12886-019-1272-1, abstract).
func PostureTrials() ([]ClosureCount, error) { return postureTrials.estimated() }

// largeHoleUM divides the sizes in which the trials differ.
const largeHoleUM = 400

// PostureAdvice is a position to start from, with how long.
type PostureAdvice struct {
	Diary Diary
	Days  Span
	Text  string
	// Basis says what it stands on.
	Basis string
}

// AdvisePosture returns the project's default for a hole of holeDiameterUM
// micrometres (above 0, at most 3,000): up to 400 µm anything but the back for
// three days, above it face down for three to five days, in either case until
// the hole is seen closed. No trial compares 1, 3, 5 and 7 days; the default is
// ours and is meant to be overruled.
func AdvisePosture(holeDiameterUM float64) (PostureAdvice, error) {
	if !(holeDiameterUM > 0 && holeDiameterUM <= 3000) {
		return PostureAdvice{}, &fault.Error{Code: fault.Invalid, Where: "hole", What: fmt.Sprintf("a diameter of %g µm is out of reach", holeDiameterUM), Expected: "above 0, at most 3000 µm"}
	}
	const basis = "default of this project between published trials, which are few and small; no trial of 1, 3, 5 and 7 days was found; a clot, a neck or a fall weighs more"
	if holeDiameterUM <= largeHoleUM {
		return PostureAdvice{NonSupineDiary(), Span{3, 3}, "Anything but lying on the back for 3 days, or until the hole is seen closed.", basis}, nil
	}
	return PostureAdvice{FaceDownDiary(), Span{3, 5}, "Face down for 3 to 5 days, or until the hole is seen closed.", basis}, nil
}

// AdherenceFact is one published finding of what people do who are told a posture.
type AdherenceFact struct {
	What, Figure, Source string
	Known                HowKnown
}

// PostureAdherence returns what sensors and observers found. Sensors find less
// than observers do, who come by day and are seen coming.
func PostureAdherence() []AdherenceFact {
	const (
		sensor = "head sensor over 24 h, 10 patients, PMID 24292701"
		second = "Mahmoudzadeh et al., Retin Cases Brief Rep 2023, doi 10.1097/ICB.0000000000001385"
		nurses = "BMC Ophthalmol 2018, doi 10.1186/s12886-018-0979-8"
	)
	return []AdherenceFact{
		{"told face down, beyond 45° face down", "18 % of 24 hours", sensor, Abstract},
		{"told face down, median pitch", "−6.7°: leaning back a little", sensor, Abstract},
		{"told face down, truly prone", "11.7 % of readings", second, Abstract},
		{"told face down, asleep", "46.8 % reclined, 4.9 % on the back", second, Abstract},
		{"told face down, as nurses saw it", "93.7 % of checks; 51 % of patients at all of them", nurses, Abstract},
		{"told anything but the back, as nurses saw it", "99.3 % of checks; 91 % of patients at all of them", nurses, Abstract},
		{"told face down, 296 patients", "88.3 % on average, least at midnight, falling from day to day", "BMC Res Notes 2018, s13104-018-3257-1", Abstract},
		{"told face down, with a support for it against without", "19.5 against 5.5 hours a day", "German randomised pilot, 40 patients", Abstract},
	}
}
