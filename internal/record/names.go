package record

import (
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// letterPairs write one letter in more than one way. What both ways fold to is
// the same. From memory; German, Nordic, Slavic, Turkish.
var letterPairs = strings.NewReplacer(
	"ß", "ss", "æ", "ae", "œ", "oe", "ø", "o", "đ", "d", "ð", "d", "þ", "th", "ł", "l", "ı", "i", "ŋ", "n", "ħ", "h",
	"ä", "a", "ö", "o", "ü", "u", "å", "a", "ǆ", "dz", "ĳ", "ij",
)

// umlautPairs undo the spelling of umlauts with e ("Mueller", "Müller") and the
// doubled a ("Aagaard", "Ågård"). They are applied to both sides, so that a name
// that merely has the two letters still equals itself.
var umlautPairs = strings.NewReplacer("ae", "a", "oe", "o", "ue", "u", "aa", "a")

// romanLetters writes Cyrillic and Greek letters in Latin ones, so that a name in
// two scripts can be proposed as the same; a rough rule, from memory, for
// proposals only. Scripts that do not write all sounds are not transcribed.
var romanLetters = map[rune]string{
	'а': "a", 'б': "b", 'в': "v", 'г': "g", 'д': "d", 'е': "e", 'ж': "zh", 'з': "z", 'и': "i", 'к': "k", 'л': "l",
	'м': "m", 'н': "n", 'о': "o", 'п': "p", 'р': "r", 'с': "s", 'т': "t", 'у': "u", 'ф': "f", 'х': "kh", 'ц': "ts",
	'ч': "ch", 'ш': "sh", 'щ': "shch", 'ъ': "", 'ы': "y", 'ь': "", 'э': "e", 'ю': "yu", 'я': "ya", 'і': "i", 'є': "ye", 'ґ': "g",
	'α': "a", 'β': "v", 'γ': "g", 'δ': "d", 'ε': "e", 'ζ': "z", 'η': "i", 'θ': "th", 'ι': "i", 'κ': "k", 'λ': "l",
	'μ': "m", 'ν': "n", 'ξ': "x", 'ο': "o", 'π': "p", 'ρ': "r", 'σ': "s", 'ς': "s", 'τ': "t", 'υ': "y", 'φ': "f", 'χ': "ch", 'ψ': "ps", 'ω': "o",
}

// titles are left out of names. From memory.
var titles = map[string]bool{
	"mr": true, "mrs": true, "ms": true, "miss": true, "dr": true, "prof": true, "sir": true, "herr": true, "frau": true,
	"sr": true, "sra": true, "jr": true, "mme": true, "md": true, "shri": true, "smt": true,
}

// nameWords returns the words of a name, folded and sorted: without case, marks,
// punctuation, titles and order, wide forms made plain, umlauts and ligatures in one
// spelling, Cyrillic and Greek in Latin letters. "MÜLLER, Anne-Sophie" and "Anne
// Sophie Mueller" give the same words.
func nameWords(name string) []string {
	folded := strings.ToLower(norm.NFKC.String(name))
	folded = withoutOptionalMarks(letterPairs.Replace(folded))
	var b strings.Builder
	for _, r := range folded {
		switch latin, foreign := romanLetters[r]; {
		case foreign:
			b.WriteString(latin)
		case unicode.IsLetter(r), unicode.IsMark(r):
			b.WriteRune(r)
		case r == '\'' || r == '’' || r == 'ʼ' || r == '`' || r == 'ʻ':
			// O'Brien is one word
		default:
			b.WriteByte(' ')
		}
	}
	var out []string
	for _, w := range strings.Fields(b.String()) {
		if !titles[w] {
			out = append(out, umlautPairs.Replace(w))
		}
	}
	slices.Sort(out)
	return out
}

// withoutOptionalMarks takes the marks off Latin, Greek, Cyrillic, Arabic and Hebrew
// letters, where names are written with and without them. The marks of other scripts
// are vowels and stay.
func withoutOptionalMarks(s string) string {
	optional := false
	return norm.NFC.String(strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			if optional {
				return -1
			}
			return r
		}
		optional = unicode.In(r, unicode.Latin, unicode.Greek, unicode.Cyrillic, unicode.Arabic, unicode.Hebrew)
		return r
	}, norm.NFD.String(s)))
}

