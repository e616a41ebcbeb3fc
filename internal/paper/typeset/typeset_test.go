package typeset

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/font/opentype"
	"pgregory.net/rapid"

	"limitans"
	"limitans/fault"
)

// samples are texts in the scripts that the fonts hold; the names are invented.
var samples = []struct{ script, text string }{
	{"Latin", "Jürgen Ångström-Müller fi 375 ± 8 µm"},
	{"Vietnamese", "Nguyễn Thị Hồng"},
	{"Greek", "Αλέξανδρος Παπαδόπουλος"},
	{"Cyrillic", "Дмитрий Щербаков"},
	{"Devanagari", "अनिता क्षत्रिय शर्मा हिन्दी"},
	{"Arabic", "محمد عبد الرحيم الأحمد لا"},
	{"Persian and Urdu", "پرویز گلچین ٹھاکر"},
	{"Chinese", "王小明歐陽"},
	{"Japanese", "さとう ケンジ"},
	{"Korean", "김민준"},
}

func one(t testing.TB, text string, bold bool) Line {
	t.Helper()
	lines, err := New().Lines([]Span{{text, bold}}, Style{}, NoWrap)
	if err != nil {
		t.Fatal(err)
	}
	if len(lines) != 1 {
		t.Fatalf("%d lines of %q", len(lines), text)
	}
	return lines[0]
}

// logical is the text of lines in the order in which it is read: clusters of a
// right-to-left run stand in reverse.
func logical(lines []Line) string {
	var out strings.Builder
	for _, line := range lines {
		for i := 0; i < len(line.Clusters); {
			end := i
			for end < len(line.Clusters) && line.Clusters[end].RightToLeft == line.Clusters[i].RightToLeft {
				end++
			}
			run := slices.Clone(line.Clusters[i:end])
			if line.Clusters[i].RightToLeft {
				slices.Reverse(run)
			}
			for _, c := range run {
				out.WriteString(c.Text)
			}
			i = end
		}
	}
	return out.String()
}

// Every sample is set whole, in both weights, from fonts that hold it.
func TestScriptsAreSet(t *testing.T) {
	for _, s := range samples {
		for _, bold := range []bool{false, true} {
			line := one(t, s.text, bold)
			if got := logical([]Line{line}); got != s.text {
				t.Errorf("%s: %q came out of %q", s.script, got, s.text)
			}
			for _, c := range line.Clusters {
				if bold && !c.Embolden && !strings.HasSuffix(c.Face.Name, "-Bold") {
					t.Errorf("%s: %q is not bold, but %s", s.script, c.Text, c.Face.Name)
				}
			}
		}
	}
}

// What Unicode says of these scripts (The Unicode Standard 15, chapters 9.2 and
// 12.1): Arabic letters take joined forms and lam with alef one glyph; the vowel
// sign i of Devanagari stands before its consonant; ksha is one syllable.
func TestScriptsAreShaped(t *testing.T) {
	apart, joined := one(t, "م ح م د", false), one(t, "محمد", false)
	var a, b []uint16
	for _, c := range apart.Clusters {
		if c.Text != " " {
			a = append(a, c.Glyphs[0].ID)
		}
	}
	for _, c := range joined.Clusters {
		b = append(b, c.Glyphs[0].ID)
	}
	if slices.Equal(a, b) {
		t.Error("Arabic letters are not joined")
	}
	if !joined.Clusters[0].RightToLeft || joined.Clusters[0].Text != "د" {
		t.Errorf("an Arabic word begins at the left with %q", joined.Clusters[0].Text)
	}
	if l := one(t, "لا", false); len(l.Clusters) != 1 || len(l.Clusters[0].Glyphs) != 1 {
		t.Errorf("lam and alef are %+v", l.Clusters)
	}
	k, ki := one(t, "क", false), one(t, "कि", false)
	if last := ki.Clusters[0].Glyphs[len(ki.Clusters[0].Glyphs)-1].ID; len(ki.Clusters) != 1 || last != k.Clusters[0].Glyphs[0].ID {
		t.Errorf("the vowel sign does not stand before the consonant: %+v", ki.Clusters)
	}
	if l := one(t, "क्ष", false); len(l.Clusters) != 1 || len(l.Clusters[0].Glyphs) != 1 {
		t.Errorf("ksha is %+v", l.Clusters)
	}
}

