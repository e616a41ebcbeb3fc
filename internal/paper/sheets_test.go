package paper_test

import (
	"bytes"
	"fmt"
	"html"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"golang.org/x/text/unicode/norm"

	"limitans/fault"
	"limitans/internal/caution"
	"limitans/internal/paper"
)

// documented is any input of a sheet.
type documented interface {
	Document() (*paper.Document, error)
}

// sheets are all sheets of one person, with the pages that each may take.
func sheets(t testing.TB, who int) map[string]documented {
	return map[string]documented{
		"theatre": theatre(t, who), "mixing": mixing(t, who), "kit": kit(who), "leaflet": leaflet(t, who), "card": card(who), "oil leaflet": oil(who),
	}
}

var pagesOf = map[string]int{"theatre": 1, "mixing": 1, "kit": 1, "leaflet": 3, "card": 1, "oil leaflet": 2}

func oil(who int) paper.Leaflet {
	return paper.Leaflet{Common: common(who), Filling: paper.Filling{Oil: true}, Posture: paper.HeadPosture{Posture: "free"}}
}

func document(t testing.TB, d documented) *paper.Document {
	t.Helper()
	return must[*paper.Document](t)(d.Document())
}

func pdfOf(t testing.TB, d documented, size paper.Size) []byte {
	t.Helper()
	return must[[]byte](t)(document(t, d).PDF(size))
}

func pageOf(t testing.TB, d documented) string {
	t.Helper()
	return string(must[[]byte](t)(document(t, d).HTML(paper.A4, "/sheet.css")))
}

// pages counts the pages of a PDF file.
func pages(data []byte) int { return bytes.Count(data, []byte("/Type/Page/")) }

// Every sheet, with every name, on both papers: as many pages as designed, the
// same bytes twice.
func TestSheetsTakeTheirPagesAndTheSameBytes(t *testing.T) {
	for who := range people {
		for name, s := range sheets(t, who) {
			for _, size := range []paper.Size{paper.A4, paper.Letter} {
				first := pdfOf(t, s, size)
				if got := pages(first); got != pagesOf[name] {
					t.Errorf("%s of %s on %s takes %d pages, not %d", name, people[who].Name, size, got, pagesOf[name])
				}
				if who == 0 && !bytes.Equal(first, pdfOf(t, s, size)) {
					t.Errorf("%s on %s: two files differ", name, size)
				}
				if len(first) > 400_000 {
					t.Errorf("%s on %s has %d bytes", name, size, len(first))
				}
			}
		}
	}
}

var (
	tags    = regexp.MustCompile(`(?s)<(?:head|title|desc|svg|figure)\b.*?</(?:head|title|desc|svg|figure)>|<[^>]*>`)
	numbers = regexp.MustCompile(`\d+(?:\.\d+)?`)
)

// textOf is what a reader sees of a page.
func textOf(page string) string { return html.UnescapeString(tags.ReplaceAllString(page, " ")) }

// squeezed is a text without spaces, marks of direction and compatible forms, so
// that line ends do not matter.
func squeezed(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == ' ' || r == '\n' || r == '\t' || r == '\f' || r == '\r', r == '\u00a0', r >= '\u202a' && r <= '\u202e', r >= '\u2066' && r <= '\u2069':
			return -1
		}
		return r
	}, norm.NFKC.String(text))
}

// extracted reads a PDF file with poppler's pdftotext.
func extracted(t *testing.T, data []byte) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(file, data, 0o600); err != nil {
		t.Fatal(err)
	}
	var complaints bytes.Buffer
	command := exec.Command("pdftotext", file, "-")
	command.Stderr = &complaints
	out, err := command.Output()
	if err != nil || complaints.Len() > 0 {
		t.Fatalf("%v: %s", err, &complaints)
	}
	return string(out)
}

