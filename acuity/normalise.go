package acuity

import (
	"strings"
	"unicode"
)

// normalise maps the glyphs people type onto the few the reader knows: digits
// of every script to ASCII, full-width forms to ASCII, all dashes to '-', all
// arrows to '→', all slashes to '/', superscripts behind a sign to digits.
// Invisible format characters go. The raw text is kept elsewhere.
func normalise(text string) string {
	text = arrowsAndQuotes.Replace(text)
	var b strings.Builder
	b.Grow(len(text))
	last := rune(0)
	put := func(r rune) { b.WriteRune(r); last = r }
	for _, r := range text {
		if r >= 0xFF01 && r <= 0xFF5E { // full-width forms
			r -= 0xFEE0
		}
		switch {
		case r < unicode.MaxASCII && r >= ' ':
			if r == '\\' {
				r = '/'
			}
			put(r)
		case unicode.Is(unicode.Nd, r):
			put('0' + digitValue(r))
		case isDash(r):
			put('-')
		case isArrow(r):
			put('→')
		case superscripts[r] != 0:
			// "6/9²" must not become 6/92: a raised digit counts only behind a sign.
			if last != '-' && last != '+' {
				put('^')
			}
			put(superscripts[r])
		case fractions[r] != "":
			if last < '0' || last > '9' {
				b.WriteByte('0')
			}
			b.WriteString(fractions[r])
			last = '5'
		case glyphs[r] != 0:
			put(glyphs[r])
		case r == '\n' || r == '\r' || r == '\u2028' || r == '\u2029':
			put(';')
		case unicode.IsSpace(r):
			put(' ')
		case unicode.Is(unicode.Cf, r), unicode.IsControl(r), r >= 0x0300 && r <= 0x036F:
			// invisible, or an accent written apart; words are compared without accents
		default:
			put(r)
		}
	}
	return strings.TrimSpace(b.String())
}

var arrowsAndQuotes = strings.NewReplacer(
	"-->", "→", "->", "→", "==>", "→", "=>", "→", ">>", "→", "''", `"`, "′′", `"`, "’’", `"`,
)

// digitValue returns 0 to 9 for a rune of category Nd. Unicode assigns decimal
// digits in runs of ten that begin with zero.
func digitValue(r rune) rune {
	for _, t := range unicode.Nd.R16 {
		if rune(t.Lo) <= r && r <= rune(t.Hi) {
			return (r - rune(t.Lo)) % 10
		}
	}
	for _, t := range unicode.Nd.R32 {
		if rune(t.Lo) <= r && r <= rune(t.Hi) {
			return (r - rune(t.Lo)) % 10
		}
	}
	return 0
}

func isDash(r rune) bool {
	switch r {
	case 0x2043, 0x2212, 0xFE58, 0xFE63, 0x02D7, 0x207B, 0x208B, 0x2796:
		return true
	}
	return r >= 0x2010 && r <= 0x2015
}

func isArrow(r rune) bool {
	switch r {
	case '→', '⇒', '➔', '➜', '➝', '➞', '⟶', '⟹', '⇨', '➡', '↦', '▶', '►', '↠', '⭢':
		return true
	}
	return false
}

var superscripts = map[rune]rune{
	'⁰': '0', '¹': '1', '²': '2', '³': '3', '⁴': '4', '⁵': '5', '⁶': '6', '⁷': '7', '⁸': '8', '⁹': '9',
}

var fractions = map[rune]string{'½': ".5", '¼': ".25", '¾': ".75", '⅓': ".333", '⅔': ".667"}

var glyphs = map[rune]rune{
	'〇': '0', '⁺': '+', '₊': '+', '➕': '+', '⁄': '/', '∕': '/', '⧸': '/', '٫': '.', '·': '.', '、': ',', '،': ',', '٬': ',',
	'؛': ';', '٪': '%', '′': '\'', '’': '\'', '‘': '\'', '″': '"', '“': '"', '”': '"', '。': '.', '〜': '~', '≈': '~',
	'≤': '<', '≥': '>', '؟': '?',
}

// fold lowers a word and takes its accents off.
func fold(word string) string {
	return accents.Replace(strings.ToLower(word))
}

var accents = strings.NewReplacer(
	"á", "a", "à", "a", "â", "a", "ã", "a", "ä", "a", "å", "a", "ç", "c", "é", "e", "è", "e", "ê", "e", "ë", "e",
	"í", "i", "ì", "i", "î", "i", "ï", "i", "ı", "i", "ñ", "n", "ó", "o", "ò", "o", "ô", "o", "õ", "o", "ö", "o",
	"ú", "u", "ù", "u", "û", "u", "ü", "u", "ß", "ss", "ş", "s", "ğ", "g", "ż", "z", "ś", "s", "ł", "l",
)
