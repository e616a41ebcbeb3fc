package tamponade

import "limitans/estimate"

// AltitudeCheck is one published observation beside this model.
type AltitudeCheck struct {
	Name      string
	Published Span // pressure in the eye, mmHg
	Computed  estimate.Estimate
	// Fitted: the rigidity was fitted to it. Outside: the published value lies
	// outside the computed interval.
	Fitted, Outside bool
	Why             string // what differs, or what had to be assumed
	Source          string
}

// AltitudeComparison computes every published observation in people (and one
// published model of people) that was found with enough inputs, with a cavity of 5 mL where it
// is not told. Rabbits and monkeys are left out: their eyes are smaller and
// stiffer, and their published slopes (rabbit by car, 130 to 805 m: 11.8 to
// 30.8 mmHg fast, 13.0 to 26.7 slow) say in which direction speed works, which
// the model follows.
func AltitudeComparison() ([]AltitudeCheck, error) {
	cavity := estimate.Estimate{Value: 5, Low: 4.5, High: 5.5, Basis: "not told; taken as 5 mL"}
	eye := func(fill Percent, baseline float64) AltitudeEye {
		return AltitudeEye{CavityML: cavity, Fill: fill, BaselineMMHg: baseline}
	}
	cases := []struct {
		check   AltitudeCheck
		eye     AltitudeEye
		journey Journey
	}{
		{AltitudeCheck{
			Name: "65 % fill to 3000 ft", Published: Span{49, 49}, Fitted: true, Why: "climb in 5 minutes assumed",
			Source: "Kokame and Ing, Retina 1994;14:356, PMID 7817030 (abstract)",
		}, eye(65, 16), Climb(0, 3000*MetresPerFoot, 5, 0)},
		{AltitudeCheck{
			Name: "50 % fill to 2600 ft", Published: Span{42, 42}, Fitted: true, Why: "climb in 5 minutes assumed",
			Source: "Foulsham, Chen and Vavvas, Retin Cases Brief Rep 2021;15:564 (abstract)",
		}, eye(50, 14), Climb(0, 2600*MetresPerFoot, 5, 0)},
		{AltitudeCheck{
			Name: "surgery at 790 m, a day at sea level, back", Published: Span{34, 50},
			Why: "published model; 80 % fill and an hour each way assumed; they went as low as 310 m below the sea", Source: sourceGsellman,
		}, eye(80, 15), Journey{{0, 790}, {60, 0}, {1500, 0}, {1560, 790}}},
		{AltitudeCheck{
			Name: "chamber a month after 15 % C3F8, no buckle", Published: Span{32, 32},
			Why: "fill of 15 % and 8000 ft assumed, neither is told", Source: "academy summary of a prospective study of 12 eyes (secondary)",
		}, eye(15, 15), Climb(0, CabinHeightM, 25, 0)},
		{AltitudeCheck{
			Name: "SF6, half full, 2260 to 3209 m by car", Published: Span{32, 32},
			Why: "human estimate of a rabbit study, 1.8 mmHg/100 m above 15; 40 minutes assumed", Source: "Biomed Res Int 2016:7326160, doi 10.1155/2016/7326160 (abstract)",
		}, eye(50, 15), Climb(2260, 3209, 40, 0)},
		{AltitudeCheck{
			Name: "SF6, full, 2260 to 3209 m by car", Published: Span{35, 35},
			Why: "human estimate of a rabbit study, 2.1 mmHg/100 m above 15; 40 minutes assumed; a full eye is computed higher, on the careful side", Source: "Biomed Res Int 2016:7326160, doi 10.1155/2016/7326160 (abstract)",
		}, eye(100, 15), Climb(2260, 3209, 40, 0)},
	}
	var out []AltitudeCheck
	for _, c := range cases {
		e, err := EstimateTravel(Travel{Agent: AgentSF6, Eye: c.eye, Journey: c.journey, DaysSinceSurgery: nan})
		if err != nil {
			return nil, err
		}
		c.check.Computed = e.PeakMMHg
		c.check.Outside = c.check.Published.High < e.PeakMMHg.Low || c.check.Published.Low > e.PeakMMHg.High
		out = append(out, c.check)
	}
	return out, nil
}