// TestPDFSaysWhatThePageSays: pdftotext finds every number and every word of the
// print page in the PDF file, the name in its script, the side and the cautions.
func TestPDFSaysWhatThePageSays(t *testing.T) {
	if _, err := exec.LookPath("pdftotext"); err != nil {
		if os.Getenv("LIMITANS_ORACLES") == "required" {
			t.Fatal("pdftotext is not installed")
		}
		t.Skip("pdftotext is not installed")
	}
	for who := range people {
		for name, s := range sheets(t, who) {
			said := extracted(t, pdfOf(t, s, paper.Size(who%2)))
			compact := squeezed(said)
			page := textOf(pageOf(t, s))
			found := numbers.FindAllString(page, -1)
			if len(found) < 8 {
				t.Fatalf("%s: only %d numbers", name, len(found))
			}
			for _, n := range found {
				if !regexp.MustCompile(`(^|[^\d.])` + regexp.QuoteMeta(n) + `($|[^\d])`).MatchString(said) {
					t.Errorf("%s of %s: number %s is not in the PDF", name, people[who].Name, n)
				}
			}
			for _, word := range strings.Fields(page) {
				if strings.ContainsAny(word, "_\u2068\u2069") {
					continue // blanks; names are looked for below
				}
				if !strings.Contains(compact, squeezed(word)) {
					t.Errorf("%s of %s: %q is not in the PDF", name, people[who].Name, word)
				}
			}
			for _, want := range []string{people[who].Name, people[who].OtherName, strings.ToUpper(common(who).Side.String()) + " EYE", caution.Short(), "Page 1 of "} {
				if !strings.Contains(compact, squeezed(want)) {
					t.Errorf("%s of %s: %q is not in the PDF:\n%s", name, people[who].Name, want, said)
				}
			}
			repeats := pagesOf[name] * 2 // head and foot of every page
			if got := strings.Count(compact, squeezed(people[who].Name)); got < repeats {
				t.Errorf("%s of %s: the name stands %d times on %d pages", name, people[who].Name, got, pagesOf[name])
			}
		}
	}
}

// furniture are what a PDF says of its own pages, which a print page has not.
var furniture = regexp.MustCompile(`Page \d+ of \d+(, continues on the next page)?|\(continued\)`)

// drawn takes out what of a page is no text to a reader.
var drawn = regexp.MustCompile(`(?s)<(?:head|title|desc)\b.*?</(?:head|title|desc)>|<[^>]*>`)

// TestPageSaysWhatThePDFSays is the other direction: every number and every word of
// the PDF file stands on the print page, its pictures included.
func TestPageSaysWhatThePDFSays(t *testing.T) {
	if _, err := exec.LookPath("pdftotext"); err != nil {
		if os.Getenv("LIMITANS_ORACLES") == "required" {
			t.Fatal("pdftotext is not installed")
		}
		t.Skip("pdftotext is not installed")
	}
	all := sheets(t, 0)
	all["mixing by hand"] = byHand(t)
	unknown := card(0)
	unknown.Phone = paper.Telephone{Day: "01632 960 142"}
	all["card without a number for the night"] = unknown
	for name, s := range all {
		page := squeezed(html.UnescapeString(drawn.ReplaceAllString(pageOf(t, s), " ")))
		words := strings.Fields(furniture.ReplaceAllString(extracted(t, pdfOf(t, s, paper.A4)), " "))
		if len(words) < 60 {
			t.Fatalf("%s: only %d words", name, len(words))
		}
		for _, word := range words {
			if ordinal.MatchString(word) || word == "!" || word == "i" {
				continue // counted and drawn by the browser
			}
			if !strings.Contains(page, squeezed(word)) {
				t.Errorf("%s: %q of the PDF is not on the page", name, word)
			}
		}
	}
}

// ordinal is the number of an item.
var ordinal = regexp.MustCompile(`^\d{1,2}\.$`)

