package main

import (
	"fmt"
	"strings"
)

// sheetText sets labelled lines and lists below each other.
type sheetText struct{ b *strings.Builder }

func (t sheetText) line(label, text string) {
	for i, part := range wrapped(text, 80) {
		if i > 0 {
			label = ""
		}
		fmt.Fprintf(t.b, "  %-16s %s\n", label, part)
	}
}

func (t sheetText) list(title string, texts []string) {
	t.b.WriteString(title + "\n")
	for _, text := range texts {
		if text != "" {
			t.b.WriteString("  - " + strings.Join(wrapped(text, 96), "\n    ") + "\n")
		}
	}
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
