package report

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"limitans/estimate"
	"limitans/eye"
	"limitans/internal/caution"
	"limitans/oct"
	"limitans/oct/hole"
	"limitans/oct/measure"
	"limitans/oct/proof"
	"limitans/oct/thickness"
)

// figureOf is a figure whose numbers are told apart from all others.
func figureOf(value float64) estimate.Estimate {
	return estimate.Normal(value, value/20, "basis of a figure")
}

// invented is a result with every kind of line; no science stands behind it.
func invented() *measure.Result {
	um := func(x float64) oct.AxisScale {
		return oct.AxisScale{MicrometresPerSample: x, Trust: oct.TrustUserGiven}
	}
	lengths := hole.Lengths{MLDUM: figureOf(411), BaseUM: figureOf(733), HeightUM: figureOf(321), LeftArmUM: figureOf(345), RightArmUM: figureOf(356)}
	h := &hole.Hole{
		Present: true, Judgement: "full-thickness hole", Seen: []string{"dark space reaches down"},
		MLDUM: lengths.MLDUM, WidestSlice: 4, MLDHeightUM: 177, VisibleMLDUM: figureOf(391), EdgeCorrectionUM: 10,
		MinSection: hole.MinSection{
			AreaMM2: figureOf(0.123), SmallUM: figureOf(377), LargeUM: figureOf(433),
			MeridianDeg: estimate.Missing("the section is round within the error"),
		},
		BaseUM: lengths.BaseUM, OpeningUM: figureOf(612), HeightUM: lengths.HeightUM,
		HeightLeftUM: figureOf(331), HeightRightUM: figureOf(311), VolumeMM3: figureOf(0.0512),
		Indices:   hole.Indices(lengths),
		SizeClass: hole.ClassifyAll(figureOf(391), lengths.MLDUM, figureOf(433)),
		Criteria:  []hole.Criterion{{Condition: "full-thickness hole", Criterion: "defect", State: "seen"}},
		Samples:   &hole.SampleFigures{MLDColumns: 70.2, BaseColumns: 118.4, HeightRows: 86.1},
	}
	return &measure.Result{
		Version: "test",
		Scan: measure.Scan{
			Slices: 9, Rows: 200, Columns: 300, BitDepth: 8, Pattern: oct.PatternRaster, Laterality: eye.Right,
			Scale: oct.Scale{Depth: um(3.87), Lateral: um(5.77), Slice: um(31)}, Format: "invented", AcquiredAt: "2026-01-02T03:04:05Z",
		},
		Hole: h,
		LateralCorrection: measure.LateralCorrection{
			Corrected: true, AxialLengthMM: 26.5, ReferenceMM: 24, Factor: figureOf(1.12), MLDUM: figureOf(460), VisibleMLDUM: figureOf(421),
			SmallUM: figureOf(422), LargeUM: figureOf(485), AreaMM2: figureOf(0.154), BaseUM: figureOf(821), OpeningUM: figureOf(685),
			VolumeMM3: figureOf(0.0642), SizeClass: hole.ClassifyAll(figureOf(421), figureOf(460), figureOf(485)),
		},
		Thickness: &thickness.Thickness{
			Boundary: "along depth", CentrePointUM: estimate.Missing("an open hole"), TotalVolumeMM3: figureOf(8.31),
			Fields:   []thickness.Field{{Name: "centre", ThicknessUM: estimate.Missing("an open hole")}, {Name: "inner nasal", ThicknessUM: figureOf(342), CoveredShare: 0.97}},
			Membrane: []thickness.Sign{{Name: "ruggedness", Unit: "µm", Value: figureOf(1.83), Indicative: "indicative only"}},
		},
		Warnings: []string{"a warning that is long enough to be wrapped into more than one line, because it goes on and on and on until there is no room"},
	}
}

