package scan

import (
	"fmt"
	"path/filepath"
	"strings"

	"limitans/eye"
	"limitans/fault"
	"limitans/oct"
)

// sideSource is one place that names a side.
type sideSource struct {
	who  string
	side eye.Laterality
	firm bool // may set the side; a file name may only contradict
}

// settleSide compares all sources of the side. Two that differ stop the import
// until a person types the side and says so; a side told only by a file name is
// noted and not taken, because names are copied from scan to scan.
func settleSide(v *oct.Volume, p string, b *bundle, side *sideFile, o Options) error {
	sources := []sideSource{{"the user", o.Laterality, true}}
	if side != nil {
		sources = append(sources, sideSource{"side file " + side.name, side.eye, true})
	}
	sources = append(sources, sideSource{"the file's own attribute", v.Laterality, true})
	sources = append(sources, namedSides(p, b)...)
	var told []string
	var firm, any eye.Laterality
	differ := false
	for _, s := range sources {
		if s.side == eye.SideUnknown {
			continue
		}
		told = append(told, fmt.Sprintf("%s says %s", s.who, s.side))
		differ = differ || (any != eye.SideUnknown && s.side != any)
		any = s.side
		if s.firm && firm == eye.SideUnknown {
			firm = s.side
		}
	}
	list := strings.Join(told, ", ")
	switch {
	case differ && o.AcceptSide && o.Laterality != eye.SideUnknown:
		v.Notes = append(v.Notes, fmt.Sprintf("the sources of the side disagree (%s); %s was confirmed by the user", list, o.Laterality))
	case differ:
		return &fault.Error{
			Code: fault.Conflict, Where: "eye", What: "the sources of the side disagree: " + list,
			Expected: "one side", Mend: "look at the eye's records, then give the side and confirm it",
		}
	case firm == eye.SideUnknown && any != eye.SideUnknown:
		v.Notes = append(v.Notes, fmt.Sprintf("the side is not set: only %s; give the side to set it", list))
	}
	v.Laterality = firm
	return nil
}

// namedSides finds the sides that the names of the path and of the files in it
// tell, each side once.
func namedSides(p string, b *bundle) []sideSource {
	var out []sideSource
	seen := map[eye.Laterality]bool{}
	add := func(kind, name string) {
		if s := sideInName(name); s != eye.SideUnknown && !seen[s] {
			seen[s] = true
			out = append(out, sideSource{who: fmt.Sprintf("%s name %s", kind, clean(name)), side: s})
		}
	}
	kind := "file"
	if b.wrapper == "folder of " {
		kind = "folder"
	}
	if absolute, err := filepath.Abs(p); err == nil {
		p = absolute
	}
	add(kind, filepath.Base(p))
	if b.wrapper != "" {
		for _, e := range b.entries {
			if e.kind.isSlice() {
				add("file", e.name)
			}
		}
	}
	return out
}

// sideInName finds OD, OS, RIGHT or LEFT among the words of a name, which end
// wherever a character is not a letter. A name with both tells nothing, and
// single letters are words of too many languages to count.
func sideInName(name string) eye.Laterality {
	words := strings.FieldsFunc(strings.ToUpper(name), func(r rune) bool { return r < 'A' || r > 'Z' })
	side := eye.SideUnknown
	for _, w := range words {
		if w != "OD" && w != "OS" && w != "RIGHT" && w != "LEFT" {
			continue
		}
		s, err := eye.ParseLaterality(w)
		if err != nil || (side != eye.SideUnknown && s != side) {
			return eye.SideUnknown
		}
		side = s
	}
	return side
}