// The figures of a face are all of one width, so that columns stand straight.
func TestFiguresAreTabular(t *testing.T) {
	for _, bold := range []bool{false, true} {
		width := one(t, "0", bold).Width
		for d := range 10 {
			if w := one(t, fmt.Sprint(d), bold).Width; w != width {
				t.Errorf("figure %d is %g wide, 0 is %g", d, w, width)
			}
		}
	}
}

// A name keeps what follows it on its right side, whatever its script.
func TestIsolatedNamesTurnNothing(t *testing.T) {
	line := one(t, Isolate("محمد")+" · 9 Jan 1960", false)
	if last := line.Clusters[len(line.Clusters)-1]; last.Text != "0" {
		t.Errorf("the line ends with %q", last.Text)
	}
	if got := logical([]Line{line}); got != "محمد · 9 Jan 1960" {
		t.Errorf("%q", got)
	}
	if Isolate("") != "" {
		t.Error("nothing was isolated")
	}
	style := Style{Language: "ar", RightToLeft: true}
	lines, err := New().Lines([]Span{{Text: "محمد (" + Isolate("SF6") + ", " + Isolate("20 %") + ")"}}, style, NoWrap)
	if err != nil {
		t.Fatal(err)
	}
	var seen strings.Builder
	for _, c := range lines[0].Clusters {
		seen.WriteString(c.Text)
	}
	// From the left: the share in its own order, then the gas, then the word.
	if got := seen.String(); got != ")20 % ,SF6( دمحم" {
		t.Errorf("%q", got)
	}
	lines, err = New().Lines([]Span{{Text: Isolate("Anna Berg") + " محمد"}}, style, NoWrap)
	if err != nil || lines[0].Clusters[0].Text != "د" {
		t.Errorf("%+v, %v", lines, err)
	}
}

func TestWhatCannotBeSetIsAFault(t *testing.T) {
	for _, c := range []struct {
		text string
		code fault.Code
	}{
		{"Anna 🧿", fault.Unsupported},
		{"สมชาย", fault.Unsupported},
		{"שרה", fault.Unsupported},
		{"தமிழ்", fault.Unsupported},
		{"Anna\u202e1960", fault.Invalid},
		{"Anna\u2067", fault.Invalid},
		{"A\x00", fault.Invalid},
		{"A\u009b", fault.Invalid},
	} {
		if lines, err := New().Lines([]Span{{Text: c.text}}, Style{}, NoWrap); fault.CodeOf(err) != c.code || lines != nil {
			t.Errorf("%q: %v", c.text, err)
		}
	}
	if _, err := New().Lines([]Span{{Text: "a"}}, Style{}, 0); fault.CodeOf(err) != fault.Internal {
		t.Errorf("no width: %v", err)
	}
	for _, empty := range []string{"", "  \t\n"} {
		if lines, err := New().Lines([]Span{{Text: empty}}, Style{}, NoWrap); err != nil || len(lines) > 1 {
			t.Errorf("%q: %v, %v", empty, lines, err)
		}
	}
}

// Wrapping loses no letter and keeps the width, whatever the scripts; a cluster
// wider than the line is the only thing that may stand out.
func TestWrappingKeepsEveryLetter(t *testing.T) {
	words := []string{"macula", "12.5", "µm", "(22", "to", "33)", "अनिता", "शर्मा", "王小明", "김민준", "Παπαδόπουλος", "a-b", "x"}
	s := New()
	rapid.Check(t, func(t *rapid.T) {
		var spans []Span
		var want []string
		for range rapid.IntRange(1, 4).Draw(t, "spans") {
			picked := rapid.SliceOfN(rapid.SampledFrom(words), 1, 12).Draw(t, "words")
			want = append(want, picked...)
			spans = append(spans, Span{strings.Join(picked, " ") + " ", rapid.Bool().Draw(t, "bold")})
		}
		width := rapid.Float64Range(300, 40000).Draw(t, "width")
		lines, err := s.Lines(spans, Style{}, width)
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.TrimSpace(logical(lines)); strings.ReplaceAll(got, " ", "") != strings.Join(want, "") {
			t.Fatalf("%q came out of %q", got, want)
		}
		for _, line := range lines {
			visible := 0
			for _, c := range line.Clusters {
				if c.Text != " " {
					visible++
				}
			}
			if line.Width > width+0.1 && visible > 1 {
				t.Fatalf("%q is %g wide, more than %g", logical([]Line{line}), line.Width, width)
			}
		}
	})
}

