package account

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/secure/precis"

	"limitans/fault"
)

// The rules for a new passphrase follow NIST SP 800-63B-4, section 3.1.1.2
// (https://doi.org/10.6028/NIST.SP.800-63B-4, from memory): at least 15
// characters where the passphrase may be the only factor, at least 64 allowed,
// no rules of composition, no forced change, none of the commonest. The older
// edition, SP 800-63B of 2017, asked for 8.
const (
	// LeastPassphraseCharacters counts Unicode code points after preparation.
	LeastPassphraseCharacters = 15
	// mostPassphraseBytes is far above every sentence; a longer text is refused,
	// never cut.
	mostPassphraseBytes = 1024
	// leastOwnCharacters is how much must be left of a passphrase without its
	// common words, runs and repetitions. This number is this project's own: 8 is
	// what the older edition asked for as a whole.
	leastOwnCharacters = 8
)

// commonText holds the commonest passphrases and the words they are made of,
// one a line. They are from memory of many published lists of leaked
// passwords; no list was copied.
//
//go:embed common.txt
var commonText string

var commonWords = func() []string {
	var words []string
	for line := range strings.Lines(commonText) {
		if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
			words = append(words, squeeze(line))
		}
	}
	// The longest first, so that a word inside another one does not spoil it.
	slices.SortFunc(words, func(a, b string) int { return len(b) - len(a) })
	return words
}()

// prepare brings a passphrase into the one form in which it is hashed: the
// OpaqueString profile of RFC 8265, section 4.2
// (https://doi.org/10.17487/RFC8265), which makes composed and decomposed
// letters and all kinds of spaces equal and keeps everything else.
func prepare(passphrase string) (string, error) {
	if len(passphrase) > mostPassphraseBytes {
		return "", badPassphrase(fmt.Sprintf("it has %d bytes", len(passphrase)), fmt.Sprintf("at most %d", mostPassphraseBytes))
	}
	prepared, err := precis.OpaqueString.String(passphrase)
	if err != nil {
		return "", badPassphrase("it is empty or holds characters that no keyboard makes", "letters, digits, signs and spaces")
	}
	return prepared, nil
}

func badPassphrase(what, expected string) error {
	return &fault.Error{Code: fault.Invalid, Where: "passphrase", What: what, Expected: expected}
}

// CheckPassphrase says why a text cannot be the new passphrase of an account
// with these names (log-in name, shown name, unit), or nothing. The rules are
// the length and that enough of its own is left; see
// LeastPassphraseCharacters.
func CheckPassphrase(passphrase string, names ...string) error {
	prepared, err := prepare(passphrase)
	if err != nil {
		return err
	}
	if n := utf8.RuneCountInString(prepared); n < LeastPassphraseCharacters {
		return badPassphrase(fmt.Sprintf("it has %d characters", n),
			fmt.Sprintf("at least %d; four or five words that do not belong together are easy to keep", LeastPassphraseCharacters))
	}
	rest := squeeze(prepared)
	var own []string
	for _, name := range names {
		for _, part := range strings.FieldsFunc(name, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
			if part = squeeze(part); utf8.RuneCountInString(part) >= 3 {
				own = append(own, part)
			}
		}
	}
	for _, word := range slices.Concat(own, commonWords) {
		rest = strings.ReplaceAll(rest, word, " ")
	}
	if distinctive(rest) < leastOwnCharacters {
		return &fault.Error{
			Code: fault.Invalid, Where: "passphrase",
			What: "it is made of the commonest words, of the account's names, of runs or of repetitions",
			Mend: "add words that nobody would guess",
		}
	}
	return nil
}

// squeeze keeps letters and digits in lower case: "Pass-Word 1" is
// "password1".
func squeeze(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, text)
}

// distinctive counts the characters of a text that neither repeat nor step on
// from the one before (aaaa, 1234, dcba), in the shortest unit that the text
// repeats (abcabc counts as abc).
func distinctive(text string) int {
	runes := []rune(strings.ReplaceAll(text, " ", ""))
	for unit := 1; unit <= len(runes)/2; unit++ {
		if len(runes)%unit == 0 && slices.Equal(runes[unit:], runes[:len(runes)-unit]) {
			runes = runes[:unit]
			break
		}
	}
	count := 0
	for i, r := range runes {
		if i == 0 || (r != runes[i-1] && r != runes[i-1]+1 && r != runes[i-1]-1) {
			count++
		}
	}
	return count
}
