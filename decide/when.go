package decide

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// atom is one part of a row's condition: a finding that is, or is not, one of
// some words, or a number on one side of a limit.
type atom struct {
	key      string
	operator string // = != < <= > >=
	words    []string
	limit    string  // name of a limit, or empty
	number   float64 // where limit is empty
}

// condition holds when all its atoms hold; an empty one holds always.
type condition []atom

// operators in the order in which they are looked for.
var operators = []string{"!=", "<=", ">=", "=", "<", ">"}

// parseCondition reads "mld>flap & earlier=none|unknown". Words and limits must
// be known, so that a slip of the pen is no row that never holds.
func (t *tables) parseCondition(where, text string) (condition, error) {
	if text == "" {
		return nil, nil
	}
	var out condition
	for _, part := range strings.Split(text, " & ") {
		a, err := t.parseAtom(part)
		if err != nil {
			return nil, defect(where, fmt.Sprintf("%q: %v", part, err))
		}
		out = append(out, a)
	}
	return out, nil
}

func (t *tables) parseAtom(text string) (atom, error) {
	for _, op := range operators {
		key, value, found := strings.Cut(text, op)
		if !found {
			continue
		}
		if !slices.ContainsFunc(t.findings, func(f findingWords) bool { return f.key == key }) {
			return atom{}, fmt.Errorf("no finding %q", key)
		}
		a := atom{key: key, operator: op, number: math.NaN()}
		if op == "=" || op == "!=" {
			a.words = list(value)
			for _, w := range a.words {
				if !slices.Contains(wordsOf(key), w) {
					return atom{}, fmt.Errorf("%q is no word of %s", w, key)
				}
			}
			return a, nil
		}
		if v, err := strconv.ParseFloat(value, 64); err == nil {
			a.number = v
			return a, nil
		}
		if !slices.ContainsFunc(t.limits, func(l Limit) bool { return l.Name == value }) {
			return atom{}, fmt.Errorf("no limit %q", value)
		}
		a.limit = value
		return a, nil
	}
	return atom{}, fmt.Errorf("no operator")
}

// wordsOf are the words a finding may have in a row.
func wordsOf(key string) []string {
	switch key {
	case "cause":
		return []string{string(Idiopathic), string(Trauma), string(AfterDetachment), string(Inflammation), unknown}
	case "lamellar":
		return []string{string(TrueLamellar), string(Foveoschisis), string(Pseudohole), unknown}
	case "earlier":
		return []string{string(EarlierNone), string(EarlierFailed), string(EarlierReopened), unknown}
	case "open-as":
		return []string{string(OpenFlat), string(OpenElevated), unknown}
	case "lens":
		return []string{"phakic", "pseudophakic", "aphakic", unknown}
	case "allergy":
		return []string{string(AllergyBrilliantBlue), string(AllergyTrypanBlue), string(AllergyIndocyanineGreen), string(AllergyIodine), string(AllergySteroid), "none-told"}
	case sizeKey, "ratio", "duration", "scan-age", "axial", "attachment", "acuity", "days-since", "drop", "drop-distance", "stage", "gauge":
		return []string{unknown}
	}
	return []string{string(Yes), string(No), unknown}
}

// limits are the values by name that hold in this question.
type limits map[string]float64

// at is the number of an atom's limit.
func (l limits) at(a atom) float64 {
	if a.limit != "" {
		return l[a.limit]
	}
	return a.number
}

// holds reports whether all atoms hold. A number that is not known is on neither
// side of a limit.
func (c condition) holds(known facts, l limits) bool {
	for _, a := range c {
		f, limit := known[a.key], l.at(a)
		var is bool
		switch a.operator {
		case "=":
			is = slices.ContainsFunc(a.words, f.is)
		case "!=":
			is = !slices.ContainsFunc(a.words, f.is)
		case "<":
			is = f.number < limit
		case "<=":
			is = f.number <= limit
		case ">":
			is = f.number > limit
		case ">=":
			is = f.number >= limit
		}
		if !is {
			return false
		}
	}
	return true
}
