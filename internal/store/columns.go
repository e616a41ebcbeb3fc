package store

import (
	"limitans/acuity"
	"limitans/estimate"
	"limitans/eye"
	"limitans/internal/record"
)

// text is the value of a column for a named text type.
func text[T ~string](v T) any { return string(v) }

// reference is the value of a column that points at another row: null when empty.
func reference(id record.ID) any {
	if id == "" {
		return nil
	}
	return string(id)
}

// number is the value of a column that may be without a number.
func number(v *float64) any {
	if v == nil {
		return nil
	}
	return *v
}

// estimated is the value of an estimate, null where there is none.
func estimated(e *estimate.Estimate) any {
	if e == nil || !e.Known() {
		return nil
	}
	return e.Value
}

func flag(v bool) any {
	if v {
		return int64(1)
	}
	return int64(0)
}

func sideText(side eye.Laterality) any {
	b, err := side.MarshalText()
	if err != nil {
		return ""
	}
	return string(b)
}

// displayName is the name to show in lists: the first one, as it was given.
func displayName(p *record.Person) any {
	if len(p.Names) == 0 {
		return ""
	}
	return p.Names[0].Text
}

// values lists what an entry counts as. An entry that was not understood is one
// value without numbers, so that its text is in the table.
func values(e record.AcuityEntry) []acuity.Entry {
	all := e.Values()
	if len(all) == 0 {
		return []acuity.Entry{{Role: e.Role}}
	}
	return all
}
