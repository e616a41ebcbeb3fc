package pdf_test

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"image"
	"image/color"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/unicode/norm"

	"limitans/fault"
	"limitans/internal/figure/scene"
	"limitans/internal/paper/pdf"
	"limitans/internal/paper/typeset"
)

var ink = scene.Opaque(0x101010)

// names are invented, in the scripts of the fonts.
var names = []string{
	"Jürgen Ångström-Müller", "अनिता क्षत्रिय शर्मा", "محمد عبد الرحيم الأحمد", "王小明", "Αλέξανδρος", "Дмитрий", "Nguyễn Thị Hồng", "김민준",
	"375 ± 8 µm (367 to 383) fi",
}

// setter sets one line, as the sheets do.
func setter(t testing.TB) pdf.TextSetter {
	s := typeset.New()
	return func(text string, bold bool) (typeset.Line, error) {
		lines, err := s.Lines([]typeset.Span{{Text: text, Bold: bold}}, typeset.Style{}, typeset.NoWrap)
		if err != nil || len(lines) == 0 {
			return typeset.Line{}, err
		}
		return lines[0], nil
	}
}

// sample is a file with all that can be drawn.
func sample(t testing.TB) []byte {
	t.Helper()
	set := setter(t)
	f := pdf.New(pdf.Info{Title: "Ünder (test)", Language: "en", Made: time.Date(2026, 11, 25, 14, 5, 0, 0, time.UTC)})
	p := f.Page(595, 842)
	for i, n := range names {
		for k, bold := range []bool{false, true} {
			line, err := set(n, bold)
			if err != nil {
				t.Fatal(err)
			}
			p.Text(40+float64(k)*280, 60+float64(i)*30, line, 14, ink)
		}
	}
	grey := image.NewGray(image.Rect(0, 0, 4, 4))
	grey.Set(1, 1, color.Gray{200})
	tinted := image.NewNRGBA(image.Rect(0, 0, 2, 2))
	tinted.Set(0, 0, color.NRGBA{200, 10, 10, 128})
	s := &scene.Scene{Name: "s", Width: 200, Height: 100}
	s.Add(&scene.Group{Name: "g", Nodes: []scene.Node{
		&scene.Image{Rect: scene.Rect{X: 0, Y: 0, Width: 50, Height: 50}, Pixels: grey},
		&scene.Image{Rect: scene.Rect{X: 60, Y: 0, Width: 50, Height: 50}, Pixels: tinted},
		&scene.Image{Rect: scene.Rect{X: 120, Y: 0, Width: 50, Height: 50}, Pixels: grey},
		scene.Disc(scene.Point{X: 100, Y: 50}, 20, ink.Opacity(0.5), scene.Stroke{Colour: ink, Width: 2, Dash: []float64{3, 2}, Round: true}),
		&scene.Path{Subpaths: []scene.Subpath{{Points: []scene.Point{{X: 5, Y: 5}}}}, Stroke: scene.Stroke{Colour: ink, Width: 3, Round: true}},
		&scene.Text{At: scene.Point{X: 100, Y: 90}, Value: "upright 12.5 mL", Size: 10, Anchor: scene.Middle, Colour: ink, Halo: scene.Opaque(0xffffff)},
		&scene.Text{At: scene.Point{X: 190, Y: 90}, Value: "turned 33 µm", Size: 10, Anchor: scene.End, Colour: ink, AngleDeg: -90},
	}})
	p.Scene(s, 40, 500, 1.5, set)
	p = f.Page(612, 792)
	line, err := set("second page 77", true)
	if err != nil {
		t.Fatal(err)
	}
	p.Text(40, 40, line, 12, ink)
	data, err := f.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// The cross-reference table leads to every object, and streams unpack (ISO
// 32000-1, sections 7.5.4 and 7.3.8).
func TestFileIsSound(t *testing.T) {
	data := sample(t)
	tail := regexp.MustCompile(`startxref\n(\d+)\n%%EOF\n$`).FindSubmatch(data)
	if !bytes.HasPrefix(data, []byte("%PDF-1.7\n")) || tail == nil {
		t.Fatal("head or tail is missing")
	}
	start, err := strconv.Atoi(string(tail[1]))
	if err != nil || !bytes.HasPrefix(data[start:], []byte("xref\n0 ")) {
		t.Fatalf("no table at %d", start)
	}
	entries := regexp.MustCompile(`(?m)^(\d{10}) 00000 n $`).FindAllSubmatch(data[start:], -1)
	if len(entries) < 10 {
		t.Fatalf("%d objects", len(entries))
	}
	for i, e := range entries {
		at, err := strconv.Atoi(string(e[1]))
		if err != nil || !bytes.HasPrefix(data[at:], fmt.Appendf(nil, "%d 0 obj\n", i+1)) {
			t.Errorf("object %d is not at %d", i+1, at)
		}
	}
	streams := 0
	for _, m := range regexp.MustCompile(`/Length (\d+)>>\nstream\n`).FindAllSubmatchIndex(data, -1) {
		length, err := strconv.Atoi(string(data[m[2]:m[3]]))
		if err != nil || !bytes.HasPrefix(data[m[1]+length:], []byte("\nendstream")) {
			t.Fatalf("stream at %d does not end where it says", m[0])
		}
		z, err := zlib.NewReader(bytes.NewReader(data[m[1] : m[1]+length]))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.ReadAll(z); err != nil {
			t.Fatal(err)
		}
		streams++
	}
	if streams < 8 {
		t.Errorf("%d streams", streams)
	}
}

func TestSameCallsGiveSameBytes(t *testing.T) {
	if !bytes.Equal(sample(t), sample(t)) {
		t.Error("two files differ")
	}
}

// TestTextIsFound reads the file with poppler's pdftotext and pdfinfo: every
// name, number and turned text is there, lam-alef as one compatible letter.
func TestTextIsFound(t *testing.T) {
	if _, err := exec.LookPath("pdftotext"); err != nil {
		if os.Getenv("LIMITANS_ORACLES") == "required" {
			t.Fatal("pdftotext is not installed")
		}
		t.Skip("pdftotext is not installed")
	}
	file := filepath.Join(t.TempDir(), "sample.pdf")
	if err := os.WriteFile(file, sample(t), 0o600); err != nil {
		t.Fatal(err)
	}
	var complaints bytes.Buffer
	command := exec.Command("pdftotext", "-layout", file, "-")
	command.Stderr = &complaints
	out, err := command.Output()
	if err != nil || complaints.Len() > 0 {
		t.Fatalf("%v: %s", err, &complaints)
	}
	said := norm.NFKC.String(string(out))
	for _, n := range append(names, "upright 12.5 mL", "turned 33 µm", "second page 77") {
		if want := norm.NFKC.String(n); strings.Count(said, want) < 1 {
			t.Errorf("%q is not in\n%s", want, said)
		}
	}
	info, err := exec.Command("pdfinfo", file).CombinedOutput()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Ünder (test)", "Pages:           2", "Nov 25 14:05:00 2026"} {
		if !strings.Contains(string(info), want) {
			t.Errorf("%q is not in\n%s", want, info)
		}
	}
}

