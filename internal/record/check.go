package record

import (
	"fmt"
	"reflect"
	"strings"

	"limitans/eye"
)

// Around is what a noun is checked against. Only Today is needed; what is not
// given is not checked.
type Around struct {
	Today Date
	Eye   *Eye // the eye the noun belongs to
	// BirthDate and DiedOn of the person, where the asker may know them.
	BirthDate, DiedOn Date
	// By is who writes the noun, empty where nobody writes it yet.
	By AccountID
	// Before is the stored version that the noun replaces.
	Before Entity
	// Batches that agents refer to, by ID.
	Batches map[ID]*Batch
}

// Check returns everything that is wrong, open or odd about one noun. An empty
// result means that nothing was found by these rules; it is no proof. The noun is
// not changed. Whether it may be saved is [Unresolved].
func Check(e Entity, around Around) []Finding {
	c := &checker{today: around.Today}
	if e == nil || reflect.ValueOf(e).IsNil() {
		c.add(CodeMalformed, "", "nothing to check", "")
		return c.findings
	}
	c.checkBase(e)
	c.checkShape(reflect.ValueOf(e).Elem(), "")
	c.checkFrozen(around.Before, e)
	side := eye.SideUnknown
	if around.Eye != nil {
		side = around.Eye.Side
		c.checkBelongs(e, around.Eye)
	}
	switch n := e.(type) {
	case *Person:
		c.person(n)
	case *Patient:
		c.patient(n, around)
	case *FileOrigin:
		c.need(n.OfID, "of_id", "scan, film or document")
	case *Merge:
		c.merge(n)
	case *Eye:
		c.eye(n)
	case *Scan:
		c.need(n.EyeID, "eye_id", "eye")
		c.happened(n.Taken, "taken")
		c.checkSides(n.SideSources, side)
		if !scaleTrustKnown(n.ScaleTrust) {
			c.add(CodeUnknownWord, "scale_trust", fmt.Sprintf("%q says not who told the scale", n.ScaleTrust), "")
		}
		c.checkOverrides(n.Overrides, side)
	case *HoleFigures:
		c.figures(n, side)
	case *Plan:
		c.plan(n, side)
	case *Operation:
		c.operation(n, side, around)
	case *Visit:
		c.visit(n, side)
	case *Batch:
		c.batch(n)
	case *Film:
		c.film(n, side)
	case *Document:
		c.need(n.PatientID, "patient_id", "patient")
		c.happened(n.On, "on")
		c.mixing(n, around)
	case *ContactAttempt:
		c.need(n.PatientID, "patient_id", "patient")
		c.happened(n.On, "on")
	case *Unit:
		c.unit(n)
	}
	c.lifetime(e, around)
	return c.findings
}

func (c *checker) checkBase(e Entity) {
	base := e.Identity()
	if base.ID == "" {
		c.add(CodeReference, "id", "has no identifier", "")
	}
	if base.Version < 0 {
		c.add(CodeMalformed, "version", "is negative", "")
	}
	if s := base.StruckOut; s != nil {
		if strings.TrimSpace(string(s.Reason)) == "" {
			c.add(CodeStrikeReason, "struck_out.reason", "is empty", "say why the entry is wrong; it stays legible")
		}
		if s.By.AccountID == "" || s.At.IsZero() {
			c.add(CodeStrikeReason, "struck_out", "who or when is not told", "")
		}
	}
}

// checkBelongs holds the references of a noun to the eye it is opened with: a
// finding of one patient must not land in another one's eye.
func (c *checker) checkBelongs(e Entity, of *Eye) {
	links := e.Links()
	if links.EyeID != "" && links.EyeID != of.ID {
		c.add(CodeOtherPatient, "eye_id", "is not the eye that is open", "open the eye it belongs to")
	}
	if links.PatientID != "" && of.PatientID != "" && links.PatientID != of.PatientID {
		c.add(CodeOtherPatient, "patient_id", "the eye belongs to another patient", "open the patient it belongs to")
	}
}

// lifetime holds the day of a noun to birth and death.
func (c *checker) lifetime(e Entity, around Around) {
	day := e.Links().Day
	if day.CertainlyBefore(around.BirthDate) {
		c.add(CodeBeforeBirth, "", fmt.Sprintf("%s on %s, but born %s", e.Kind(), day, around.BirthDate), "one of the two dates is wrong, or it is another person")
	}
	if e.Kind() != KindDocument && around.DiedOn.CertainlyBefore(day) {
		c.add(CodeAfterDeath, "", fmt.Sprintf("%s on %s, but died %s", e.Kind(), day, around.DiedOn), "one of the two dates is wrong, or it is another person")
	}
}

// checkFrozen stops a change of what was signed: only the strike-out may change.
// Before and after must be versions of the same noun.
func (c *checker) checkFrozen(before, after Entity) {
	if before == nil || reflect.ValueOf(before).IsNil() {
		return
	}
	if before.Kind() != after.Kind() || before.Identity().ID != after.Identity().ID {
		c.add(CodeMalformed, "id", "is not the noun it is said to replace", "")
		return
	}
	if !signed(before) || sameButBase(before, after) {
		return
	}
	mend := "strike it out with a reason and enter it anew"
	if before.Kind() == KindPlan {
		mend = "make a new plan that names this one in \"replaces\""
	}
	c.add(CodeFrozen, "signed", "it was signed and must not change", mend)
}

func signed(e Entity) bool {
	switch n := e.(type) {
	case *Plan:
		return n.Signed != nil
	case *Operation:
		return n.Signed != nil
	case *Visit:
		return n.Signed != nil
	case *Document:
		return n.Signed != nil
	case *HoleFigures:
		return true // figures are never changed
	}
	return false
}

// sameButBase compares two nouns without version and strike-out, in their stored
// form: a value that was stored and read again is the same.
func sameButBase(a, b Entity) bool {
	x, errX := stored(a)
	y, errY := stored(b)
	return errX == nil && errY == nil && string(x) == string(y)
}
