package table

import (
	"encoding/csv"
	"fmt"
	"math"
	"strconv"
	"strings"

	"limitans/fault"
)

// Rows returns the rows of a table below its heading, each of a number of
// columns. name says in errors which table it is. Internal: no rows, or a row of
// another width.
func Rows(name, text string, columns int) ([][]string, error) {
	r := csv.NewReader(strings.NewReader(text))
	r.FieldsPerRecord = columns
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 2 {
		return nil, &fault.Error{Code: fault.Internal, Where: name, What: "cannot be read", Expected: fmt.Sprintf("a heading and rows of %d columns", columns), Cause: err}
	}
	return rows[1:], nil
}

// Named returns the rows of a table below its heading by the names of their
// columns, without the spaces around. The heading must be the one given, so that
// no column is taken for another. Internal: another heading, no rows, or a row of
// another width.
func Named(name, text string, heading []string) ([]map[string]string, error) {
	head, _, _ := strings.Cut(text, "\n")
	if strings.TrimSuffix(head, "\r") != strings.Join(heading, ",") {
		return nil, &fault.Error{Code: fault.Internal, Where: name, What: "has another heading", Expected: strings.Join(heading, ",")}
	}
	rows, err := Rows(name, text, len(heading))
	if err != nil {
		return nil, err
	}
	out := make([]map[string]string, len(rows))
	for i, row := range rows {
		out[i] = map[string]string{}
		for j, column := range heading {
			out[i][column] = strings.TrimSpace(row[j])
		}
	}
	return out, nil
}

// Numbers reads cells as numbers; an empty cell is NaN. Internal: a cell that is
// neither.
func Numbers(name string, cells []string) ([]float64, error) {
	out := make([]float64, len(cells))
	for i, cell := range cells {
		if cell == "" {
			out[i] = math.NaN()
			continue
		}
		v, err := strconv.ParseFloat(cell, 64)
		if err != nil {
			return nil, &fault.Error{Code: fault.Internal, Where: name, What: fmt.Sprintf("%q is no number", cell), Cause: err}
		}
		out[i] = v
	}
	return out, nil
}

// Full is [Numbers] for cells that must not be empty.
func Full(name string, cells []string) ([]float64, error) {
	out, err := Numbers(name, cells)
	if err != nil {
		return nil, err
	}
	for _, v := range out {
		if math.IsNaN(v) {
			return nil, &fault.Error{Code: fault.Internal, Where: name, What: "a number is missing"}
		}
	}
	return out, nil
}
