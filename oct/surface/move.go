package surface

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"limitans/fault"
)

// Line names a line that a person can move.
type Line string

// The lines that can be moved. A line takes what belongs to it along: the
// membrane its visible edge, the epithelium its inner edge.
const (
	MembraneLine   Line = "membrane"
	EpitheliumLine Line = "epithelium"
)

// Bounds on what is taken as moves of one scan.
const (
	MaxMoves    = 2000
	MaxMoveRows = 2000.0
)

// Move is a line drawn to another place by hand, on one slice:
//
//	row'(x) = row(x) + Rows · ½(1 + cos(π·(x − Column)/Reach))   for |x − Column| < Reach
//
//	──────╮   ╭──────   before        rows count downward: negative Rows
//	       ╲ ╱                        move the line up, to the vitreous
//	        V
//
// so that the line stays smooth and what is farther than Reach stays as it is.
// Columns where the line was not traced stay untraced.
type Move struct {
	Line   Line
	Slice  int     // from 0
	Column int     // from 0, where the hand was
	Rows   float64 // samples of depth, downward
	Reach  int     // columns to either side, 1 or more
}

// String writes the move as [ParseMoves] reads it.
func (m Move) String() string {
	return fmt.Sprintf("%s,%d,%d,%s,%d", m.Line, m.Slice, m.Column, strconv.FormatFloat(m.Rows, 'f', -1, 64), m.Reach)
}

// MovesText writes moves in their order, parted by "~".
func MovesText(moves []Move) string {
	out := make([]string, len(moves))
	for i, m := range moves {
		out[i] = m.String()
	}
	return strings.Join(out, "~")
}

// ParseMoves reads what [MovesText] writes; the empty text is no move. Errors:
// Malformed for anything else, TooLarge beyond [MaxMoves].
func ParseMoves(text string) ([]Move, error) {
	if text == "" {
		return nil, nil
	}
	parts := strings.Split(text, "~")
	if len(parts) > MaxMoves {
		return nil, &fault.Error{Code: fault.TooLarge, Where: "moves", What: fmt.Sprintf("%d moves", len(parts)), Expected: fmt.Sprintf("at most %d", MaxMoves)}
	}
	out := make([]Move, 0, len(parts))
	for _, part := range parts {
		m, err := parseMove(part)
		if err != nil {
			return nil, err
		}
		out = append(out, m)
	}
	return out, nil
}

func parseMove(text string) (Move, error) {
	wrong := &fault.Error{Code: fault.Malformed, Where: "moves", What: fmt.Sprintf("%.60q is no move", text), Expected: "line,slice,column,rows,reach"}
	fields := strings.Split(text, ",")
	if len(fields) != 5 {
		return Move{}, wrong
	}
	m := Move{Line: Line(fields[0])}
	rows, err := strconv.ParseFloat(fields[3], 64)
	if err != nil || math.IsNaN(rows) || math.Abs(rows) > MaxMoveRows {
		return Move{}, wrong
	}
	m.Rows = rows
	for i, into := range map[int]*int{1: &m.Slice, 2: &m.Column, 4: &m.Reach} {
		if *into, err = strconv.Atoi(fields[i]); err != nil {
			return Move{}, wrong
		}
	}
	if m.Line != MembraneLine && m.Line != EpitheliumLine {
		return Move{}, wrong
	}
	return m, nil
}

