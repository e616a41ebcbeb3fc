package fluidics

import (
	_ "embed" // the tables of published figures
	"fmt"
	"math"

	"limitans/fault"
	"limitans/table"
)

// tableName is what errors call the tables of this package.
const tableName = "table of published figures"

//go:embed data/facts.csv
var factsCSV string

//go:embed data/gauge.csv
var gaugeCSV string

// Fact is one published figure with its conditions and source.
type Fact struct {
	ID         string
	Quantity   string
	Value      float64 // NaN where the fact is a rule in words
	Low, High  float64 // NaN where none was printed; what they are stands in Conditions or Quantity
	Unit       string
	Conditions string
	Source     string
	DOI        string // or PMID, or a note
	HowKnown   string // abstract, full text (opening), secondary, from memory, derived here
}

// Facts returns the published figures on flow, instruments and pressure that the
// package was checked with, in the order of their table.
func Facts() ([]Fact, error) {
	rows, err := table.Rows(tableName, factsCSV, 10)
	if err != nil {
		return nil, err
	}
	facts := make([]Fact, len(rows))
	for i, r := range rows {
		n, err := table.Numbers(tableName, r[2:5])
		if err != nil {
			return nil, err
		}
		facts[i] = Fact{r[0], r[1], n[0], n[1], n[2], r[5], r[6], r[7], r[8], r[9]}
	}
	return facts, nil
}

// FactOf returns the published figure of an id such as "INF-25G".
func FactOf(id string) (Fact, error) {
	facts, err := Facts()
	if err != nil {
		return Fact{}, err
	}
	for _, f := range facts {
		if f.ID == id {
			return f, nil
		}
	}
	return Fact{}, &fault.Error{Code: fault.NotFound, Where: id, What: "is no figure of the table"}
}

// Gauge is one size of tube. The name says the outside diameter; the bore
// depends on the wall. Unknown lengths are NaN. No size is defined for 35 and
// from 37 gauge on: those names are makers' own.
type Gauge struct {
	Number                         int
	OutsideMinMM, OutsideMaxMM     float64 // ISO 9626:2016
	BoreMinRegularMM, BoreMinThin  float64 // ISO 9626:2016, least bore by wall, mm
	BoreMinUltraThin, BoreMinExtra float64
	NominalOutsideMM               float64 // Birmingham gauge
	NominalBoreMM                  float64 // Birmingham gauge, regular wall
	StandardHowKnown               string
	NominalHowKnown                string
}

// Gauges returns the sizes from 18 to 41 gauge.
func Gauges() ([]Gauge, error) {
	rows, err := table.Rows(tableName, gaugeCSV, 12)
	if err != nil {
		return nil, err
	}
	gauges := make([]Gauge, len(rows))
	for i, r := range rows {
		n, err := table.Numbers(tableName, r[:10])
		if err != nil {
			return nil, err
		}
		gauges[i] = Gauge{int(n[0]), n[1], n[2], n[3], n[4], n[5], n[6], n[8], n[9], r[10], r[11]}
	}
	return gauges, nil
}

// GaugeOf returns one size, 18 to 41.
func GaugeOf(number int) (Gauge, error) {
	gauges, err := Gauges()
	if err != nil {
		return Gauge{}, err
	}
	for _, g := range gauges {
		if g.Number == number {
			return g, nil
		}
	}
	return Gauge{}, &fault.Error{Code: fault.Invalid, Where: "gauge", What: fmt.Sprintf("%d is not in the table", number), Expected: "18 to 41"}
}

// CoreMinutes returns how long an opened cutter takes to draw a volume in mL
// (above 0, up to 30) of egg white, the bench's stand-in for vitreous: quickest
// with the newer cutter, slowest with the older (Lee and Choi, Korean J
// Ophthalmol 2023;37:307, doi 10.3341/kjo.2023.0045, abstract; baselines derived
// from the printed gain). 23, 25 or 27 gauge. It is no time of an operation.
func CoreMinutes(gauge int, volumeML float64) (quickest, slowest float64, err error) {
	if !(volumeML > 0 && volumeML <= 30) {
		return math.NaN(), math.NaN(), &fault.Error{Code: fault.Invalid, Where: "volume", What: fmt.Sprintf("%g mL is no vitreous", volumeML), Expected: "above 0, up to 30 mL"}
	}
	f, err := FactOf(fmt.Sprintf("EW-%dG", gauge))
	if err != nil {
		return math.NaN(), math.NaN(), &fault.Error{Code: fault.Unsupported, Where: fmt.Sprintf("%d gauge", gauge), What: "no flow of egg white is published", Expected: "23, 25 or 27"}
	}
	return volumeML / f.High, volumeML / f.Low, nil
}
