package decide

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"limitans/estimate"
	"limitans/fault"
	"limitans/oct/hole"
)

// leastShown is the probability from which a row that hangs on the size is shown
// (common practice, no source).
const leastShown = 0.05

// readingSDUM is the standard deviation of one reading by a person, 31/(1.96·√2)
// = 11 µm, on which the table's limits rest (Baumann et al., Transl Vis Sci
// Technol 2021;10(13), full-text excerpt; see [hole.RealChangeUM]).
const readingSDUM = hole.RealChangeUM / (estimate.Z95 * math.Sqrt2)

// asked is one question to the table.
type asked struct {
	tables
	findings Findings
	unit     Unit
	known    facts
	limits   limits
	size     estimate.Estimate
	rules    []Rule // for this condition
	worlds   []world
	chosen   int // the world that counts
	goneDays map[string]estimate.Estimate
}

// world is a range of sizes in which every row either holds or does not.
type world struct {
	SizeRange
	known  facts
	places map[string]placed
	order  []string // codes
}

// placed is the place of an option and the row that gave it.
type placed struct {
	place Place
	row   Rule
}

// Decide asks the table for the options of an eye. Findings are checked first
// ([Findings.Check]); a unit's own series and limits may be empty. Own results
// for an option that is not offered are a fault, so that none is lost.
func Decide(f Findings, u Unit) (Decision, error) {
	if err := f.Check(); err != nil {
		return Decision{}, err
	}
	a, err := ask(f, u)
	if err != nil {
		return Decision{}, err
	}
	d := Decision{Findings: f, Warnings: a.warnings(), Changes: a.changes(), Open: a.open(), Limits: a.usedLimits()}
	if a.size.Known() {
		d.Sizes = a.sizes()
		d.Classes = hole.Classify(a.size, a.sizeFigure())
	}
	for _, code := range a.codes() {
		o, err := a.option(code)
		if err != nil {
			return Decision{}, err
		}
		d.Options = append(d.Options, o)
	}
	if len(d.Options) == 0 {
		return Decision{}, defect("rules", fmt.Sprintf("no option for %s", f.Condition))
	}
	for _, own := range u.Own {
		if _, offered := d.Option(own.Code); !offered {
			return Decision{}, &fault.Error{Code: fault.Invalid, Where: "own series", What: fmt.Sprintf("%q is not among the options for this eye", own.Code), Mend: "give own results for options that are offered"}
		}
	}
	return d, nil
}

// ask sets up the question and places the options in every world.
func ask(f Findings, u Unit) (*asked, error) {
	t, err := load()
	if err != nil {
		return nil, err
	}
	a := &asked{tables: t, findings: f, unit: u, known: newFacts(f), limits: limits{}, size: classedSize(f), goneDays: map[string]estimate.Estimate{}}
	for _, l := range t.limits {
		a.limits[l.Name] = l.Value
	}
	for name, v := range u.Limits {
		if _, is := a.limits[name]; !is || !(v > 0) || math.IsInf(v, 0) {
			return nil, invalid("limit "+name, fmt.Sprintf("%s %g is no limit of the table or no size", name, v), "a name of the table of limits and a number above 0")
		}
		a.limits[name] = v
	}
	for _, r := range t.rules {
		if inScope(r.Conditions, string(f.Condition)) {
			a.rules = append(a.rules, r)
		}
	}
	a.makeWorlds()
	return a, nil
}

// inScope reports whether a list names a word or everything.
func inScope(all []string, one string) bool {
	return slices.Contains(all, "*") || slices.Contains(all, one)
}

// cuts are the limits of a number in some rows, ascending.
func (a *asked) cuts(key string, kinds ...RuleKind) []float64 {
	var out []float64
	for _, r := range a.rules {
		if len(kinds) > 0 && !slices.Contains(kinds, r.Kind) {
			continue
		}
		for _, at := range r.when {
			if at.key == key && len(at.words) == 0 {
				out = append(out, a.limits.at(at))
			}
		}
	}
	sort.Float64s(out)
	return slices.Compact(out)
}

// makeWorlds cuts the size scale at the limits of all rows and gives each range
// its probability,
//
//	P = Φ((upper − d)/σ) − Φ((lower − d)/σ),  σ² = ((High − Low)/(2·1.96))² + 11²,
//
// normalised to sizes above 0. Without a size there is one world.
func (a *asked) makeWorlds() {
	if !a.size.Known() {
		w := world{known: a.known}
		w.AboveUM, w.UpToUM, w.Probability = math.NaN(), math.NaN(), 1
		a.worlds = []world{a.place(w)}
		return
	}
	sd := math.Hypot((a.size.High-a.size.Low)/(2*estimate.Z95), readingSDUM)
	below := func(um float64) float64 { return 0.5 * math.Erfc((a.size.Value-um)/(sd*math.Sqrt2)) }
	from, possible := 0.0, 1-below(0)
	for _, to := range append(a.cuts(sizeKey), math.Inf(1)) {
		w := world{known: a.known.with(sizeKey, numberFact(inside(from, to)))}
		w.AboveUM, w.UpToUM, w.Probability = from, to, (below(to)-below(from))/possible
		a.worlds = append(a.worlds, a.place(w))
		from = to
	}
	a.chosen = a.mostProbable()
}

// inside is a number within (from, to].
func inside(from, to float64) float64 {
	if math.IsInf(to, 1) {
		return from + 1
	}
	return (from + to) / 2
}

// with returns the facts with one changed.
func (f facts) with(key string, value fact) facts {
	out := make(facts, len(f))
	for k, v := range f {
		out[k] = v
	}
	out[key] = value
	return out
}

