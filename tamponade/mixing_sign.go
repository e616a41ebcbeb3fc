package tamponade

import (
	"fmt"
	"math"
	"strings"
	"unicode"

	"limitans/fault"
)

// Person is somebody who signs: a name as it is spoken, and the identifier that
// the unit uses for staff where there is one.
type Person struct {
	Name       string `json:"name"`
	Identifier string `json:"identifier,omitempty"`
}

// Pair is two different people. The zero value is nobody; make one with [NewPair].
type Pair struct{ first, second Person }

// NewPair joins two people and refuses the same person twice: equal names
// (letter case, spaces, dots and order of names apart) or equal identifiers.
// Two people who share a name must both give an identifier.
func NewPair(first, second Person) (Pair, error) {
	for _, p := range []Person{first, second} {
		if sameWords(p.Name) == "" {
			return Pair{}, &fault.Error{Code: fault.Invalid, Where: "two people", What: "a name is missing", Expected: "two names"}
		}
	}
	a, b := strings.ToLower(strings.TrimSpace(first.Identifier)), strings.ToLower(strings.TrimSpace(second.Identifier))
	sameIdentifier := a != "" && a == b
	sameName := sameWords(first.Name) == sameWords(second.Name) && (a == "" || b == "")
	if sameIdentifier || sameName {
		return Pair{}, &fault.Error{
			Code: fault.Conflict, Where: "two people", What: fmt.Sprintf("%q and %q are one person", first.Name, second.Name),
			Expected: "a second person who reads bottle and syringe", Mend: "people who share a name give their identifiers",
		}
	}
	return Pair{first, second}, nil
}

// First and Second return the two people.
func (p Pair) First() Person { return p.first }

// Second is the person who checked what the first did.
func (p Pair) Second() Person { return p.second }

// sameWords is a name without case, punctuation and order.
func sameWords(name string) string {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsMark(r) && !unicode.IsDigit(r) })
	// Few words: an insertion sort keeps the imports of the package short.
	for i := range words {
		for j := i; j > 0 && words[j] < words[j-1]; j-- {
			words[j], words[j-1] = words[j-1], words[j]
		}
	}
	return strings.Join(words, " ")
}

// ReadBack is what the second person reads, from the bottle and from the
// syringe and not from the sheet, before anything is connected.
type ReadBack struct {
	Bottle  string  `json:"bottle"` // gas as the bottle's label names it
	GasML   float64 `json:"gas_ml"`
	TotalML float64 `json:"total_ml"`
}

// Signed is a mixture that two people stand for. The zero value is unsigned;
// make one with [MixingSheet.Sign].
type Signed struct {
	sheet MixingSheet
	by    Pair
	read  ReadBack
}

// Sheet returns the sheet that was signed.
func (s Signed) Sheet() MixingSheet { return s.sheet }

// By returns the two people.
func (s Signed) By() Pair { return s.by }

// Read returns what the second person read.
func (s Signed) Read() ReadBack { return s.read }

// Sign joins an accepted sheet, two people and what the second of them read.
// It is refused while a stop stands, for the same person twice, when the bottle
// is not that gas, and when a volume that was read is not the one on the sheet,
// to within half a division.
func (sheet MixingSheet) Sign(by Pair, read ReadBack) (Signed, error) {
	if by.first.Name == "" || by.second.Name == "" {
		return Signed{}, &fault.Error{Code: fault.Invalid, Where: "two people", What: "nobody signs", Expected: "two people"}
	}
	if !sheet.Accepted() {
		return Signed{}, &fault.Error{Code: fault.Conflict, Where: "mixing sheet", What: "a stop stands", Mend: "nobody can sign it"}
	}
	bottle, err := ParseAgent(read.Bottle)
	if err != nil {
		return Signed{}, err
	}
	if bottle != sheet.Mixture.Agent {
		return Signed{}, &fault.Error{
			Code: fault.Conflict, Where: "bottle", What: fmt.Sprintf("the bottle is %s (%s), the sheet is for %s (%s)", bottle, bottle.FullName(), sheet.Mixture.Agent, sheet.Mixture.Agent.FullName()),
			Mend: "stop; nothing is connected",
		}
	}
	half := sheet.Syringe.GraduationML/2 + 1e-9
	for _, v := range []struct {
		name       string
		read, want float64
	}{{"gas", read.GasML, sheet.Marks.GasML}, {"total", read.TotalML, sheet.Marks.TotalML}} {
		if !(math.Abs(v.read-v.want) <= half) {
			return Signed{}, &fault.Error{
				Code: fault.Conflict, Where: v.name, What: fmt.Sprintf("%g mL was read, the sheet says %g mL", v.read, v.want),
				Mend: "empty the syringe and mix again",
			}
		}
	}
	return Signed{sheet, by, read}, nil
}
