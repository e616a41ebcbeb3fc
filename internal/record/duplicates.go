package record

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Duplicate proposes that two persons are one. It is a question to a person;
// nothing is merged by it.
type Duplicate struct {
	A, B    ID       // A is the smaller one
	Score   int      // points of 100, no probability
	Reasons []string // what is alike
	Against []string // what speaks against it
}

// Points of the score; the sum is kept within 0 to 100 for the reader's sake and
// has no meaning as a probability. Ours, no source. proposeFrom is the least sum
// that is proposed: a name alone, or a birth date alone, is not enough; the same
// number alone is, for two persons cannot have it.
const (
	pointsName       = 45
	pointsNameTypo   = 35
	pointsNamePart   = 30
	pointsNameShare  = 12
	pointsBirth      = 35
	pointsBirthNear  = 25
	pointsBirthYear  = 10
	pointsNumber     = 45
	pointsNumberZero = 30
	pointsNumberTypo = 20
	pointsIdentifier = 50
	againstBirth     = 35
	againstName      = 25
	proposeFrom      = 55
)

// largestBlock bounds how many persons are compared with each other because they
// share one key; a key that more share (a very common name) says too little.
const largestBlock = 500

// ProposeDuplicates compares persons and returns the pairs that may be one, best
// first. Only pairs that share a birth date (also with day and month swapped or one
// digit off), a unit number (also without leading zeros or with one digit off), an
// identifier or a whole name are looked at. Struck persons, and pairs for which
// apart tells that a person has already decided, are left out. apart may be nil.
//
// The result does not depend on the order of the persons.
func ProposeDuplicates(persons []*Person, apart func(a, b ID) bool) []Duplicate {
	all := standing(persons)
	slices.SortFunc(all, func(a, b *Person) int { return cmp.Compare(a.ID, b.ID) })
	profiles := make([]profile, len(all))
	blocks := map[uint64][]int32{} // by the hash of a key; a collision costs a comparison
	for i, p := range all {
		profiles[i] = profileOf(p)
		for _, key := range profiles[i].keys() {
			h := hashOf(key)
			blocks[h] = append(blocks[h], int32(i))
		}
	}
	seen := map[[2]int32]bool{}
	var out []Duplicate
	for _, block := range blocks {
		if len(block) > largestBlock {
			continue
		}
		for i, a := range block {
			for _, b := range block[i+1:] {
				pair := [2]int32{min(a, b), max(a, b)}
				if a == b || seen[pair] {
					continue
				}
				seen[pair] = true
				x, y := all[pair[0]], all[pair[1]]
				if x.ID == y.ID || apart != nil && (apart(x.ID, y.ID) || apart(y.ID, x.ID)) {
					continue
				}
				if d := compareProfiles(&profiles[pair[0]], &profiles[pair[1]]); d.Score >= proposeFrom {
					d.A, d.B = x.ID, y.ID
					out = append(out, d)
				}
			}
		}
	}
	slices.SortFunc(out, func(a, b Duplicate) int {
		return cmp.Or(cmp.Compare(b.Score, a.Score), cmp.Compare(a.A, b.A), cmp.Compare(a.B, b.B))
	})
	return out
}

// hashOf is the 64-bit FNV-1a hash.
func hashOf(s string) uint64 {
	const offset, prime = 14695981039346656037, 1099511628211
	h := uint64(offset)
	for i := range len(s) {
		h = (h ^ uint64(s[i])) * prime
	}
	return h
}

// CompareTwo scores two persons whatever their sum. It is symmetrical but for the
// order of A and B, which is that of the IDs.
func CompareTwo(a, b *Person) Duplicate {
	if b.ID < a.ID {
		a, b = b, a
	}
	x, y := profileOf(a), profileOf(b)
	d := compareProfiles(&x, &y)
	d.A, d.B = a.ID, b.ID
	return d
}

// shortestTypo is the shortest number in which one other digit is called a slip; the
// numbers of small units lie too close together.
const shortestTypo = 4

// profile is what of a person is compared.
type profile struct {
	names       [][]string
	birth       Date
	number      string // as plain as plainNumber makes it
	identifiers map[string]string
}

func profileOf(p *Person) profile {
	out := profile{names: wordsOf(p), birth: p.BirthDate, number: plainNumber(p.UnitNumber), identifiers: map[string]string{}}
	for _, id := range p.Identifiers {
		if v := plainNumber(id.Value); v != "" {
			out.identifiers[strings.ToLower(strings.TrimSpace(id.System))] = v
		}
	}
	return out
}

