package record

import (
	"fmt"
	"strings"

	"limitans/eye"
)

// Unresolved returns the stops that still forbid saving: those that cannot be
// overridden and those for which no valid override is given. Overrides are not
// changed. Questions and warnings are left out.
//
// An override is valid when its code is that of the stop, its reason is not
// empty, the acting account is named, and it has the typed side or the second
// person where the rule asks for it. A second person is somebody else.
func Unresolved(findings []Finding, overrides []Override) []Finding {
	var out []Finding
	for _, f := range findings {
		if f.Severity == Stop && !overridden(f, overrides) {
			out = append(out, f)
		}
	}
	return out
}

func overridden(f Finding, overrides []Override) bool {
	if !f.Overridable {
		return false
	}
	for _, o := range overrides {
		if o.Code == f.Code && flaw(o) == "" {
			return true
		}
	}
	return false
}

// flaw says what an override lacks, or nothing.
func flaw(o Override) string {
	r, known := ruleOf(o.Code)
	switch {
	case !known:
		return fmt.Sprintf("there is no rule %q", string(o.Code))
	case strings.TrimSpace(string(o.Reason)) == "":
		return "the reason is empty"
	case o.By.AccountID == "":
		return "who overrode is not told"
	case o.At.IsZero():
		return "when is not told"
	case r.NeedsSide && o.TypedSide != eye.Right && o.TypedSide != eye.Left:
		return "the side was not typed"
	case r.NeedsSecond && o.SecondBy == "":
		return "a second person is needed"
	case r.NeedsSecond && o.SecondBy == o.By.AccountID:
		return "the second person is the same as the first"
	}
	return ""
}

// checkOverrides looks at overrides whether or not a stop needs them: they are
// part of the record.
func (c *checker) checkOverrides(overrides []Override, eyeSide eye.Laterality) {
	for i, o := range overrides {
		where := fmt.Sprintf("overrides[%d]", i)
		r, known := ruleOf(o.Code)
		if known && !r.Overridable {
			c.add(CodeOverrideRefused, where, fmt.Sprintf("%q cannot be overridden", string(o.Code)), "mend the cause")
			continue
		}
		if what := flaw(o); what != "" {
			c.add(CodeOverrideReason, where, what, "type what is missing; an override is part of the record")
		}
		if r.NeedsSide && eyeSide != eye.SideUnknown && o.TypedSide != eye.SideUnknown && o.TypedSide != eyeSide {
			c.add(CodeSideNotEye, where, fmt.Sprintf("the typed side is %s, the eye in the record is the %s one", o.TypedSide, eyeSide),
				"open the other eye, or type the right side")
		}
	}
}
