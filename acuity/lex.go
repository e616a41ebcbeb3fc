package acuity

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

type tokenKind int

const (
	wordToken tokenKind = iota
	numberToken
	symbolToken
)

type token struct {
	kind  tokenKind
	text  string // as normalised
	fold  string // word without case and accents
	num   float64
	space bool // white space before it
	bad   bool // number that is none: two points, too many digits
}

func (t token) is(symbol string) bool { return t.kind == symbolToken && t.text == symbol }

// integer reports whether the number was written without a decimal mark.
func (t token) integer() bool {
	return t.kind == numberToken && !strings.ContainsAny(t.text, ".,")
}

// leadingZero reports "020", "06", "070", but not "0" or "0.3".
func (t token) leadingZero() bool {
	return t.kind == numberToken && len(t.text) > 1 && t.text[0] == '0' && isDigit(t.text[1])
}

// maxDigits is far above anything an acuity needs and keeps numbers exact.
const maxDigits = 12

func isDigit(b byte) bool { return b >= '0' && b <= '9' }

// slashWords are abbreviations written with a slash; the slash is no fraction.
var slashWords = []string{"n/a", "n/r", "n/t", "n/d", "w/o", "s/d", "c/ph", "w/ph", "w/", "f/f", "c/o", "u/a"}

func lex(s string) []token {
	var out []token
	space := false
	for i := 0; i < len(s); {
		r, size := utf8.DecodeRuneInString(s[i:])
		switch {
		case r == ' ':
			space = true
			i++
			continue
		case numberStarts(s, i):
			t, end := lexNumber(s, i)
			if end == i { // the comma of ",6/9" separates
				t, end = token{kind: symbolToken, text: s[i : i+1]}, i+1
			}
			t.space = space
			out = append(out, t)
			i = end
		case unicode.IsLetter(r):
			t, end := lexWord(s, i)
			t.space = space
			out = append(out, t)
			i = end
		default:
			out = append(out, token{kind: symbolToken, text: s[i : i+size], space: space})
			i += size
		}
		space = false
	}
	return out
}

// numberStarts tells digits, ".3" and, at the beginning of the text, ",3".
func numberStarts(s string, i int) bool {
	if isDigit(s[i]) {
		return true
	}
	mark := s[i] == '.' && (i == 0 || !isDigit(s[i-1])) || s[i] == ',' && i == 0
	return mark && i+1 < len(s) && isDigit(s[i+1])
}

// lexNumber reads digits with one decimal point or comma. A comma that is
// followed by the numerator of a fraction ("6/9,6/12") separates.
func lexNumber(s string, i int) (token, int) {
	end := i
	for end < len(s) && isDigit(s[end]) {
		end++
	}
	if end+1 < len(s) && (s[end] == '.' || s[end] == ',') && isDigit(s[end+1]) {
		after := end + 1
		for after < len(s) && isDigit(s[after]) {
			after++
		}
		rest := strings.TrimLeft(s[after:], " ")
		if s[end] != ',' || !strings.HasPrefix(rest, "/") {
			end = after
		}
	}
	t := token{kind: numberToken, text: s[i:end]}
	if end < len(s)-1 && s[end] == '.' && (isDigit(s[end+1]) || s[end+1] == '.') && strings.Contains(t.text, ".") {
		t.bad = true // 1.2.3
	}
	if end < len(s)-2 && s[end] == '.' && s[end+1] == '.' && isDigit(s[end+2]) {
		t.bad = true // 0..3
	}
	value, err := strconv.ParseFloat(strings.Replace(t.text, ",", ".", 1), 64)
	if err != nil || len(t.text) > maxDigits {
		t.bad = true
	}
	t.num = value
	return t, end
}

func lexWord(s string, i int) (token, int) {
	end := i
	for end < len(s) {
		r, size := utf8.DecodeRuneInString(s[end:])
		if !unicode.IsLetter(r) && !unicode.Is(unicode.M, r) {
			// dots inside an abbreviation: c.c., h.m.
			next, _ := utf8.DecodeRuneInString(s[min(end+1, len(s)):])
			if r == '.' && end+1 < len(s) && unicode.IsLetter(next) && (end-i == 1 || s[end-2] == '.') {
				end += size
				continue
			}
			break
		}
		end += size
	}
	low := strings.ToLower(s[i:])
	for _, w := range slashWords {
		if !strings.HasPrefix(low, w) || len(w) <= end-i {
			continue
		}
		next, _ := utf8.DecodeRuneInString(low[len(w):])
		if strings.HasSuffix(w, "/") || !unicode.IsLetter(next) && !unicode.IsDigit(next) {
			end = i + len(w)
			break
		}
	}
	text := s[i:end]
	if end < len(s) && s[end] == '.' && (strings.Contains(text, ".") || utf8.RuneCountInString(text) == 1) {
		end++ // the last dot of an abbreviation
	}
	return token{kind: wordToken, text: text, fold: strings.ReplaceAll(fold(text), ".", "")}, end
}
