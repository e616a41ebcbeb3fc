package light

import (
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"

	"limitans/fault"
)

// table reads an embedded table without its heading.
func table(text string, columns int) ([][]string, error) {
	r := csv.NewReader(strings.NewReader(text))
	r.FieldsPerRecord = columns
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 2 {
		return nil, &fault.Error{Code: fault.Internal, Where: "table of published figures", What: "cannot be read", Cause: err}
	}
	return rows[1:], nil
}

func numbers(cells []string) ([]float64, error) {
	out := make([]float64, len(cells))
	for i, cell := range cells {
		v, err := strconv.ParseFloat(cell, 64)
		if err != nil {
			return nil, &fault.Error{Code: fault.Internal, Where: "table of published figures", What: fmt.Sprintf("%q is no number", cell), Cause: err}
		}
		out[i] = v
	}
	return out, nil
}