// Moved returns the surfaces with moves done in their order; s is not changed,
// and what did not move is shared with it. rows is the number of rows of the
// scan. A warning counts the moves, because intervals were proved on lines as
// traced.
//
// Errors: Invalid for a place outside the scan, for a line that would leave it
// or cross the other, and where nothing was traced within reach.
func (s *Surfaces) Moved(moves []Move, rows int) (*Surfaces, error) {
	out := *s
	out.Warnings = slices.Clone(s.Warnings)
	if len(moves) == 0 {
		return &out, nil
	}
	out.InnerLimitingMembrane, out.VisibleMembrane = clone(s.InnerLimitingMembrane), clone(s.VisibleMembrane)
	out.PigmentEpithelium, out.PigmentEpitheliumInnerEdge = clone(s.PigmentEpithelium), clone(s.PigmentEpitheliumInnerEdge)
	for _, m := range moves {
		if err := out.do(m, rows); err != nil {
			return nil, err
		}
	}
	for _, m := range moves {
		if err := out.inOrder(m); err != nil {
			return nil, err
		}
	}
	places := "places"
	if len(moves) == 1 {
		places = "place"
	}
	out.Warnings = append(out.Warnings, fmt.Sprintf("lines were moved by hand at %d %s; the intervals were proved on lines as traced", len(moves), places))
	return &out, nil
}

func clone(s *Surface) *Surface {
	if s == nil {
		return nil
	}
	out := *s
	out.Row, out.Confidence = slices.Clone(s.Row), slices.Clone(s.Confidence)
	return &out
}

// moved are the surfaces that a line takes along, the drawn one first.
func (s *Surfaces) moved(line Line) []*Surface {
	switch line {
	case MembraneLine:
		return []*Surface{s.VisibleMembrane, s.InnerLimitingMembrane}
	case EpitheliumLine:
		return []*Surface{s.PigmentEpithelium, s.PigmentEpitheliumInnerEdge}
	}
	return nil
}

// do moves one line of surfaces that are the receiver's own.
func (s *Surfaces) do(m Move, rows int) error {
	wrong := func(what, mend string) error {
		return &fault.Error{Code: fault.Invalid, Where: fmt.Sprintf("%s on slice %d", m.Line, m.Slice+1), What: what, Mend: mend}
	}
	all := s.moved(m.Line)
	shape := s.InnerLimitingMembrane
	switch {
	case all == nil:
		return wrong("there is no such line", "move the membrane or the epithelium")
	case m.Slice < 0 || m.Slice >= shape.Slices || m.Column < 0 || m.Column >= shape.Columns:
		return wrong(fmt.Sprintf("column %d lies outside the scan", m.Column+1), "")
	case m.Reach < 1 || m.Reach > shape.Columns:
		return wrong(fmt.Sprintf("a reach of %d columns", m.Reach), fmt.Sprintf("give 1 to %d", shape.Columns))
	case math.IsNaN(m.Rows) || math.Abs(m.Rows) > MaxMoveRows:
		return wrong("no distance that can be", "")
	}
	touched := false
	for _, one := range all {
		if one == nil {
			continue
		}
		for c := max(0, m.Column-m.Reach+1); c <= min(one.Columns-1, m.Column+m.Reach-1); c++ {
			i := m.Slice*one.Columns + c
			if one.Row[i] != one.Row[i] {
				continue
			}
			touched = true
			row := float64(one.Row[i]) + m.Rows*0.5*(1+math.Cos(math.Pi*float64(c-m.Column)/float64(m.Reach)))
			if row < 0 || row > float64(rows-1) {
				return wrong("the line would leave the scan", "move it less")
			}
			one.Row[i] = float32(row)
		}
	}
	if !touched {
		return wrong("the line was not traced there", "move it where it is drawn")
	}
	return nil
}

// inOrder refuses a membrane below the epithelium.
func (s *Surfaces) inOrder(m Move) error {
	for c := max(0, m.Column-m.Reach+1); c <= min(s.InnerLimitingMembrane.Columns-1, m.Column+m.Reach-1); c++ {
		if top, bottom := s.InnerLimitingMembrane.At(m.Slice, c), s.PigmentEpithelium.At(m.Slice, c); top > bottom {
			return &fault.Error{
				Code: fault.Invalid, Where: fmt.Sprintf("slice %d, column %d", m.Slice+1, c+1),
				What: "the inner limiting membrane would lie below the pigment epithelium", Mend: "move the line less, or move the other first",
			}
		}
	}
	return nil
}
