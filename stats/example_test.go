package stats_test

import (
	"fmt"

	"limitans/stats"
)

// A series of 50 holes of which 45 closed, beside another.
func ExampleNewcombeDifference() {
	closed, err := stats.Proportion(45, 50)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.3f (%.3f to %.3f), %s\n", closed.Value, closed.Low, closed.High, closed.Basis)
	d, err := stats.NewcombeDifference(45, 50, 38, 50, 0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("difference %.2f (%.4f to %.4f)\n", d.Value, d.Interval.Low, d.Interval.High)
	// Output:
	// 0.900 (0.786 to 0.957), 45 of 50, Wilson score interval
	// difference 0.14 (-0.0094 to 0.2856)
}

// Months until the retina detached again; false means last seen attached.
func ExampleKaplanMeier() {
	curve, err := stats.KaplanMeier([]stats.Lifetime{{Time: 1, Event: true}, {Time: 2}, {Time: 3, Event: true}, {Time: 6}, {Time: 6}})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, step := range curve.Steps {
		if step.Events > 0 {
			interval, err := step.Interval(stats.LogLog, 0.95)
			if err != nil {
				fmt.Println(err)
				return
			}
			fmt.Printf("month %g: %d at risk, %.2f still attached (%.2f to %.2f)\n", step.Time, step.AtRisk, step.Survival, interval.Low, interval.High)
		}
	}
	// Output:
	// month 1: 5 at risk, 0.80 still attached (0.20 to 0.97)
	// month 3: 3 at risk, 0.53 still attached (0.07 to 0.86)
}

// How many cases pass before the chart of a surgeon with equal risks of 10 %
// alarms, while all is well and when the odds of failure have doubled.
func ExampleRunLength() {
	for _, oddsRatio := range []float64{1, 2} {
		cases, err := stats.RunLength([]float64{0.1}, stats.OddsShift{Null: 1, Alternative: 2}, 2.5, oddsRatio, 400)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("odds ratio %g: %.0f years at 40 cases a year\n", oddsRatio, cases/40)
	}
	// Output:
	// odds ratio 1: 12 years at 40 cases a year
	// odds ratio 2: 1 years at 40 cases a year
}