// Setters of several goroutines share the fonts and give the same lines.
func TestSettersWorkSideBySide(t *testing.T) {
	want := one(t, samples[4].text, false).Width
	var group sync.WaitGroup
	for range 4 {
		group.Go(func() {
			for _, s := range samples {
				lines, err := New().Lines([]Span{{Text: s.text}}, Style{}, 9000)
				if err != nil || len(lines) == 0 {
					t.Errorf("%s: %v", s.script, err)
				}
			}
			if lines, err := New().Lines([]Span{{Text: samples[4].text}}, Style{}, NoWrap); err != nil || lines[0].Width != want {
				t.Errorf("%v, %v", lines, err)
			}
		})
	}
	group.Wait()
}

// The glyphs of a subset have the outlines and widths of the face.
func TestSubsetKeepsOutlines(t *testing.T) {
	for _, s := range samples {
		line := one(t, s.text, false)
		face := line.Clusters[len(line.Clusters)-1].Face
		glyphs := []uint16{0}
		for _, c := range line.Clusters {
			for _, g := range c.Glyphs {
				if c.Face == face && !slices.Contains(glyphs, g.ID) {
					glyphs = append(glyphs, g.ID)
				}
			}
		}
		data, err := face.Subset(glyphs)
		if err != nil {
			t.Fatal(err)
		}
		if len(data) > 60000 {
			t.Errorf("%s: %d bytes for %d glyphs", s.script, len(data), len(glyphs))
		}
		loader, err := opentype.NewLoader(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		hmtx, loca := table(t, loader, "hmtx"), table(t, loader, "loca")
		if len(loca) < 4*(len(glyphs)+1) || len(hmtx) < 4*len(glyphs) {
			t.Fatalf("%s: tables too short", s.script)
		}
		whole := font.NewFace(face.font)
		for i, g := range glyphs {
			if got, want := float64(uint16At(hmtx, 4*i))*1000/face.upem, face.Width(g); got != want {
				t.Errorf("%s: glyph %d is %g wide, want %g", s.script, g, got, want)
			}
			if _, is := whole.GlyphData(font.GID(g)).(font.GlyphOutline); !is {
				t.Errorf("%s: glyph %d has no outline", s.script, g)
			}
		}
	}
	f := &Face{Name: "x", tables: map[string][]byte{}}
	if _, err := f.Subset([]uint16{0}); fault.CodeOf(err) != fault.Internal {
		t.Errorf("a font without tables: %v", err)
	}
	if err := eachPart([]byte{0xff, 0xff, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0x20, 0}, func(int) {}); err == nil {
		t.Error("a composite glyph that is cut off passed")
	}
}

func table(t *testing.T, loader *opentype.Loader, tag string) []byte {
	t.Helper()
	data, err := loader.RawTable(opentype.MustNewTag(tag))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// TestGlyphsAreThoseOfHarfBuzz compares glyphs and advances with hb-shape
// (Debian package libharfbuzz-bin), the program that the shaping port follows.
func TestGlyphsAreThoseOfHarfBuzz(t *testing.T) {
	if _, err := exec.LookPath("hb-shape"); err != nil {
		if os.Getenv("LIMITANS_ORACLES") == "required" {
			t.Fatal("hb-shape is not installed")
		}
		t.Skip("hb-shape is not installed")
	}
	folder := t.TempDir()
	for _, s := range samples {
		for _, word := range strings.Fields(s.text) {
			line := one(t, word, false)
			face := line.Clusters[0].Face
			file := filepath.Join(folder, face.Name+".ttf")
			if _, err := os.Stat(file); err != nil {
				writeFace(t, face, file)
			}
			out, err := exec.Command("hb-shape", "--output-format=json", "--no-glyph-names", "--font-size=upem", file, word).Output()
			if err != nil {
				t.Fatal(err)
			}
			var want []struct {
				G  int `json:"g"`
				AX int `json:"ax"`
				DX int `json:"dx"`
				DY int `json:"dy"`
			}
			if err := json.Unmarshal(out, &want); err != nil {
				t.Fatal(err)
			}
			var got []Glyph
			for _, c := range line.Clusters {
				got = append(got, c.Glyphs...)
			}
			if len(got) != len(want) {
				t.Errorf("%s, %q: %d glyphs, HarfBuzz %d", s.script, word, len(got), len(want))
				continue
			}
			// Shaped at 1000 units the em: half a unit of rounding in 1/64 units.
			for i, g := range got {
				k := 1000 / face.upem
				if int(g.ID) != want[i].G || !near(g.Advance, float64(want[i].AX)*k) || !near(g.DX, float64(want[i].DX)*k) || !near(g.DY, float64(want[i].DY)*k) {
					t.Errorf("%s, %q: glyph %d is %+v, HarfBuzz %+v", s.script, word, i, g, want[i])
				}
			}
		}
	}
}

func near(a, b float64) bool { return a-b < 0.6 && b-a < 0.6 }

// writeFace writes the whole font as a file for another program.
func writeFace(t *testing.T, face *Face, file string) {
	t.Helper()
	for _, source := range regular {
		if faceName(source.file) != face.Name {
			continue
		}
		data, err := readSource(source.file)
		if err != nil {
			t.Fatal(err)
		}
		loaders, err := opentype.NewLoaders(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		loader := loaders[0]
		tags := loader.Tables()
		slices.Sort(tags)
		var tables []opentype.Table
		for _, tag := range tags {
			content, err := loader.RawTable(tag)
			if err != nil {
				t.Fatal(err)
			}
			tables = append(tables, opentype.Table{Tag: tag, Content: padded(content)})
		}
		if err := os.WriteFile(file, opentype.WriteTTF(tables), 0o600); err != nil {
			t.Fatal(err)
		}
		return
	}
	t.Fatalf("no file for %s", face.Name)
}

// Every font has its licence beside it and its line in README.md.
func TestFontsHaveLicences(t *testing.T) {
	readme, err := os.ReadFile("fonts/README.md")
	if err != nil {
		t.Fatal(err)
	}
	entries, err := os.ReadDir("fonts")
	if err != nil {
		t.Fatal(err)
	}
	fonts := 0
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), "LICENSE") {
			if !bytes.Contains(readme, []byte("`"+e.Name()+"`")) {
				t.Errorf("%s is not in README.md", e.Name())
			}
			continue
		}
		if e.Name() == "README.md" {
			continue
		}
		fonts++
		family, _, _ := strings.Cut(e.Name(), "-")
		family, _, _ = strings.Cut(family, ".")
		if !bytes.Contains(readme, []byte("`"+family)) {
			t.Errorf("%s is not in README.md", e.Name())
		}
	}
	if fonts != len(regular)+len(bold)-1 {
		t.Errorf("%d font files", fonts)
	}
}

// Every licence beside the fonts stands in the notices that the program shows.
func TestLicencesAreInTheNotices(t *testing.T) {
	licences, err := filepath.Glob("fonts/LICENSE*")
	if err != nil || len(licences) != 2 {
		t.Fatalf("%v, %v", licences, err)
	}
	for _, file := range licences {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, line := range strings.Split(string(text), "\n") {
			if line = strings.TrimRight(line, " \t"); !strings.Contains(limitans.ThirdPartyNotices, line) {
				t.Errorf("%s: %q is not in THIRD_PARTY_NOTICES.md; run scripts/notices", file, line)
			}
		}
	}
}
