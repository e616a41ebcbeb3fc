package web

import (
	"fmt"
	"math"
	"net/url"
	"strconv"
	"strings"

	"limitans/estimate"
	"limitans/internal/figure"
	"limitans/internal/figure/scene"
	"limitans/internal/record"
	"limitans/oct"
	"limitans/oct/hole"
	"limitans/oct/measure"
)

// figureRow is one figure with its interval and how it was computed.
type figureRow struct {
	Name    string
	Code    string
	Value   string // with its unit; empty for a figure that is missing
	Range   string // 95 % interval
	Missing string // why there is none
	How     string
	Strong  bool
}

// figureKinds are the figures of a hole in the order of the page.
var figureKinds = []struct {
	code, name string
	of         func(*record.HoleFigures) *estimate.Estimate
	unit       string
	decimals   int
}{
	{"mld", "Minimum linear diameter", func(f *record.HoleFigures) *estimate.Estimate { return f.MLDUM }, "µm", 0},
	{"visible", "The same between visible edges", func(f *record.HoleFigures) *estimate.Estimate { return f.VisibleMLDUM }, "µm", 0},
	{"small", "Smallest section, smallest diameter", func(f *record.HoleFigures) *estimate.Estimate { return f.SmallUM }, "µm", 0},
	{"large", "Smallest section, largest diameter", func(f *record.HoleFigures) *estimate.Estimate { return f.LargeUM }, "µm", 0},
	{"area", "Smallest section, area", func(f *record.HoleFigures) *estimate.Estimate { return f.AreaMM2 }, "mm²", 3},
	{"base", "Base diameter", func(f *record.HoleFigures) *estimate.Estimate { return f.BaseUM }, "µm", 0},
	{"opening", "Inner opening", func(f *record.HoleFigures) *estimate.Estimate { return f.OpeningUM }, "µm", 0},
	{"height", "Height, mean of both rims", func(f *record.HoleFigures) *estimate.Estimate { return f.HeightUM }, "µm", 0},
	{"volume", "Volume", func(f *record.HoleFigures) *estimate.Estimate { return f.VolumeMM3 }, "mm³", 4},
	{"central", "Central thickness, 1 mm across", func(f *record.HoleFigures) *estimate.Estimate { return f.CentralUM }, "µm", 0},
}

// rowsOf words the figures; nil for none.
func rowsOf(f *record.HoleFigures) []figureRow {
	if f == nil {
		return nil
	}
	var out []figureRow
	for _, kind := range figureKinds {
		if e := kind.of(f); e != nil {
			out = append(out, rowOf(kind.code, kind.name, *e, kind.decimals, kind.unit))
		}
	}
	for _, i := range f.Indices {
		out = append(out, rowOf("index", capital(i.Name), i.Value, 2, ""))
	}
	if len(out) > 0 {
		out[0].Strong = true
	}
	return out
}

func rowOf(code, name string, e estimate.Estimate, decimals int, unit string) figureRow {
	row := figureRow{Name: name, Code: code, How: e.Basis}
	if !e.Known() {
		row.Missing = e.Basis
		return row
	}
	n := func(x float64) string { return strconv.FormatFloat(x, 'f', decimals, 64) }
	row.Value = n(e.Value)
	if unit != "" {
		row.Value += " " + unit
	}
	if !math.IsNaN(e.Low) && !math.IsNaN(e.High) {
		row.Range = n(e.Low) + " to " + n(e.High)
	}
	return row
}

// classRow is one size class with the probability of each.
type classRow struct {
	Scheme, Figure, Class, Shares, Source string
	Borderline                            bool
}

// classFigures are the figures that classes rest on, in words.
var classFigures = map[string]string{
	"mld_visible_um": "diameter between visible edges", "mld_um": "minimum linear diameter", "min_section.large_um": "largest diameter of the smallest section",
}