func (p *profile) keys() []string {
	var out []string
	add := func(kind, text string) {
		if key := kind + text; text != "" && !slices.Contains(out, key) {
			out = append(out, key)
		}
	}
	for _, words := range p.names {
		add("name ", strings.Join(words, ""))
		for _, w := range words {
			if len([]rune(w)) >= 3 && p.birth.Known() {
				add("word ", fmt.Sprintf("%s %d", w, p.birth.Year))
			}
		}
	}
	if p.birth.Full() && !p.birth.Relative {
		b := p.birth
		small, large := min(b.Day, b.Month), max(b.Day, b.Month)
		add("birth ", fmt.Sprintf("%d %d %d", b.Year, small, large)) // whichever is the month
		for _, words := range p.names {
			for _, w := range words { // the year one digit off
				add("word and day ", fmt.Sprintf("%s %d %d", w, small, large))
			}
		}
	}
	if n := strings.TrimLeft(p.number, "0"); n != "" {
		add("number ", n)
		for _, less := range lessOne(n) {
			if p.birth.Known() && !p.birth.Relative { // a name with a slip and nothing else in common
				add("year and number ", fmt.Sprintf("%d %s", p.birth.Year, less))
			}
			for _, words := range p.names {
				for _, w := range words { // neighbouring numbers are many; they say something only beside a name
					// One slip spares the beginning or the end of a word.
					if letters := []rune(w); len(letters) >= 3 {
						add("word's beginning and number ", string(letters[:3])+" "+less)
						add("word's end and number ", string(letters[len(letters)-3:])+" "+less)
					}
				}
			}
		}
	}
	for system, v := range p.identifiers {
		add("identifier ", system+" "+v)
	}
	return out
}

// lessOne returns a number and the number without each one of its places: numbers that
// differ by one digit more, less, other or swapped have one of these in common. Short
// numbers give none.
func lessOne(number string) []string {
	runes := []rune(number)
	if len(runes) < shortestTypo {
		return nil
	}
	out := []string{number}
	for i := range runes {
		out = append(out, string(runes[:i])+string(runes[i+1:]))
	}
	return out
}

func compareProfiles(a, b *profile) Duplicate {
	var d Duplicate
	sum, one := 0, false // one: a number says that it must be the same person
	like := func(points int, why string) { sum += points; d.Reasons = append(d.Reasons, why) }
	unlike := func(points int, why string) { sum -= points; d.Against = append(d.Against, why) }
	switch matchNames(a.names, b.names) {
	case namesSame:
		like(pointsName, "same name but for order, marks or script")
	case namesTypo:
		like(pointsNameTypo, "same name but for one letter")
	case namesInitial:
		like(pointsNamePart, "same name but for initials or missing words")
	case namesShare:
		like(pointsNameShare, "a name in common")
	default:
		if len(a.names) > 0 && len(b.names) > 0 {
			unlike(againstName, "other names")
		}
	}
	compareBirth(a.birth, b.birth, like, unlike)
	compareNumbers(a.number, b.number, like, unlike)
	for _, system := range sortedKeys(a.identifiers) {
		if v, both := b.identifiers[system]; both {
			if v == a.identifiers[system] {
				like(pointsIdentifier, "same number of "+system)
				one = true
			} else {
				unlike(pointsIdentifier, "other number of "+system)
			}
		}
	}
	if one || a.number != "" && a.number == b.number && strings.Trim(a.number, "0") != "" {
		sum = max(sum, proposeFrom)
	}
	d.Score = min(max(sum, 0), 100)
	return d
}

func sortedKeys(m map[string]string) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

func compareBirth(a, b Date, like, unlike func(int, string)) {
	if !a.Known() || !b.Known() || a.Relative || b.Relative {
		return
	}
	whole := a.Full() && b.Full()
	switch {
	case whole && a.ISO() == b.ISO():
		like(pointsBirth, "same birth date")
	case whole && a.Year == b.Year && a.Month == b.Day && a.Day == b.Month:
		like(pointsBirthNear, "same birth date with day and month swapped")
	case whole && oneSlip(a.ISO(), b.ISO()):
		like(pointsBirthNear, "birth dates differ by one digit")
	case !whole && !a.CertainlyBefore(b) && !b.CertainlyBefore(a):
		like(pointsBirthYear, "birth dates agree as far as they are known")
	default:
		unlike(againstBirth, "other birth dates")
	}
}

// compareNumbers looks at the numbers of the unit. A lost leading zero counts less
// than the same number: it needs name or birth date beside it (hard case 29).
func compareNumbers(a, b string, like, unlike func(int, string)) {
	bareA, bareB := strings.TrimLeft(a, "0"), strings.TrimLeft(b, "0")
	switch {
	case bareA == "" || bareB == "":
	case a == b:
		like(pointsNumber, "same unit number")
	case bareA == bareB:
		like(pointsNumberZero, "same unit number but for leading zeros")
	case len([]rune(bareA)) >= shortestTypo && len([]rune(bareB)) >= shortestTypo && oneSlip(bareA, bareB):
		like(pointsNumberTypo, "unit numbers differ by one digit")
	default:
		unlike(0, "other unit numbers")
	}
}