// A sheet for nobody yet has the recipe of one for somebody, lines for the patient
// and both sides to tick; half a patient is refused.
func TestMixingSheetToFillInByHand(t *testing.T) {
	blank, whole := pageOf(t, byHand(t)), pageOf(t, mixing(t, 0))
	for _, want := range []string{"FOR NOBODY YET", `<span class="tick"></span>RIGHT EYE`, `<span class="tick"></span>LEFT EYE`, "<p>Name</p>", "<p>Born</p>", "<p>Number</p>", "________ eye"} {
		if !strings.Contains(blank, want) {
			t.Errorf("%q is not on the page", want)
		}
	}
	for _, not := range []string{people[0].Name, "not told", "as the patient faces you"} {
		if strings.Contains(blank, not) {
			t.Errorf("%q is on the page", not)
		}
	}
	of := func(page string) string { _, body, _ := strings.Cut(page, `class="sheet-body"`); return body }
	for _, n := range numbers.FindAllString(textOf(of(blank)), -1) {
		if !strings.Contains(of(whole), n) {
			t.Errorf("the number %s is on the blank sheet alone", n)
		}
	}
	for _, size := range []paper.Size{paper.A4, paper.Letter} {
		if got := pages(pdfOf(t, byHand(t), size)); got != 1 {
			t.Errorf("%d pages on %s", got, size)
		}
	}
	half := byHand(t)
	half.Side = 1
	if _, err := half.Document(); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("half a patient: %v", err)
	}
}

func byHand(t testing.TB) paper.Mixing {
	t.Helper()
	m := mixing(t, 0)
	m.ByHand, m.Version = true, paper.Version{}
	m.Common = paper.Common{Unit: m.Common.Unit, Made: m.Made}
	return m
}

// What is not told of the telephone is a line to write on, and nothing is invented.
func TestTelephoneThatIsNotTold(t *testing.T) {
	for name, c := range map[string]struct {
		phone paper.Telephone
		lines int // to write on, leaflet and card each
		says  []string
	}{
		"both":        {paper.Telephone{Day: "01632 960 142", Night: "01632 960 199"}, 0, []string{"01632 960 142", "01632 960 199", "by day", "at night|nights"}},
		"one for all": {paper.Always("01632 960 142"), 0, []string{"01632 960 142"}},
		"day alone":   {paper.Telephone{Day: "01632 960 142"}, 1, []string{"01632 960 142", "at night|nights"}},
		"night alone": {paper.Telephone{Night: "01632 960 199"}, 1, []string{"01632 960 199", "by day"}},
		"none":        {paper.Telephone{}, 1, nil},
	} {
		l, k := leaflet(t, 0), card(0)
		l.Phone, k.Phone = c.phone, c.phone
		for sheet, page := range map[string]string{"leaflet": pageOf(t, l), "card": pageOf(t, k)} {
			page = strings.ReplaceAll(page, "\u00a0", " ")
			for _, want := range c.says {
				if !regexp.MustCompile(want).MatchString(page) {
					t.Errorf("%s, %s: no %q", name, sheet, want)
				}
			}
			got := len(regexp.MustCompile(`<p class="write"></p>`).FindAllString(page, -1)) / 2 // two cards
			if sheet == "leaflet" {
				got = len(regexp.MustCompile(`<p>Call[^<]*:</p>`).FindAllString(page, -1))
			}
			if got != c.lines {
				t.Errorf("%s, %s: %d lines to write on, want %d", name, sheet, got, c.lines)
			}
			if strings.Contains(page, "01632") != (len(c.says) > 0) {
				t.Errorf("%s, %s: a number was invented or lost", name, sheet)
			}
		}
	}
}

