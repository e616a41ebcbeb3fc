package demo

import (
	"fmt"
	"math/rand/v2"

	"limitans/internal/record"
)

// Place is where the invented unit stands.
const Place = "Harbour Eye Unit, Port Selvane (invented)"

// Staff is one invented member of the unit.
type Staff struct {
	Account record.AccountID
	Name    string
	Role    string // the role's name as accounts have it
}

// The staff of the unit.
const (
	firstSurgeon  record.AccountID = "demo-surgeon-1"
	secondSurgeon record.AccountID = "demo-surgeon-2"
	fellow        record.AccountID = "demo-fellow"
	scrubNurse    record.AccountID = "demo-theatre-1"
	secondNurse   record.AccountID = "demo-theatre-2"
	clinicNurse   record.AccountID = "demo-clinic"
	auditLead     record.AccountID = "demo-audit"
	administrator record.AccountID = "demo-admin"
)

// People returns the staff of the unit.
func People() []Staff {
	return []Staff{
		{firstSurgeon, "Ottoline Madeup", "surgeon"},
		{secondSurgeon, "Casimir Fablewick", "surgeon"},
		{fellow, "Ines Storyfield", "surgeon"},
		{scrubNurse, "Bela Pretendson", "theatre"},
		{secondNurse, "Marit Nowhere", "theatre"},
		{clinicNurse, "Tobias Inventley", "clinic"},
		{auditLead, "Yara Figment", "auditor"},
		{administrator, "Per Fictional", "administrator"},
	}
}

var (
	givenNames = []string{
		"Adelind", "Balthasar", "Corisande", "Dorotea", "Evander", "Fenella", "Gideon", "Hesper", "Isolde", "Jorun",
		"Kasimir", "Leocadia", "Mirabel", "Nestor", "Odile", "Perpetua", "Quentin", "Rosalba", "Sunniva", "Tancred",
		"Ulrika", "Valentin", "Wilhelma", "Xaver", "Ysolde", "Zenobia",
	}
	familyFirst = []string{
		"Fable", "Story", "Invent", "Pretend", "Figment", "Fancy", "Makebelieve", "Tale", "Dream", "Legend",
		"Imagin", "Notreal", "Puppet", "Riddle", "Phantom", "Mirage", "Paper", "Stage", "Mask", "Nobody",
	}
	familyLast = []string{"wick", "ley", "son", "field", "worth", "by", "stead", "mere", "holt", "brook", "croft", "combe", "dale", "ham", "thorpe"}
	// otherScripts are names that mean "invented" in their own writing.
	otherScripts = []record.PersonName{
		{Text: "कल्पना मनगढ़ंत", Given: "कल्पना", Family: "मनगढ़ंत", Use: record.NameOfficial},
		{Text: "خيال الوهمي", Given: "خيال", Family: "الوهمي", Use: record.NameOfficial},
		{Text: "虚构人", Given: "构人", Family: "虚", Use: record.NameOfficial},
		{Text: "Выдумка Небылицына", Given: "Выдумка", Family: "Небылицына", Use: record.NameOfficial},
		{Text: "Øvind Påfunn-Åsgård", Given: "Øvind", Family: "Påfunn-Åsgård", Use: record.NameOfficial},
	}
)

// otherScriptEvery: one patient in so many is written in another script.
const otherScriptEvery = 23

// inventedName makes the name of patient number n.
func inventedName(rng *rand.Rand, n int) record.PersonName {
	if n%otherScriptEvery == 7 {
		return otherScripts[(n/otherScriptEvery)%len(otherScripts)]
	}
	given := givenNames[rng.IntN(len(givenNames))]
	family := familyFirst[rng.IntN(len(familyFirst))] + familyLast[rng.IntN(len(familyLast))]
	return record.PersonName{Text: given + " " + family, Given: given, Family: family, Use: record.NameOfficial}
}

// unitNumber is the unit's own number of patient n, with the leading zeros that
// spreadsheets lose.
func unitNumber(n int) string { return fmt.Sprintf("%07d", 1000+n*7) }
