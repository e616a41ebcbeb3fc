package figure

import (
	"fmt"

	"limitans/fault"
	"limitans/oct"
	"limitans/oct/hole"
	"limitans/oct/surface"
	"limitans/oct/thickness"
)

// Subject is what is drawn: one scan and what was found on it. Volume and
// Surfaces are needed; Hole and Thickness may be nil.
type Subject struct {
	Volume    *oct.Volume
	Surfaces  *surface.Surfaces
	Hole      *hole.Hole
	Thickness *thickness.Thickness
}

// check returns a fault when the parts do not belong together.
func (s Subject) check() error {
	wrong := func(what string) error {
		return &fault.Error{Code: fault.Internal, Where: "figures", What: what}
	}
	if s.Volume == nil || s.Surfaces == nil {
		return wrong("no scan or no surfaces to draw")
	}
	if err := s.Volume.Check(); err != nil {
		return err
	}
	for _, line := range []*surface.Surface{s.Surfaces.InnerLimitingMembrane, s.Surfaces.PigmentEpithelium} {
		if line == nil || line.Slices != s.Volume.Slices || line.Columns != s.Volume.Columns || len(line.Row) != line.Slices*line.Columns {
			return wrong("the surfaces belong to another scan")
		}
	}
	if l := lumenOf(s.Hole); l != nil && (l.Slices != s.Volume.Slices || l.Columns != s.Volume.Columns || l.Rows != s.Volume.Rows) {
		return wrong(fmt.Sprintf("the hole belongs to a scan of %d slices of %d × %d samples", l.Slices, l.Rows, l.Columns))
	}
	return nil
}

// lumenOf is the lumen of a hole that is there, or nil.
func lumenOf(h *hole.Hole) *hole.Lumen {
	if h == nil || !h.Present {
		return nil
	}
	return h.Lumen
}

// drawnMembrane is the inner line as drawings show it: its visible edge, which a
// person can check, where the surfaces have one.
func drawnMembrane(s *surface.Surfaces) *surface.Surface {
	if s.VisibleMembrane != nil {
		return s.VisibleMembrane
	}
	return s.InnerLimitingMembrane
}