// place puts the options into their places in a world: the last row that holds
// counts.
func (a *asked) place(w world) world {
	w.places = map[string]placed{}
	for _, r := range a.rules {
		if r.Kind != KindPlace || !r.when.holds(w.known, a.limits) {
			continue
		}
		p, _ := placeOf(r.Value) // the table was checked
		for _, e := range a.options {
			if slices.Contains(r.Options, e.code) {
				w.places[e.code] = placed{p, r}
			}
		}
	}
	for _, e := range a.options {
		if w.places[e.code].place != "" {
			w.order = append(w.order, e.code)
		}
	}
	slices.SortStableFunc(w.order, func(x, y string) int { return w.places[x].place.rank() - w.places[y].place.rank() })
	if len(w.order) > 0 {
		w.First = w.order[0]
	}
	return w
}

// alike reports worlds in which all options have the same place.
func (w world) alike(other world) bool {
	return slices.EqualFunc(w.order, other.order, func(x, y string) bool {
		return x == y && w.places[x].place == other.places[y].place
	})
}

// mostProbable finds the world that counts: neighbours that place all options
// alike are one range, and in the most probable range the most probable world.
func (a *asked) mostProbable() int {
	best, bestSum := 0, -1.0
	for i := 0; i < len(a.worlds); {
		sum, top, k := 0.0, i, i
		for ; k < len(a.worlds) && a.worlds[k].alike(a.worlds[i]); k++ {
			sum += a.worlds[k].Probability
			if a.worlds[k].Probability > a.worlds[top].Probability {
				top = k
			}
		}
		if sum > bestSum {
			best, bestSum = top, sum
		}
		i = k
	}
	return best
}

// sizes are the ranges between limits that change a place.
func (a *asked) sizes() []SizeRange {
	var out []SizeRange
	for i, w := range a.worlds {
		if i > 0 && w.alike(a.worlds[i-1]) {
			last := &out[len(out)-1]
			last.UpToUM = w.UpToUM
			last.Probability += w.Probability
			continue
		}
		out = append(out, w.SizeRange)
	}
	return out
}

// sizeFigure names the diameter that was classed.
func (a *asked) sizeFigure() string {
	if a.known["oval"].is(string(Yes)) {
		return "min_section.large_um"
	}
	return "mld_um"
}

// codes are the options in order: those of the world that counts, then those
// that are offered in another range with a probability that is shown.
func (a *asked) codes() []string {
	out := slices.Clone(a.worlds[a.chosen].order)
	for _, e := range a.options {
		if slices.Contains(out, e.code) {
			continue
		}
		sum := 0.0
		for _, w := range a.worlds {
			if w.places[e.code].place != "" {
				sum += w.Probability
			}
		}
		if sum >= leastShown {
			out = append(out, e.code)
		}
	}
	return out
}

// probability is how probable it is that a row holds.
func (a *asked) probability(c condition) float64 {
	sum := 0.0
	for _, w := range a.worlds {
		if c.holds(w.known, a.limits) {
			sum += w.Probability
		}
	}
	return rounded(sum)
}

// rounded makes a sum of ranges that adds to one but for rounding one.
func rounded(sum float64) float64 {
	if sum > 1-1e-9 {
		return 1
	}
	return sum
}

// holds reports whether a row holds in the world that counts.
func (a *asked) holds(c condition) bool { return c.holds(a.worlds[a.chosen].known, a.limits) }

// sentence is a row as a statement.
func (r Rule) sentence(probability float64) Sentence {
	return Sentence{Text: r.Text, Source: r.Source, HowKnown: r.HowKnown, Row: r.ID, Probability: probability}
}

// sentences are the rows of one kind for an option that hold with a probability
// that is shown; sure wants them to hold in the world that counts.
func (a *asked) sentences(kind RuleKind, code string, sure bool) []Sentence {
	var out []Sentence
	for _, r := range a.rules {
		if r.Kind != kind || !inScope(r.Options, code) {
			continue
		}
		p := a.probability(r.when)
		if p >= leastShown && (!sure || a.holds(r.when)) {
			out = append(out, r.sentence(p))
		}
	}
	return out
}

// lastRow is the last row of one kind for an option that holds in the world that
// counts; ok is false without one.
func (a *asked) lastRow(kind RuleKind, code string) (r Rule, ok bool) {
	for _, row := range a.rules {
		if row.Kind == kind && inScope(row.Options, code) && a.holds(row.when) {
			r, ok = row, true
		}
	}
	return r, ok
}

// warnings are the rows that speak of the eye, and allergies that no row knows.
func (a *asked) warnings() []Sentence {
	var out []Sentence
	for _, r := range a.rules {
		if p := a.probability(r.when); r.Kind == KindWarning && p >= leastShown {
			out = append(out, r.sentence(p))
		}
	}
	for _, allergy := range a.findings.Allergies {
		if !slices.Contains(wordsOf("allergy"), string(allergy)) {
			out = append(out, Sentence{
				Text:   fmt.Sprintf("Allergy to %q: no row of the table knows it; check every agent and the drape by hand.", string(allergy)),
				Source: "rule of the table", HowKnown: "common practice, no source", Row: "allergy", Probability: 1,
			})
		}
	}
	return out
}

// usedLimits are the limits that rows for this condition name.
func (a *asked) usedLimits() []Limit {
	used := map[string]bool{}
	for _, r := range a.rules {
		for _, at := range r.when {
			used[at.limit] = true
		}
	}
	var out []Limit
	for _, l := range a.tables.limits {
		if used[l.Name] {
			_, l.OwnChoice = a.unit.Limits[l.Name]
			l.Value = a.limits[l.Name]
			out = append(out, l)
		}
	}
	return out
}
