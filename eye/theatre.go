package eye

import (
	_ "embed" // the tables of published figures

	"limitans/fault"
	"limitans/table"
)

// tableName is what errors call the tables of this package.
const tableName = "table of entries into the eye"

//go:embed data/theatre.csv
var theatreCSV string

// TheatreFact is one published or remembered figure on entering the eye and
// reaching into it.
type TheatreFact struct {
	ID        string
	Quantity  string
	Value     float64 // NaN where only a range is known
	Low, High float64 // NaN where no range was found
	Unit      string
	// Conditions say for which eyes it was found.
	Conditions, Source string
	DOI                string // or PMID; empty where none was seen
	HowKnown           string // abstract, secondary, from memory, derived, ours
}

// TheatreFacts returns the figures in the order of their table, the caller's own
// copy. An error is a defect of this program.
func TheatreFacts() ([]TheatreFact, error) {
	rows, err := table.Rows(tableName, theatreCSV, 10)
	if err != nil {
		return nil, err
	}
	facts := make([]TheatreFact, len(rows))
	for i, r := range rows {
		n, err := table.Numbers(tableName, r[2:5])
		if err != nil {
			return nil, err
		}
		facts[i] = TheatreFact{r[0], r[1], n[0], n[1], n[2], r[5], r[6], r[7], r[8], r[9]}
	}
	return facts, nil
}

// TheatreFactOf returns the figure of an id such as "REACH-34".
func TheatreFactOf(id string) (TheatreFact, error) {
	facts, err := TheatreFacts()
	if err != nil {
		return TheatreFact{}, err
	}
	for _, f := range facts {
		if f.ID == id {
			return f, nil
		}
	}
	return TheatreFact{}, &fault.Error{Code: fault.NotFound, Where: id, What: "is no figure of the table"}
}
