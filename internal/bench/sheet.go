package bench

import (
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"limitans/estimate"
	"limitans/internal/caution"
	"limitans/tamponade"
)

// Sheet is an answer as people read it, from top to bottom. Its parts say what
// they are, so that a terminal and a page can each set them in their own way.
type Sheet struct {
	Title string
	Parts []Part
	// label and text are the widths of the columns of lines on a terminal.
	label, text int
}

// Part is a stretch of a sheet under one title, which may be empty.
type Part struct {
	Title string
	Lines []Line   // labelled lines
	Steps []string // in the order in which they are done
	Items []string // points of a list
	Head  []string // names of the columns of Rows; may be empty
	Rows  [][]string
}

// Line is one labelled text. Notes below it say error and source.
type Line struct {
	Label, Text string
	Notes       []string
	// Signal is "stop", "caution" or "note" where the line must be seen first.
	Signal string
}

// newSheet begins a sheet; widths are those of the terminal.
func newSheet(title string) *Sheet { return &Sheet{Title: title, label: 16, text: 80} }

// part begins a part.
func (s *Sheet) part(title string) *Part {
	s.Parts = append(s.Parts, Part{Title: title})
	return &s.Parts[len(s.Parts)-1]
}

// last is the part that lines go to; lists and tables stand in parts of their own.
func (s *Sheet) last() *Part {
	if n := len(s.Parts); n > 0 {
		if p := &s.Parts[n-1]; p.Steps == nil && p.Items == nil && p.Rows == nil {
			return p
		}
	}
	return s.part("")
}

// line adds a labelled text; one without a label is a note of the line before.
func (s *Sheet) line(label, text string) {
	p := s.last()
	if n := len(p.Lines); label == "" && n > 0 {
		p.Lines[n-1].Notes = append(p.Lines[n-1].Notes, text)
		return
	}
	p.Lines = append(p.Lines, Line{Label: label, Text: text})
}

// signal adds a line that must be seen first.
func (s *Sheet) signal(kind, label, text string) {
	s.line(label, text)
	p := s.last()
	p.Lines[len(p.Lines)-1].Signal = kind
}

// figure adds a value with its interval, and its error as a note.
func (s *Sheet) figure(label, format string, e estimate.Estimate, unit string) {
	s.line(label, banded(format, e, unit))
	if e.Known() {
		s.line("", "error: "+e.Basis)
	}
}

// list adds a part of points; empty texts are left out.
func (s *Sheet) list(title string, texts []string) {
	p := s.part(title)
	for _, text := range texts {
		if text != "" {
			p.Items = append(p.Items, text)
		}
	}
	if p.Items == nil {
		p.Items = []string{}
	}
}

// warnings adds a part of warnings with their sources; none adds nothing.
func (s *Sheet) warnings(title string, warnings []tamponade.Warning) {
	if len(warnings) == 0 {
		return
	}
	texts := make([]string, len(warnings))
	for i, w := range warnings {
		texts[i] = w.Text + " [" + w.Source + "]"
	}
	s.list(title, texts)
}

// steps adds the part of what is done in order; none adds nothing.
func (s *Sheet) steps(texts []string) {
	if len(texts) > 0 {
		s.part("Steps").Steps = texts
	}
}

// table adds a part of rows.
func (s *Sheet) table(title string, head []string, rows [][]string) {
	p := s.part(title)
	p.Head, p.Rows = head, rows
}

// cautions ends every sheet.
func (s *Sheet) cautions() { s.list("Cautions", caution.Full()) }

// First are the lines with a signal, in their order.
func (s *Sheet) First() []Line {
	var out []Line
	for _, p := range s.Parts {
		for _, l := range p.Lines {
			if l.Signal != "" {
				out = append(out, l)
			}
		}
	}
	return out
}

// WriteText writes the sheet for a terminal.
func (s *Sheet) WriteText(w io.Writer) error {
	var b strings.Builder
	b.WriteString(s.Title + "\n")
	for i, p := range s.Parts {
		if p.Title != "" {
			if p.Items == nil || i > 0 && s.Parts[i-1].Items == nil {
				b.WriteString("\n")
			}
			b.WriteString(p.Title + "\n")
		}
		for _, l := range p.Lines {
			s.writeLine(&b, l.Label, l.Text)
			for _, n := range l.Notes {
				s.writeLine(&b, "", n)
			}
		}
		for i, step := range p.Steps {
			fmt.Fprintf(&b, "  %d. %s\n", i+1, strings.Join(wrapped(step, 94), "\n     "))
		}
		for _, item := range p.Items {
			b.WriteString("  - " + strings.Join(wrapped(item, 96), "\n    ") + "\n")
		}
		writeRows(&b, p)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (s *Sheet) writeLine(b *strings.Builder, label, text string) {
	for i, part := range wrapped(text, s.text) {
		if i > 0 {
			label = ""
		}
		fmt.Fprintf(b, "  %-*s %s\n", s.label, label, part)
	}
}

// writeRows sets the columns of a table below each other, two spaces apart.
func writeRows(b *strings.Builder, p Part) {
	rows := p.Rows
	if len(p.Head) > 0 {
		rows = append([][]string{p.Head}, rows...)
	}
	var widths []int
	for _, row := range rows {
		for i, cell := range row {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	for _, row := range rows {
		var line strings.Builder
		for i, cell := range row {
			fmt.Fprintf(&line, "  %-*s", widths[i], cell)
		}
		b.WriteString(strings.TrimRight(line.String(), " ") + "\n")
	}
}

// banded writes a value with its interval; a missing one says why.
func banded(format string, e estimate.Estimate, unit string) string {
	if !e.Known() {
		return "not computed: " + e.Basis
	}
	if math.IsNaN(e.High) {
		return fmt.Sprintf(format, e.Value) + " " + unit + fmt.Sprintf(" ("+format+" to no limit)", e.Low)
	}
	return fmt.Sprintf(format, e.Value) + " " + unit + fmt.Sprintf(" ("+format+" to "+format+")", e.Low, e.High)
}

// threeDigits rounds to three significant digits and writes no exponent for
// large numbers, which people read wrongly.
func threeDigits(v float64) string {
	if v < 1000 {
		return fmt.Sprintf("%.3g", v)
	}
	unit := math.Pow(10, math.Floor(math.Log10(v))-2)
	return fmt.Sprintf("%.0f", math.Round(v/unit)*unit)
}

// wrapped breaks a text into lines of at most width runes, between words.
func wrapped(text string, width int) []string {
	var lines []string
	line, long := "", 0
	for _, word := range strings.Fields(text) {
		n := len([]rune(word))
		if long > 0 && long+1+n > width {
			lines, line, long = append(lines, line), "", 0
		}
		if long > 0 {
			line, long = line+" ", long+1
		}
		line, long = line+word, long+n
	}
	return append(lines, line)
}
