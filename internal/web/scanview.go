package web

import (
	"context"
	"errors"
	"net/http"
	"strconv"
	"time"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/figure"
	"limitans/internal/intake"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/oct"
	"limitans/oct/measure"
	"limitans/oct/surface"
)

// scanPage is one scan: its picture, its figures and what can be done with them.
type scanPage struct {
	Eye     eyeHead
	Scan    *record.Scan
	At      string // address of the scan
	View    string // slices, front, body, thickness or compare
	Views   []scanTab
	Slice   int // counts from 1; 0 while the size is not known
	Picture *scanPicture
	// Reading: the scan is still being read, and lines and lumen are not drawn yet.
	Reading bool
	Fault   *failure // why nothing can be drawn
	Job     *jobLine

	Figures   *record.HoleFigures // shown; nil: not measured
	Counts    bool                // they are those that count
	Rows      []figureRow
	Classes   []classRow
	Versions  []*record.HoleFigures
	based     *record.HoleFigures // as the record has them; Figures may be those on moved lines
	Base      record.ID           // of the figures whose lines are shown or moved
	Moves     string              // done on the page and not kept yet
	MoveCount int
	Undone    string // the moves without the last one
	Refused   *failure

	Scale      scaleForm
	MayMeasure bool
	MaySign    bool
	CanMeasure bool
}

// scanTab is one way to look at a scan.
type scanTab struct{ Code, Words, To string }

var scanTabs = []scanTab{
	{"slices", "Slices", ""}, {"front", "From the front", "/front"}, {"body", "Body", "/body"}, {"thickness", "Thickness", "/thickness"}, {"compare", "Compare", "/compare"},
}

// patience is how long a page waits for a scan that is being read before it is
// sent without its lines.
const patience = 100 * time.Millisecond

// pageOfScan fills what every view of a scan shows.
func (s *Server) pageOfScan(r *http.Request, v *visitor, view string) (*scanPage, *store.Course, error) {
	c, err := s.course(r)
	if err != nil {
		return nil, nil, err
	}
	noun, err := scanOf(c, record.ID(r.PathValue("scan")))
	if err != nil {
		return nil, nil, err
	}
	p := &scanPage{
		Eye: headOf(c, "scan"), Scan: noun, At: scanPath(noun), View: view, Views: scanTabs, Versions: versionsOf(c, noun.ID),
		MayMeasure: v.may(account.MeasureScan), MaySign: v.may(account.SignMeasurement), CanMeasure: s.Queue != nil && s.Vault != nil,
	}
	if p.Figures, err = figuresOf(c, noun.ID, record.ID(r.FormValue("figures"))); err != nil {
		return nil, nil, err
	}
	p.Counts = p.Figures == standing(c, noun.ID)
	if p.Figures != nil {
		p.Base, p.based = p.Figures.ID, p.Figures
	}
	p.Scale = scaleFormOf(noun)
	jobs, err := s.jobsOf(r.Context())
	if err != nil {
		return nil, nil, err
	}
	if job := jobs[noun.ID]; job != nil && (job.Active || job.Failed != "") {
		p.Job = job
	}
	return p, c, nil
}

// showScan shows one slice with its lines. Moves that are not kept yet stand in
// the address, so that they can be tried and taken back without script.
func (s *Server) showScan(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p, c, err := s.pageOfScan(r, v, "slices")
	if err != nil {
		return err
	}
	p.Slice = firstSlice(p.Scan, p.Figures)
	if n, err := strconv.Atoi(r.FormValue("slice")); err == nil && n >= 1 && n <= p.Scan.Slices {
		p.Slice = n
	}
	p.Moves = r.FormValue("moves")
	if err := addMove(r, p); err != nil {
		f := failureOf(err)
		p.Refused = &f
	}
	s.draw(r.Context(), p, c)
	p.Rows, p.Classes = rowsOf(p.Figures), classesOf(p.Figures)
	block := "layout.html"
	switch r.FormValue("part") {
	case "slice":
		block = "sliceblock"
	case "live":
		block = "scanlive"
	}
	return s.renderPart(w, v, http.StatusOK, "scan", block, head{Title: "Scan of " + p.Eye.Name, Rail: "eyes", Scripts: []string{"scan.js"}, Wide: true}, p)
}

// draw works out the picture of the slice. What goes wrong is shown in its place.
func (s *Server) draw(ctx context.Context, p *scanPage, c *store.Course) {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	on, err := s.takeScan(ctx, p.Scan, c.Eye)
	if errors.Is(err, context.DeadlineExceeded) {
		p.Reading = true
		if p.Scan.Slices > 0 {
			p.Picture = waiting(p)
		}
		return
	}
	if err != nil {
		f := failureOf(err)
		p.Fault = &f
		return
	}
	if p.Scan.Slices == 0 { // kept too large to be looked at, and read since
		p.Slice = (on.volume.Slices + 1) / 2
	}
	var result *measure.Result
	if p.Figures != nil {
		result, err = s.measured(ctx, on, c.Eye, p.based)
		switch {
		case errors.Is(err, context.DeadlineExceeded):
			p.Reading = true
		case err != nil:
			f := failureOf(err)
			p.Fault = &f
		}
	}
	if result != nil {
		result = s.withMoves(ctx, p, c.Eye, on, result)
	}
	p.Picture = pictureOf(p, on.volume, result)
}

