package store

import (
	"context"
	"sort"
	"strings"
	"unicode"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"

	"limitans/internal/record"
)

// whole writes letters that Unicode does not take apart in the letters they
// are typed as where the keyboard has none. From memory: Nordic, Slavic, Turkish.
var whole = strings.NewReplacer("æ", "ae", "œ", "oe", "ø", "o", "đ", "d", "ð", "d", "þ", "th", "ł", "l", "ı", "i", "ŋ", "n", "ħ", "h")

// fold brings a text to the form in which it is searched: compatibility forms
// taken apart (Unicode NFKD), case folded, digits of all scripts as ASCII, and
// marks left out where names are written with and without them (Latin, Greek,
// Cyrillic, Arabic, Hebrew; the marks of other scripts are vowels and stay). So
// STRASSE finds Straße and ozturk finds Öztürk.
func fold(text string) string {
	folded := whole.Replace(norm.NFKD.String(cases.Fold().String(norm.NFKD.String(text))))
	optional := false
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.Is(unicode.Mn, r):
			if optional {
				return -1
			}
			return r
		case unicode.Is(unicode.Nd, r):
			r = digit(r)
		}
		optional = unicode.In(r, unicode.Latin, unicode.Greek, unicode.Cyrillic, unicode.Arabic, unicode.Hebrew)
		return r
	}, folded)
}

// digit is the ASCII digit of a decimal digit of any script. The digits of a
// script stand together from zero to nine (Unicode standard, section 4.6; from
// memory), and a range of category Nd holds whole sets of ten.
func digit(r rune) rune {
	for _, range16 := range unicode.Nd.R16 {
		if r >= rune(range16.Lo) && r <= rune(range16.Hi) {
			return '0' + (r-rune(range16.Lo))%10
		}
	}
	for _, range32 := range unicode.Nd.R32 {
		if r >= rune(range32.Lo) && r <= rune(range32.Hi) {
			return '0' + (r-rune(range32.Lo))%10
		}
	}
	return r
}

// words cuts a folded text at white space and punctuation. The characters that
// stand inside numbers and names ("12-345", "O'Neill") cut too: each part is
// found, and a search for the whole is a search for all its parts.
func words(text string) []string {
	return strings.FieldsFunc(fold(text), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !unicode.IsMark(r) })
}

// lotKey is a lot number as it is compared in a recall: letters and digits
// alone, folded, because a hyphen, a space or small letters on one label must
// not hide an eye.
func lotKey(lot string) string { return strings.Join(words(lot), "") }

// suffix is one end of a word.
type suffix struct {
	inside bool // not the whole word
	text   string
}

// suffixesOf lists the ends of all words by which a person is found: names,
// unit number, identifiers. Each one stands once; the order is fixed.
func suffixesOf(p *record.Person) []suffix {
	texts := []string{p.UnitNumber}
	for _, n := range p.Names {
		texts = append(texts, n.Text, n.Family, n.Given)
	}
	for _, i := range p.Identifiers {
		texts = append(texts, i.Value)
	}
	seen := map[suffix]bool{}
	for _, text := range texts {
		for _, word := range words(text) {
			for at := range word {
				seen[suffix{at > 0, word[at:]}] = true
			}
		}
	}
	all := make([]suffix, 0, len(seen))
	for s := range seen {
		all = append(all, s)
	}
	sort.Slice(all, func(i, j int) bool {
		if all[i].inside != all[j].inside {
			return all[j].inside
		}
		return all[i].text < all[j].text
	})
	return all
}

// deriveSearch writes the ends of a person's words anew. A struck-out person is
// not found.
func (tx *Tx) deriveSearch(ctx context.Context, p *record.Person, struck bool) error {
	var number int64
	if err := tx.queryRow(ctx, queries["person number"], string(p.ID)).Scan(&number); err != nil {
		return err
	}
	if _, err := tx.exec(ctx, queries["forget suffixes"], number); err != nil {
		return err
	}
	if struck {
		return nil
	}
	all := suffixesOf(p)
	const rowsAtOnce = 64 // parameters of one statement stay far below both engines' limits
	for len(all) > 0 {
		n := min(len(all), rowsAtOnce)
		args := make([]any, 0, 3*n)
		for _, s := range all[:n] {
			args = append(args, flag(s.inside), s.text, number)
		}
		query := queries["add suffixes"] + strings.TrimSuffix(strings.Repeat("(?, ?, ?), ", n), ", ")
		if _, err := tx.exec(ctx, query, args...); err != nil {
			return err
		}
		all = all[n:]
	}
	return nil
}

// after is the least text that comes after every text which begins with prefix,
// in the order of bytes, which for UTF-8 is that of characters: its last
// character that has a next one, one up.
func after(prefix string) string {
	runes := []rune(prefix)
	for i := len(runes) - 1; i >= 0; i-- {
		next := runes[i] + 1
		if next == 0xd800 {
			next = 0xe000 // no characters between
		}
		if next <= unicode.MaxRune {
			return string(runes[:i]) + string(next)
		}
	}
	return string(unicode.MaxRune)
}