func textOf(t *testing.T, r *measure.Result) string {
	t.Helper()
	var b bytes.Buffer
	if err := Text(&b, r); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

var (
	withUnit = regexp.MustCompile(`^  \S.*?  +-?[0-9][0-9.]*( (µm|mm²|mm³|°))?( |$)`)
	interval = regexp.MustCompile(`\(95 %: -?[0-9.]+ to -?[0-9.]+\)`)
)

// figureSections are the titles under which every line is a figure.
var figureSections = []string{"Hole figures", "Corrected for", "Indices", "Retinal thickness", "Signs of an epiretinal membrane"}

// offendingLines are those under a title of figures that show a number without
// its interval, or neither a number nor a reason.
func offendingLines(text string) (offending []string, figures int) {
	inside := false
	for _, line := range strings.Split(text, "\n") {
		if !strings.HasPrefix(line, " ") {
			inside = false
			for _, title := range figureSections {
				inside = inside || strings.HasPrefix(line, title)
			}
			continue
		}
		if !inside || strings.HasPrefix(line, "     ") || strings.Contains(line, "In samples, no interval") {
			continue
		}
		figures++
		missing := regexp.MustCompile(`  –  \S`).MatchString(line)
		if missing == (withUnit.MatchString(line) && interval.MatchString(line)) {
			offending = append(offending, line)
		}
	}
	return offending, figures
}

func TestEveryNumberHasItsInterval(t *testing.T) {
	text := textOf(t, invented())
	offending, figures := offendingLines(text)
	if len(offending) > 0 || figures < 30 {
		t.Errorf("%d figures, without an interval: %q in\n%s", figures, offending, text)
	}
	bare, _ := offendingLines("Hole figures\n  Base diameter  733 µm  \n  Height  –\n")
	if len(bare) != 2 {
		t.Errorf("the rule found %q", bare)
	}
	for _, want := range []string{"411 µm", "(95 %: 371 to 451)", "slice 5 of 9, 177 µm above the epithelium", "Corrected for an axial length of 26.5 mm", "95 % intervals synthetic", "0.0512 mm³", "borderline", "Eye       Right", "Acquired"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in\n%s", want, text)
		}
	}
}

// TestFiguresThatAreMissing: the reason is shown, once for several in a row, and
// a number without an interval is not shown.
func TestFiguresThatAreMissing(t *testing.T) {
	for _, c := range []struct {
		figure estimate.Estimate
		want   string
	}{
		{estimate.Missing("the walls were not seen"), "–  the walls were not seen"},
		{estimate.Missing(""), "–  not measured, no reason given"},
		{estimate.Estimate{Value: math.Inf(1), Low: 1, High: math.Inf(1)}, "–  not measured"},
		{estimate.Estimate{Value: 4711, Low: math.NaN(), High: math.NaN(), Basis: "x"}, "–  no interval"},
		{estimate.Estimate{Value: 4711, Low: 1, High: math.Inf(1), Basis: "x"}, "–  no interval"},
		{estimate.Estimate{Value: 4711, Low: 5000, High: 4000, Basis: "x"}, "–  no interval"},
	} {
		r := invented()
		r.Hole.BaseUM = c.figure
		text := textOf(t, r)
		line := regexp.MustCompile(`(?m)^  Base diameter .*$`).FindString(text)
		if !strings.Contains(line, c.want) || strings.Contains(text, "4711") || strings.Contains(text, "NaN") || strings.Contains(text, "Inf") {
			t.Errorf("%+v: %q", c.figure, line)
		}
	}
	r := invented()
	r.Hole.HeightUM, r.Hole.HeightLeftUM = estimate.Missing("no depth scale"), estimate.Missing("no depth scale")
	r.Hole.HeightRightUM = estimate.Missing("the rim is cut")
	text := textOf(t, r)
	if strings.Count(text, "no depth scale") != 1 || !regexp.MustCompile(`Height, low-column side +–  as above`).MatchString(text) || !strings.Contains(text, "–  the rim is cut") {
		t.Errorf("reasons:\n%s", text)
	}
}

// TestNoDepthNoHeight: a height above the epithelium needs the depth scale.
func TestNoDepthNoHeight(t *testing.T) {
	r := invented()
	r.Scan.Scale.Depth = oct.AxisScale{}
	if text := textOf(t, r); strings.Contains(text, "177") || !strings.Contains(text, "depth unknown") {
		t.Errorf("a height without a scale:\n%s", text)
	}
}

func TestNoHole(t *testing.T) {
	r := invented()
	r.Hole = &hole.Hole{Judgement: "no full-thickness hole found", Seen: []string{"tissue everywhere"}, WidestSlice: -1}
	r.LateralCorrection = measure.LateralCorrection{}
	text := textOf(t, r)
	for _, not := range []string{"Minimum linear diameter", "Size class", "Indices", "slice 0"} {
		if strings.Contains(text, not) {
			t.Errorf("%q without a hole:\n%s", not, text)
		}
	}
	if !strings.Contains(text, "\nNo full-thickness hole found\n  tissue everywhere\n") {
		t.Error(text)
	}
}

