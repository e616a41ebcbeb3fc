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

// value is one acuity as it counts.
type value struct {
	Kind            acuity.Kind
	Role            acuity.Role
	LogMAR, Letters *float64
}

// understood lists the values of an entry: what a person chose where the text
// had two readings, otherwise what was read. An entry that was not understood
// is one row without numbers, so that its text can be found.
func understood(e record.AcuityEntry) []value {
	if e.Chosen != nil {
		return []value{{e.Chosen.Kind, e.Role, e.Chosen.LogMAR, e.Chosen.Letters}}
	}
	if len(e.Understood) == 0 {
		return []value{{Role: e.Role}}
	}
	all := make([]value, len(e.Understood))
	for i, u := range e.Understood {
		role := u.Role
		if e.Role != "" {
			role = e.Role
		}
		all[i] = value{u.Kind, role, u.LogMAR, u.Letters}
	}
	return all
}
