package record

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// monthNames by their names and abbreviations without accents; English, German,
// French, Spanish, Italian, Portuguese, Dutch. From memory.
var monthNames = func() map[string]int {
	names := map[string]int{}
	for i, all := range [12]string{
		"jan january januar janv janvier ene enero gen gennaio janeiro januari",
		"feb february februar fev fevr fevrier febrero febbraio fevereiro februari",
		"mar march mrz marz maerz mars marzo marco mrt maart",
		"apr april avr avril abr abril aprile",
		"may mai mayo mag maggio maio mei",
		"jun june juni juin junio giu giugno junho",
		"jul july juli juil juillet julio lug luglio julho",
		"aug august aou aout ago agosto augustus",
		"sep sept september septembre septiembre set settembre setembro",
		"oct october okt oktober octobre octubre ott ottobre out outubro",
		"nov november novembre noviembre novembro",
		"dec december dez dezember decembre dic diciembre dicembre dezembro",
	} {
		for _, name := range strings.Fields(all) {
			names[name] = i + 1
		}
	}
	return names
}()

// monthByName returns 1 to 12, or 0 for a word that is no month.
func monthByName(word string) int { return monthNames[withoutMarks(word)] }

// withoutMarks takes accents off letters.
func withoutMarks(s string) string {
	return norm.NFC.String(strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return r
	}, norm.NFD.String(s)))
}

// digitValue returns the value of a decimal digit of any script. In the Unicode
// standard the ten digits of a script stand in one run, from zero to nine.
func digitValue(r rune) (int, bool) {
	if r >= '0' && r <= '9' {
		return int(r - '0'), true
	}
	if r < 0x80 || !unicode.Is(unicode.Nd, r) {
		return 0, false
	}
	for _, run := range unicode.Nd.R16 {
		if rune(run.Lo) <= r && r <= rune(run.Hi) {
			return int(r-rune(run.Lo)) % 10, true
		}
	}
	for _, run := range unicode.Nd.R32 {
		if rune(run.Lo) <= r && r <= rune(run.Hi) {
			return int(r-rune(run.Lo)) % 10, true
		}
	}
	return 0, false
}
