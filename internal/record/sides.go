package record

import (
	"fmt"
	"strings"

	"limitans/eye"
)

// CheckSides compares all places that tell the side of one thing. Sources that
// disagree are a stop that names every source with its text; nothing is saved
// until a person types the side. When no source tells a side it is missing: it is
// never taken from a neighbour.
//
// The result is SideUnknown unless all sources that tell a side agree, or the last
// source of sort [SideTyped] settles it; a typed side counts for saving only
// together with the override that carries its reason.
func CheckSides(sources []SideSource) (eye.Laterality, []Finding) {
	var c checker
	told := map[eye.Laterality]bool{}
	typed := eye.SideUnknown
	var list []string
	for _, s := range sources {
		if s.Side == eye.Right || s.Side == eye.Left {
			told[s.Side] = true
			if s.Source == SideTyped {
				typed = s.Side
			}
			list = append(list, describeSide(s))
		}
	}
	switch {
	case len(told) == 0:
		what := "no source tells the side"
		for _, s := range sources {
			if s.Text != "" {
				what += fmt.Sprintf("; %s has %q", s.Source, string(s.Text))
			}
		}
		c.add(CodeSideMissing, "side", what, "type right or left; it is not taken from the row above")
		return eye.SideUnknown, c.findings
	case len(told) > 1:
		c.add(CodeSidesDisagree, "side", "the sources disagree: "+strings.Join(list, ", "), "find out which eye it is and type the side with the reason")
		return typed, c.findings
	case told[eye.Right]:
		return eye.Right, nil
	}
	return eye.Left, nil
}

func describeSide(s SideSource) string {
	side := strings.ToLower(s.Side.String())
	if s.Text == "" {
		return fmt.Sprintf("%s says %s", s.Source, side)
	}
	return fmt.Sprintf("%s says %s (%q)", s.Source, side, string(s.Text))
}

// SideFromFileName looks for a side in the name of a file: the words and
// abbreviations of [eye.ParseLaterality] between marks that are no letters or
// digits, so that "GOLDMANN" names none. Two different sides in one name are
// none. The single letters R and L count only in capitals.
func SideFromFileName(name string) (eye.Laterality, string) {
	found, text := eye.SideUnknown, ""
	for _, word := range strings.FieldsFunc(name, func(r rune) bool {
		return !(r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= 0x80)
	}) {
		if word == "r" || word == "l" {
			continue
		}
		side, err := eye.ParseLaterality(word)
		if err != nil {
			continue
		}
		if found != eye.SideUnknown && found != side {
			return eye.SideUnknown, name
		}
		found, text = side, word
	}
	return found, text
}

// checkSides runs [CheckSides] and holds the result to the eye of the record.
func (c *checker) checkSides(sources []SideSource, eyeSide eye.Laterality) {
	side, findings := CheckSides(sources)
	c.findings = append(c.findings, findings...)
	c.sideOfEye("side_sources", side, eyeSide)
}

// sideOfEye stops when a side is told and is not that of the eye.
func (c *checker) sideOfEye(where string, side, eyeSide eye.Laterality) {
	if side != eye.SideUnknown && eyeSide != eye.SideUnknown && side != eyeSide {
		c.add(CodeSideNotEye, where, fmt.Sprintf("says %s, but the eye in the record is the %s one", strings.ToLower(side.String()), strings.ToLower(eyeSide.String())),
			"open the other eye, or correct the side where it was written")
	}
}