// A page has no script, no style of its own and nothing from elsewhere, so that
// it can be served with the policy of internal/web.
func TestPagesKeepAStrictPolicy(t *testing.T) {
	bad := regexp.MustCompile(`(?i)<script|<style|\sstyle\s*=|\son[a-z]+\s*=|javascript:|@import|https?://`)
	for name, s := range sheets(t, 2) {
		page := strings.ReplaceAll(strings.ReplaceAll(pageOf(t, s), "http://www.w3.org/2000/svg", ""), "http://www.w3.org/1999/xlink", "")
		if at := bad.FindStringIndex(page); at != nil {
			t.Errorf("%s: %q", name, page[at[0]:min(len(page), at[1]+60)])
		}
		for _, want := range []string{`<link rel="stylesheet" href="/sheet.css">`, `class="sheet paper-a4"`, `<bdi>` + people[2].Name + `</bdi>`, "RIGHT EYE"} {
			if !strings.Contains(page, want) {
				t.Errorf("%s: no %s", name, want)
			}
		}
		part := string(must[[]byte](t)(document(t, s).Fragment(paper.Letter)))
		if strings.Contains(part, "<html") || !strings.HasPrefix(part, `<article class="sheet paper-letter"`) {
			t.Errorf("%s: the fragment begins with %.80q", name, part)
		}
	}
	if at := bad.FindIndex(paper.Stylesheet); at != nil {
		t.Errorf("the stylesheet holds %q", paper.Stylesheet[at[0]:at[1]])
	}
	sizes := regexp.MustCompile(`\b(?:pt\d[\d-]*|scale-\d+)\b`)
	for name, s := range sheets(t, 0) {
		for _, class := range sizes.FindAllString(pageOf(t, s), -1) {
			if !bytes.Contains(paper.Stylesheet, []byte("."+class+" {")) {
				t.Errorf("%s: letters of %s have no rule", name, class)
			}
		}
	}
	fonts := must[map[string][]byte](t)(paper.FontFiles())
	named := regexp.MustCompile(`url\("sheet-fonts/([^"]+)"\)`).FindAllSubmatch(paper.Stylesheet, -1)
	if len(named) != len(fonts) || len(fonts) != 6 {
		t.Errorf("%d fonts named, %d there", len(named), len(fonts))
	}
	for _, n := range named {
		if !bytes.HasPrefix(fonts[string(n[1])], []byte("wOFF")) {
			t.Errorf("no font %s", n[1])
		}
	}
	hostile := common(0)
	hostile.Patient.Name = `<script>alert("1")</script>`
	k := kit(0)
	k.Common = hostile
	if page := pageOf(t, k); strings.Contains(page, "<script") || !strings.Contains(page, "&lt;script&gt;") {
		t.Error("a name became markup")
	}
}

// A sheet that has more to say goes on on a second page, and says so on the
// first; not a word is lost.
func TestLongSheetsGoOn(t *testing.T) {
	s := theatre(t, 1)
	for i := range 22 {
		s.Steps = append(s.Steps, fmt.Sprintf("Added step %d with some words so that it takes a line or two of the column.", i))
	}
	data := pdfOf(t, s, paper.Letter)
	if pages(data) != 2 {
		t.Errorf("%d pages", pages(data))
	}
	page := pageOf(t, s)
	for i := range 22 {
		if !strings.Contains(page, fmt.Sprintf("Added step %d with", i)) {
			t.Errorf("step %d is not on the page", i)
		}
	}
	if _, err := exec.LookPath("pdftotext"); err != nil {
		if os.Getenv("LIMITANS_ORACLES") == "required" {
			t.Fatal("pdftotext is not installed")
		}
		t.Skip("pdftotext is not installed")
	}
	said := squeezed(extracted(t, data))
	for i := range 22 {
		if !strings.Contains(said, fmt.Sprintf("Addedstep%dwith", i)) {
			t.Errorf("step %d is not in the PDF", i)
		}
	}
	for _, want := range []string{"Page1of2,continuesonthenextpage", "Steps(continued)", "Page2of2"} {
		if !strings.Contains(said, want) {
			t.Errorf("%q is not in the PDF", want)
		}
	}
}