// withMoves measures anew on moved lines, by the same code that measured first.
// Moves that cannot be are told, and the lines stay as they were.
func (s *Server) withMoves(ctx context.Context, p *scanPage, e *record.Eye, on *shelved, result *measure.Result) *measure.Result {
	moves, err := surface.ParseMoves(p.Moves)
	if err == nil && len(moves) > 0 {
		var moved *measure.Result
		if moved, err = s.moved(ctx, on, e, p.based, result, moves); err == nil {
			var figures *record.HoleFigures
			if figures, err = intake.FiguresOf(moved, p.Scan, s.measuring("")); err == nil {
				p.Figures, p.MoveCount, p.Undone = figures, len(moves), surface.MovesText(moves[:len(moves)-1])
				return moved
			}
		}
	}
	if err != nil && p.Refused == nil {
		f := failureOf(err)
		p.Refused = &f
	}
	if err != nil {
		p.Moves = ""
	}
	return result
}

// moved measures a scan anew with lines moved; base is the measurement with the
// lines of f.
func (s *Server) moved(ctx context.Context, on *shelved, e *record.Eye, f *record.HoleFigures, base *measure.Result, moves []surface.Move) (*measure.Result, error) {
	return on.result(linesName(f)+" "+surface.MovesText(moves), func() (*measure.Result, error) {
		lines, err := base.Traced.Moved(moves, on.volume.Rows)
		if err != nil {
			return nil, err
		}
		return intake.Measure(context.WithoutCancel(ctx), on.volume, e, lines, s.measuring(""))
	})
}

// addMove appends the move of the form to those that stand.
func addMove(r *http.Request, p *scanPage) error {
	line := r.FormValue("line")
	if line == "" {
		return nil
	}
	wrong := func(where, expected string) error {
		return &fault.Error{Code: fault.Invalid, Where: where, What: "is no number", Expected: expected}
	}
	column, err := strconv.Atoi(r.FormValue("column"))
	if err != nil {
		return wrong("column", "a whole number")
	}
	reach, err := strconv.Atoi(r.FormValue("reach"))
	if err != nil {
		return wrong("reach", "a whole number of columns")
	}
	up, err := strconv.ParseFloat(r.FormValue("up"), 64)
	if err != nil {
		return wrong("distance", "samples, with a point")
	}
	moves, err := surface.ParseMoves(p.Moves)
	if err != nil {
		return err
	}
	moves = append(moves, surface.Move{Line: surface.Line(line), Slice: p.Slice - 1, Column: column - 1, Rows: -up, Reach: reach})
	p.Moves = surface.MovesText(moves)
	return nil
}

// scanPicture is one slice as a page draws it.
type scanPicture struct {
	figure.Overlay
	Image          string
	Before, Behind []string // pictures of the neighbouring slices, to be fetched ahead
	Words          string   // for who cannot see it
	Columns, Rows  int
	Slices         int
	Front          *frontPicture
	Bar            float64 // length of the scale bar
	BarWords       string
	Measured       bool
	Trust          string // of the scale within the slice, in words
}

// frontPicture is the small view from the front beside the slice.
type frontPicture struct {
	figure.Front
	Image string
	Links []frontLink
	Now   frontLink
}

// frontLink is one slice as seen from the front.
type frontLink struct {
	Slice          int
	X1, Y1, X2, Y2 float64
	To             string
	Near           bool
}

// waiting is the picture of a scan that is still being read: its address alone.
func waiting(p *scanPage) *scanPicture {
	noun := p.Scan
	v := &oct.Volume{Slices: noun.Slices, Rows: noun.Rows, Columns: noun.Columns}
	for um, into := range map[*float64]*oct.AxisScale{noun.DepthUM: &v.Scale.Depth, noun.LateralUM: &v.Scale.Lateral} {
		if um != nil {
			*into = oct.AxisScale{MicrometresPerSample: *um, Trust: oct.TrustUserGiven}
		}
	}
	return pictureOf(p, v, nil)
}

// pictureOf works out what is drawn of a slice.
func pictureOf(p *scanPage, v *oct.Volume, result *measure.Result) *scanPicture {
	out := &scanPicture{
		Image: picturePath(p.Scan, p.Slice), Columns: v.Columns, Rows: v.Rows, Slices: v.Slices, Measured: result != nil,
		Trust: scaleTrustWords(p.Scan),
	}
	if result != nil {
		out.Overlay = figure.OverlayOf(v, result.Traced, result.Hole, p.Slice-1)
	} else {
		out.Overlay = figure.OverlayOf(v, nil, nil, p.Slice-1)
	}
	out.Bar, out.BarWords = scaleBar(out.Overlay)
	out.Words = sliceWords(p, v, result)
	if p.Slice > 1 {
		out.Before = append(out.Before, picturePath(p.Scan, p.Slice-1))
	}
	if p.Slice < v.Slices {
		out.Behind = append(out.Behind, picturePath(p.Scan, p.Slice+1))
	}
	if result != nil {
		out.Front = frontOf(p, v, result)
	}
	return out
}

// frontOf works out the view from the front; nil for scans that cover no area.
func frontOf(p *scanPage, v *oct.Volume, result *measure.Result) *frontPicture {
	seen, ok := figure.FrontOf(v, result.Hole)
	if !ok {
		return nil
	}
	out := &frontPicture{Front: seen, Image: frontPath(p.Scan, p.based)}
	for i, ends := range seen.Slices {
		link := frontLink{Slice: i + 1, X1: ends[0].X, Y1: ends[0].Y, X2: ends[1].X, Y2: ends[1].Y, To: sliceAddress(p, i+1)}
		out.Links = append(out.Links, link)
		if i+1 == p.Slice {
			out.Now = link
		}
	}
	return out
}
