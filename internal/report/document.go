package report

import (
	"limitans/internal/caution"
	"limitans/oct/measure"
)

// Measurement is the JSON document of one measured scan. Its keys are stable:
// a key may be added, none is renamed or removed.
type Measurement struct {
	Cautions  []string `json:"cautions"`
	Intervals string   `json:"intervals"`
	*measure.Result
}

// Document wraps a result for writing as JSON.
func Document(result *measure.Result) Measurement {
	return Measurement{Cautions: caution.Full(), Intervals: caution.SyntheticIntervals, Result: result}
}