func TestDefectsAreFaults(t *testing.T) {
	set := setter(t)
	for name, draw := range map[string]func(*pdf.Page){
		"no number":  func(p *pdf.Page) { p.Path(scene.Line(scene.Stroke{Colour: ink, Width: 1}, scene.Point{X: math.NaN()})) },
		"no picture": func(p *pdf.Page) { p.Image(scene.Rect{Width: 1, Height: 1}, image.NewGray(image.Rect(0, 0, 0, 0))) },
		"nil":        func(p *pdf.Page) { p.Image(scene.Rect{Width: 1, Height: 1}, nil) },
	} {
		f := pdf.New(pdf.Info{})
		draw(f.Page(100, 100))
		if data, err := f.Bytes(); fault.CodeOf(err) != fault.Internal || data != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	f := pdf.New(pdf.Info{})
	s := &scene.Scene{Width: 1, Height: 1, Nodes: []scene.Node{&scene.Text{Value: "🧿", Size: 1, Colour: ink}}}
	f.Page(100, 100).Scene(s, 0, 0, 1, set)
	if _, err := f.Bytes(); fault.CodeOf(err) != fault.Unsupported {
		t.Errorf("a letter without a glyph: %v", err)
	}
	if _, err := pdf.New(pdf.Info{}).Bytes(); fault.CodeOf(err) != fault.Internal {
		t.Errorf("no page: %v", err)
	}
	f = pdf.New(pdf.Info{})
	f.Page(0, 100)
	if _, err := f.Bytes(); fault.CodeOf(err) != fault.Internal {
		t.Errorf("a page without size: %v", err)
	}
}