func TestCautionsAndWidth(t *testing.T) {
	text := textOf(t, invented())
	said := strings.Join(strings.Fields(text), " ")
	for _, c := range append(caution.Full(), caution.SyntheticIntervals) {
		if !strings.Contains(said, c) {
			t.Errorf("no caution %q", c)
		}
	}
	for _, line := range strings.Split(text, "\n") {
		if strings.HasPrefix(line, "  - ") && utf8.RuneCountInString(line) > textWidth {
			t.Errorf("%d runes: %q", utf8.RuneCountInString(line), line)
		}
	}
}

func TestWrap(t *testing.T) {
	for _, c := range []struct {
		text  string
		width int
		want  []string
	}{
		{"", 10, []string{""}},
		{"one", 10, []string{"one"}},
		{"one two", 7, []string{"one two"}},
		{"one two", 6, []string{"one", "two"}},
		{"µµµ ±±± ²²²", 7, []string{"µµµ ±±±", "²²²"}},
		{"a longestwordofall b", 5, []string{"a", "longestwordofall", "b"}},
		{"  spaces\n and\tlines ", 80, []string{"spaces and lines"}},
	} {
		if got := wrap(c.text, c.width); strings.Join(got, "|") != strings.Join(c.want, "|") {
			t.Errorf("%q at %d: %q, want %q", c.text, c.width, got, c.want)
		}
	}
}

// TestDocument: no list is null, and the result stays as it was.
func TestDocument(t *testing.T) {
	r := &measure.Result{Hole: &hole.Hole{}, Thickness: &thickness.Thickness{}}
	out, err := json.Marshal(Document(r))
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"cautions", "surfaces", "warnings", "seen", "indices", "size_class", "criteria", "fields", "membrane_signs"} {
		if !bytes.Contains(out, []byte(`"`+key+`":[`)) || bytes.Contains(out, []byte(`"`+key+`":null`)) {
			t.Errorf("%s is no list in %s", key, out)
		}
	}
	if r.Surfaces != nil || r.Warnings != nil || r.Hole.Indices != nil || r.Thickness.Fields != nil || r.LateralCorrection.SizeClass != nil {
		t.Error("the result was changed")
	}
	if _, err := json.Marshal(Document(&measure.Result{})); err != nil {
		t.Error(err)
	}
}

// fullDisk takes some bytes and then none.
type fullDisk struct{ room int }

var errFull = errors.New("no space left on device")

func (d *fullDisk) Write(p []byte) (int, error) {
	if len(p) > d.room {
		return 0, errFull
	}
	d.room -= len(p)
	return len(p), nil
}

func TestWritersThatFail(t *testing.T) {
	for _, room := range []int{0, 10, 500, 3000} {
		if err := Text(&fullDisk{room}, invented()); !errors.Is(err, errFull) {
			t.Errorf("text, room for %d bytes: %v", room, err)
		}
		if err := Proof(&fullDisk{min(room, 500)}, proof.Summary{}, 1); !errors.Is(err, errFull) {
			t.Errorf("proof, room for %d bytes: %v", room, err)
		}
	}
}

func TestProof(t *testing.T) {
	write := func(s proof.Summary) string {
		var b bytes.Buffer
		if err := Proof(&b, s, 2026); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	s := proof.Summary{
		Holes: 20, Found: 19, Intact: 30, FalseHoles: 1, FineHoles: 8, FineWithin: 0.875, MLDBiasUM: -1.26, FineMLDBiasUM: 0.44,
		Covered: 0.951, Figures: []proof.FigureSummary{{Figure: "mld_um", Measured: 19, Missing: 1, Bias: -1.26, Covered: 0.947}},
	}
	text := write(s)
	for _, want := range []string{"seed 2026", "19 of 20", "1 of 30", "87.5 % of 8", "-1.3 µm (0.4 µm with", "95.1 %", "94.7 %", "mld_um"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in\n%s", want, text)
		}
	}
	s.FineHoles, s.FineWithin, s.FineMLDBiasUM = 0, 0, 0
	if text := write(s); strings.Contains(text, "% of 0") || strings.Contains(text, "(0.0 µm") || !strings.Contains(text, "no such hole") {
		t.Errorf("a figure of no eye:\n%s", text)
	}
}