// wordsOf returns the folded words of each way a person is written.
func wordsOf(p *Person) [][]string {
	var out [][]string
	add := func(words []string) {
		if len(words) > 0 && !slices.ContainsFunc(out, func(have []string) bool { return slices.Equal(have, words) }) {
			out = append(out, words)
		}
	}
	for _, n := range p.Names {
		add(nameWords(n.Text))
		add(nameWords(n.Given + " " + n.Family))
	}
	return out
}

// nameMatch says how near two names are.
type nameMatch int

const (
	namesDiffer  nameMatch = iota
	namesShare             // at least one long word in common
	namesInitial           // the same but for initials or missing words
	namesTypo              // the same but for one slip in one word
	namesSame
)

// matchNames takes the nearest of all pairs of writings.
func matchNames(a, b [][]string) nameMatch {
	best := namesDiffer
	for _, x := range a {
		for _, y := range b {
			best = max(best, matchWords(x, y))
		}
	}
	return best
}

func matchWords(a, b []string) nameMatch {
	joinedA, joinedB := strings.Join(a, ""), strings.Join(b, "")
	switch {
	case joinedA == joinedB:
		return namesSame
	case len(a) == len(b) && len(a) > 0 && oneWordSlips(a, b):
		return namesTypo
	case partOf(a, b) || partOf(b, a):
		return namesInitial
	}
	for _, w := range a {
		if len([]rune(w)) >= 3 && slices.Contains(b, w) {
			return namesShare
		}
	}
	return namesDiffer
}

// oneWordSlips reports two lists that hold the same words but one, which differs by
// one slip. The order of the words is free.
func oneWordSlips(a, b []string) bool {
	restA, restB := without(a, b), without(b, a)
	if len(restA) != 1 || len(restB) != 1 {
		return false
	}
	short := min(len([]rune(restA[0])), len([]rune(restB[0])))
	return short >= 4 && oneSlip(restA[0], restB[0]) // one letter of three makes another name
}

// without returns the words of a that b does not have, counting repeats.
func without(a, b []string) []string {
	left := slices.Clone(b)
	var out []string
	for _, w := range a {
		if at := slices.Index(left, w); at >= 0 {
			left = slices.Delete(left, at, at+1)
		} else {
			out = append(out, w)
		}
	}
	return out
}

// partOf reports whether every word of a stands in b in full or as its initial,
// and at least one in full.
func partOf(a, b []string) bool {
	left, full := slices.Clone(b), false
	var initials []string
	for _, w := range a {
		if at := slices.Index(left, w); at >= 0 {
			left = slices.Delete(left, at, at+1)
			full = full || len([]rune(w)) > 1
		} else {
			initials = append(initials, w)
		}
	}
	for _, w := range initials {
		at := slices.IndexFunc(left, func(x string) bool {
			return len([]rune(w)) == 1 && strings.HasPrefix(x, w) || len([]rune(x)) == 1 && strings.HasPrefix(w, x)
		})
		if at < 0 {
			return false
		}
		left = slices.Delete(left, at, at+1)
	}
	return full
}

// oneSlip reports texts that differ by one letter more, less or other, or by two
// neighbours swapped (one operation of the optimal string alignment distance).
func oneSlip(a, b string) bool {
	x, y := []rune(a), []rune(b)
	if len(x) > len(y) {
		x, y = y, x
	}
	if len(y)-len(x) > 1 || string(x) == string(y) {
		return false
	}
	i := 0
	for i < len(x) && x[i] == y[i] {
		i++
	}
	if len(x) < len(y) {
		return string(x[i:]) == string(y[i+1:])
	}
	if string(x[i+1:]) == string(y[i+1:]) {
		return true
	}
	return i+1 < len(x) && x[i] == y[i+1] && x[i+1] == y[i] && string(x[i+2:]) == string(y[i+2:])
}

// plainNumber makes numbers of units and labels comparable: digits of any script as
// ASCII, letters in capitals, nothing else.
func plainNumber(s string) string {
	return strings.ToUpper(strings.Map(func(r rune) rune {
		if v, ok := digitValue(r); ok {
			return '0' + rune(v)
		}
		if unicode.IsLetter(r) {
			return r
		}
		return -1
	}, norm.NFKC.String(s)))
}
