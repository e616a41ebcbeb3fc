package surface_test

import (
	"math"
	"testing"

	"limitans/fault"
	"limitans/oct/surface"
)

// flat are two level lines, the membrane at row 20 and the epithelium at 80,
// with column 3 of slice 1 untraced.
func flat() *surface.Surfaces {
	s := &surface.Surfaces{
		InnerLimitingMembrane: surface.New("membrane", 2, 40), VisibleMembrane: surface.New("visible", 2, 40),
		PigmentEpithelium: surface.New("epithelium", 2, 40), PigmentEpitheliumInnerEdge: surface.New("edge", 2, 40),
	}
	for i := range s.InnerLimitingMembrane.Row {
		s.InnerLimitingMembrane.Row[i], s.VisibleMembrane.Row[i] = 20, 19
		s.PigmentEpithelium.Row[i], s.PigmentEpitheliumInnerEdge.Row[i] = 80, 74
	}
	s.InnerLimitingMembrane.Row[43] = float32(math.NaN())
	return s
}

// TestMovedFollowsItsLaw compares every column with the raised cosine, worked
// out here from its half-angle form, and what must not move with what it was.
func TestMovedFollowsItsLaw(t *testing.T) {
	s := flat()
	m := surface.Move{Line: surface.MembraneLine, Slice: 1, Column: 10, Rows: -6, Reach: 8}
	got, err := s.Moved([]surface.Move{m}, 100)
	if err != nil {
		t.Fatal(err)
	}
	for slice := range 2 {
		for c := range 40 {
			want := 0.0
			if d := math.Abs(float64(c - 10)); slice == 1 && d < 8 {
				half := math.Cos(math.Pi * d / 16)
				want = -6 * half * half
			}
			for _, pair := range [][2]*surface.Surface{{got.InnerLimitingMembrane, s.InnerLimitingMembrane}, {got.VisibleMembrane, s.VisibleMembrane}} {
				is, was := pair[0].At(slice, c), pair[1].At(slice, c)
				if was != was {
					if is == is {
						t.Errorf("slice %d column %d: an untraced column got a line", slice, c)
					}
					continue
				}
				// A row near 20 is kept in 24 bits: half a unit is 1e-6.
				if math.Abs(is-was-want) > 2e-6 {
					t.Errorf("slice %d column %d: moved by %g, want %g", slice, c, is-was, want)
				}
			}
			if got.PigmentEpithelium.At(slice, c) != 80 {
				t.Errorf("the epithelium moved at %d, %d", slice, c)
			}
		}
	}
	if s.VisibleMembrane.At(1, 10) != 19 {
		t.Error("the caller's line was changed")
	}
	if len(got.Warnings) != 1 {
		t.Errorf("warnings %q", got.Warnings)
	}
}

// TestMovedAndBack shows that a move and its opposite give the line again, to
// the rounding of a row (1e-6 a step).
func TestMovedAndBack(t *testing.T) {
	m := surface.Move{Line: surface.EpitheliumLine, Slice: 0, Column: 20, Rows: 4.25, Reach: 12}
	back := m
	back.Rows = -m.Rows
	got, err := flat().Moved([]surface.Move{m, back}, 100)
	if err != nil {
		t.Fatal(err)
	}
	for c := range 40 {
		if d := got.PigmentEpitheliumInnerEdge.At(0, c) - 74; math.Abs(d) > 1e-5 {
			t.Errorf("column %d: %g off", c, d)
		}
	}
}

func TestMovedRefuses(t *testing.T) {
	for name, m := range map[string]surface.Move{
		"slice outside":    {Line: surface.MembraneLine, Slice: 2, Column: 1, Rows: 1, Reach: 2},
		"column outside":   {Line: surface.MembraneLine, Slice: 0, Column: 40, Rows: 1, Reach: 2},
		"no reach":         {Line: surface.MembraneLine, Slice: 0, Column: 1, Rows: 1},
		"out of the scan":  {Line: surface.MembraneLine, Slice: 0, Column: 9, Rows: -25, Reach: 2},
		"below the other":  {Line: surface.MembraneLine, Slice: 0, Column: 9, Rows: 70, Reach: 2},
		"above the other":  {Line: surface.EpitheliumLine, Slice: 0, Column: 9, Rows: -70, Reach: 2},
		"no such line":     {Line: "choroid", Slice: 0, Column: 9, Rows: 1, Reach: 2},
		"no such distance": {Line: surface.MembraneLine, Slice: 0, Column: 9, Rows: math.NaN(), Reach: 2},
	} {
		if _, err := flat().Moved([]surface.Move{m}, 100); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
	untraced := flat()
	for i := range untraced.VisibleMembrane.Row {
		untraced.VisibleMembrane.Row[i], untraced.InnerLimitingMembrane.Row[i] = float32(math.NaN()), float32(math.NaN())
	}
	if _, err := untraced.Moved([]surface.Move{{Line: surface.MembraneLine, Column: 9, Rows: 1, Reach: 2}}, 100); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("an untraced line was moved: %v", err)
	}
}

// FuzzParseMoves: what is read is written as the same text's meaning.
func FuzzParseMoves(f *testing.F) {
	for _, seed := range []string{"", "membrane,27,100,-3.5,40", "epithelium,0,0,1,1~membrane,1,2,3,4", "membrane,1,2,NaN,4", "a", "membrane,1,2,3", "membrane,1e3,2,3,4"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		moves, err := surface.ParseMoves(text)
		if err != nil {
			if c := fault.CodeOf(err); c != fault.Malformed && c != fault.TooLarge {
				t.Fatalf("%q: %v", text, err)
			}
			return
		}
		again, err := surface.ParseMoves(surface.MovesText(moves))
		if err != nil || len(again) != len(moves) {
			t.Fatalf("%q: %v", text, err)
		}
		for i := range moves {
			if again[i] != moves[i] {
				t.Fatalf("%q: %v became %v", text, moves[i], again[i])
			}
		}
	})
}
