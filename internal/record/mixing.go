package record

import (
	"fmt"
	"math"
)

// Mixing is what two people stand for on a mixing sheet. The first begins it and
// stands for Asked; the second reads bottle and syringe, types Read without having
// seen Asked, and signs the document ([Document.Signed]). The recipe itself is the
// file of the document.
type Mixing struct {
	Asked MixingFacts  `json:"asked"`
	Maker Signature    `json:"maker"`
	Read  *MixingFacts `json:"read,omitempty"`
}

// MixingFacts are what is read from a bottle and a syringe.
type MixingFacts struct {
	Gas     Gas     `json:"gas,omitempty"`     // empty: filtered air
	Percent float64 `json:"percent,omitempty"` // share of the gas in air; 0 for air
	GasML   float64 `json:"gas_ml"`            // in the syringe before air is drawn, mL
	TotalML float64 `json:"total_ml"`          // where the plunger stands in the end, mL
	// DivisionML is one division of the syringe, mL: what is read may be half of it
	// off. It is told with what was asked.
	DivisionML float64 `json:"division_ml,omitempty"`
}

// differs says what of a reading is not what was asked; empty where nothing is.
func (asked MixingFacts) differs(read MixingFacts) string {
	// The half division is the tolerance of the recipe's own check; the last part is
	// rounding.
	off := func(a, b float64) bool { return !(math.Abs(a-b) <= asked.DivisionML/2+1e-9) }
	switch {
	case read.Gas != asked.Gas:
		return "another gas was read"
	case read.Percent != asked.Percent:
		return "another share was read"
	case off(read.GasML, asked.GasML):
		return fmt.Sprintf("%g mL of gas were read, not %g", read.GasML, asked.GasML)
	case off(read.TotalML, asked.TotalML):
		return fmt.Sprintf("%g mL in all were read, not %g", read.TotalML, asked.TotalML)
	}
	return ""
}

// mixing holds a mixing sheet to its rule: begun by one account and, in a later
// step, read and signed by another; each signs for itself; what the first stands for
// never changes. Nothing signs a mixing sheet without it.
func (c *checker) mixing(d *Document, around Around) {
	before, _ := around.Before.(*Document)
	m := d.Mixing
	if m == nil {
		switch {
		case before != nil && before.Mixing != nil:
			c.add(CodeFrozen, "mixing", "what the first person stands for was taken away", "strike the sheet out with a reason and begin another")
		case d.Sort == DocumentMixingSheet && d.Signed != nil:
			c.add(CodeNotReadBack, "signed", "the sheet is signed and nobody read bottle and syringe back", "begin a sheet; a second person reads and signs it")
		}
		return
	}
	if d.Sort != DocumentMixingSheet || d.EyeID == "" {
		c.add(CodeMalformed, "mixing", "stands on what is no mixing sheet of an eye", "")
	}
	if m.Maker.By.AccountID == "" || m.Maker.At.IsZero() {
		c.add(CodeReference, "mixing.maker", "names nobody, or no time", "who mixes signs in")
	}
	if before == nil {
		c.signsFor(m.Maker.By.AccountID, around, "mixing.maker")
		if m.Read != nil || d.Signed != nil {
			c.add(CodeNotReadBack, "signed", "the sheet is begun and read in one step", "the second person opens it and types what they read")
		}
		return
	}
	if was := before.Mixing; was == nil || was.Asked != m.Asked || !sameSignature(was.Maker, m.Maker) || before.File != d.File || before.EyeID != d.EyeID || before.Sort != d.Sort {
		c.add(CodeFrozen, "mixing", "what the first person stands for has changed", "strike the sheet out with a reason and begin another")
	}
	switch {
	case d.Signed == nil && m.Read == nil:
		return
	case d.Signed == nil || m.Read == nil:
		c.add(CodeNotReadBack, "signed", "reading and signature come together", "the second person types what they read and signs it")
		return
	}
	if what := m.Asked.differs(*m.Read); what != "" {
		c.add(CodeNotReadBack, "mixing.read", what, "stop; nothing is connected")
	}
	if d.Signed.By.AccountID == "" || d.Signed.By.AccountID == m.Maker.By.AccountID {
		c.add(CodeSamePerson, "signed", "mixed and checked by the same person", "another person signs in, reads bottle and syringe, and signs")
	}
	c.signsFor(d.Signed.By.AccountID, around, "signed")
}

// signsFor stops a signature in another one's name.
func (c *checker) signsFor(signer AccountID, around Around, where string) {
	if around.By != "" && signer != around.By {
		c.add(CodeSignedForOther, where, "is the signature of somebody else than who writes it", "everybody signs under their own account")
	}
}

// sameSignature compares two signatures as they are stored.
func sameSignature(a, b Signature) bool {
	return a.By == b.By && a.At.Equal(b.At)
}