// classesOf classes a hole by its diameters.
func classesOf(f *record.HoleFigures) []classRow {
	if f == nil || f.MLDUM == nil {
		return nil
	}
	known := func(e *estimate.Estimate) estimate.Estimate {
		if e == nil {
			return estimate.Missing("not measured")
		}
		return *e
	}
	var out []classRow
	for _, c := range hole.ClassifyAll(known(f.VisibleMLDUM), known(f.MLDUM), known(f.LargeUM)) {
		row := classRow{Scheme: c.Scheme, Figure: classFigures[c.Figure], Class: c.Class, Source: c.Source, Borderline: c.Borderline}
		for _, one := range c.Probabilities {
			if one.Probability < 0.005 {
				continue
			}
			if row.Shares != "" {
				row.Shares += ", "
			}
			row.Shares += fmt.Sprintf("%s %.0f %%", one.Class, 100*one.Probability)
		}
		out = append(out, row)
	}
	return out
}

// Indices counts the rows that are indices.
func (p *scanPage) Indices() int {
	n := 0
	for _, row := range p.Rows {
		if row.Code == "index" {
			n++
		}
	}
	return n
}

// RealChangeUM is the repeatability that makes a class borderline.
func (*scanPage) RealChangeUM() int { return int(hole.RealChangeUM) }

// scaleTrustWords says who told the scale.
func scaleTrustWords(noun *record.Scan) string {
	switch {
	case noun.DepthUM == nil || noun.LateralUM == nil:
		return "unknown: no micrometres"
	case noun.ScaleTrust == record.ScaleFromFile:
		return "given by the file"
	case noun.ScaleTrust == record.ScaleFromUser:
		return "given by a person"
	case noun.ScaleTrust == record.ScaleAssumed:
		return "assumed"
	}
	return "unknown"
}

// scaleBar is the longest of 1, 2, 5 · 10ⁿ that fits into a quarter of a slice.
func scaleBar(o figure.Overlay) (length float64, words string) {
	most := o.Width / 4
	if !(most > 0) {
		return 0, ""
	}
	length = math.Pow(10, math.Floor(math.Log10(most)))
	for _, f := range []float64{5, 2} {
		if f*length <= most {
			length *= f
			break
		}
	}
	unit := "columns"
	if o.InMicrometres {
		unit = "µm"
	}
	return length, strconv.FormatFloat(length, 'f', -1, 64) + " " + unit
}

// sliceWords tells what a slice shows.
func sliceWords(p *scanPage, v *oct.Volume, result *measure.Result) string {
	text := fmt.Sprintf("Slice %d of %d, vitreous up.", p.Slice, v.Slices)
	switch {
	case result == nil:
		return text + " No lines are drawn."
	case result.Hole == nil || !result.Hole.Present || result.Hole.Lumen == nil:
		return text + " No hole was found on this scan."
	}
	l := result.Hole.Lumen
	switch at := p.Slice - 1; {
	case at == l.MLDSlice:
		text += " The widest slice of the hole, with its minimum linear diameter."
	case at >= l.FirstSlice && at <= l.LastSlice:
		text += fmt.Sprintf(" It crosses the hole, which is on slices %d to %d.", l.FirstSlice+1, l.LastSlice+1)
	default:
		text += fmt.Sprintf(" It does not cross the hole, which is on slices %d to %d.", l.FirstSlice+1, l.LastSlice+1)
	}
	return text
}

// sliceAddress is the page of another slice, with the moves that stand.
func sliceAddress(p *scanPage, slice int) string {
	q := url.Values{"slice": {strconv.Itoa(slice)}}
	if p.Moves != "" {
		q.Set("moves", p.Moves)
	}
	if p.Base != "" && !p.Counts {
		q.Set("figures", string(p.Base))
	}
	return p.At + "?" + q.Encode()
}

// SliceAt is the page of the slice so many further on; empty where there is none.
func (p *scanPage) SliceAt(step int) string {
	n := p.Slice + step
	if p.Picture == nil || n < 1 || n > p.Picture.Slices {
		return ""
	}
	return sliceAddress(p, n)
}

// Runs writes points of a line as SVG takes them, to a hundredth.
func (scanPicture) Runs(points []scene.Point) string {
	var b []byte
	for i, p := range points {
		if i > 0 {
			b = append(b, ' ')
		}
		b = strconv.AppendFloat(b, math.Round(p.X*100)/100, 'f', -1, 64)
		b = append(b, ',')
		b = strconv.AppendFloat(b, math.Round(p.Y*100)/100, 'f', -1, 64)
	}
	return string(b)
}

// capital begins a text with a capital letter.
func capital(text string) string {
	if text == "" {
		return text
	}
	return strings.ToUpper(text[:1]) + text[1:]
}
