package decide

import (
	_ "embed" // the tables
	"fmt"
	"slices"
	"strings"
	"sync"

	"limitans/fault"
	"limitans/table"
)

//go:embed data/rules.csv
var rulesCSV string

//go:embed data/options.csv
var optionsCSV string

//go:embed data/limits.csv
var limitsCSV string

//go:embed data/findings.csv
var findingsCSV string

//go:embed data/risks.csv
var risksCSV string

// Rule is one row of the table of rules.
type Rule struct {
	ID         string
	Conditions []string // of the eye; "*" is every condition
	Options    []string // codes; "*" is every option that is offered, empty is the eye itself
	When       string   // as written; empty holds always
	Kind       RuleKind
	Value      string // what it means depends on the kind
	Text       string
	Source     string
	HowKnown   string

	when condition
}

// RuleKind says what a row is about.
type RuleKind string

// The kinds of rows; data/README.md says what their values mean.
const (
	KindPlace      RuleKind = "place"
	KindFor        RuleKind = "for"
	KindAgainst    RuleKind = "against"
	KindWarning    RuleKind = "warning"
	KindStep       RuleKind = "step"
	KindGauge      RuleKind = "gauge"
	KindStain      RuleKind = "stain"
	KindAgent      RuleKind = "agent"
	KindInstrument RuleKind = "instrument"
	KindTamponade  RuleKind = "tamponade"
	KindPosture    RuleKind = "posture"
	KindTime       RuleKind = "time"
	KindCost       RuleKind = "cost"
	KindClosure    RuleKind = "closure"
	KindAcuity     RuleKind = "acuity"
)

// Kinds returns all kinds of rows, in the order in which an option is told.
func Kinds() []RuleKind {
	return []RuleKind{
		KindPlace, KindFor, KindAgainst, KindWarning, KindClosure, KindAcuity, KindStep, KindGauge, KindStain, KindAgent,
		KindInstrument, KindTamponade, KindPosture, KindTime, KindCost,
	}
}

// entry is one option of the table of options.
type entry struct{ code, name, outcome string }

// findingWords is one row of the table of findings.
type findingWords struct {
	key, words, unit string
	changeable       bool // it can differ from what was told, or change with time
}

// riskRow is one row of the table of risks.
type riskRow struct {
	Risk
	conditions, options []string
	when                condition
}

// tables are the embedded tables, read once.
type tables struct {
	rules    []Rule
	options  []entry
	limits   []Limit
	findings []findingWords
	risks    []riskRow
}

// load reads the tables once. A defect in them is Internal.
var load = sync.OnceValues(readTables)

// Rules returns the table of rules in its order. The rows are the caller's.
func Rules() ([]Rule, error) {
	t, err := load()
	if err != nil {
		return nil, err
	}
	return slices.Clone(t.rules), nil
}

func readTables() (tables, error) {
	var t tables
	for _, part := range []func() error{t.readOptions, t.readLimits, t.readFindings, t.readRules, t.readRisks} {
		if err := part(); err != nil {
			return tables{}, err
		}
	}
	return t, nil
}

// defect is a fault of the tables.
func defect(where, what string) error {
	return &fault.Error{Code: fault.Internal, Where: where, What: what}
}

// list splits "a|b"; an empty text is an empty list.
func list(text string) []string {
	if text == "" {
		return nil
	}
	return strings.Split(text, "|")
}

func (t *tables) readOptions() error {
	rows, err := table.Rows("options", optionsCSV, 3)
	for _, r := range rows {
		t.options = append(t.options, entry{code: r[0], name: r[1], outcome: r[2]})
	}
	return err
}

func (t *tables) readLimits() error {
	rows, err := table.Rows("limits", limitsCSV, 6)
	if err != nil {
		return err
	}
	for _, r := range rows {
		v, err := table.Full("limit "+r[0], r[1:2])
		if err != nil {
			return err
		}
		if r[4] == "" || r[5] == "" {
			return defect("limit "+r[0], "has no source or no mark of how it is known")
		}
		t.limits = append(t.limits, Limit{Name: r[0], Value: v[0], Unit: r[2], What: r[3], Source: r[4], HowKnown: r[5]})
	}
	return nil
}

func (t *tables) readFindings() error {
	rows, err := table.Rows("findings", findingsCSV, 4)
	if err != nil {
		return err
	}
	known := newFacts(Findings{})
	for _, r := range rows {
		if _, is := known[r[0]]; !is {
			return defect("finding "+r[0], "is none that the code reads")
		}
		t.findings = append(t.findings, findingWords{key: r[0], words: r[1], unit: r[2], changeable: r[3] == "yes"})
	}
	if len(rows) != len(known) {
		return defect("findings", fmt.Sprintf("%d rows for %d findings", len(rows), len(known)))
	}
	return nil
}

func (t *tables) readRules() error {
	rows, err := table.Rows("rules", rulesCSV, 9)
	if err != nil {
		return err
	}
	seen := map[string]bool{}
	for _, r := range rows {
		rule := Rule{ID: r[0], Conditions: list(r[1]), Options: list(r[2]), When: r[3], Kind: RuleKind(r[4]), Value: r[5], Text: r[6], Source: r[7], HowKnown: r[8]}
		where := "rule " + rule.ID
		switch {
		case rule.ID == "" || seen[rule.ID]:
			return defect(where, "has no id of its own")
		case rule.Text == "" || rule.Source == "" || rule.HowKnown == "":
			return defect(where, "has no text, no source or no mark of how it is known")
		case !slices.Contains(Kinds(), rule.Kind):
			return defect(where, fmt.Sprintf("%q is no kind", string(rule.Kind)))
		case (len(rule.Options) == 0) != (rule.Kind == KindWarning):
			return defect(where, "a warning speaks of no option, every other row of some")
		}
		seen[rule.ID] = true
		if err := t.checkScope(where, rule.Conditions, rule.Options); err != nil {
			return err
		}
		if rule.when, err = t.parseCondition(where, rule.When); err != nil {
			return err
		}
		if err := t.checkValue(where, rule); err != nil {
			return err
		}
		t.rules = append(t.rules, rule)
	}
	return nil
}

// checkScope wants conditions and options that exist.
func (t *tables) checkScope(where string, conditions, options []string) error {
	if len(conditions) == 0 {
		return defect(where, "names no condition")
	}
	for _, c := range conditions {
		if c != "*" && !slices.Contains(Conditions(), Condition(c)) {
			return defect(where, fmt.Sprintf("%q is no condition", c))
		}
	}
	for _, o := range options {
		if o != "*" && !slices.ContainsFunc(t.options, func(e entry) bool { return e.code == o }) {
			return defect(where, fmt.Sprintf("%q is no option", o))
		}
	}
	return nil
}

// checkValue wants the value that a row's kind needs.
func (t *tables) checkValue(where string, r Rule) error {
	var err error
	switch r.Kind {
	case KindPlace:
		_, err = placeOf(r.Value)
	case KindTamponade:
		_, err = fillingOf(r.Value)
	case KindClosure:
		_, err = originOf(r.Value)
	case KindAcuity:
		_, err = groupsOf(r.Value)
	case KindPosture:
		if r.Value != bySize {
			_, err = table.Full(where, strings.Fields(r.Value))
		}
		if err == nil && r.Value != bySize && len(strings.Fields(r.Value)) != 2 {
			err = defect(where, "a posture has a least and a longest number of days")
		}
	default:
		if r.Value != "" {
			err = defect(where, "this kind has no value")
		}
	}
	if err != nil {
		return defect(where, err.Error())
	}
	return nil
}

func (t *tables) readRisks() error {
	rows, err := table.Rows("risks", risksCSV, 10)
	if err != nil {
		return err
	}
	for _, r := range rows {
		where := "risk " + r[0]
		n, err := table.Numbers(where, r[5:7])
		if err != nil {
			return err
		}
		row := riskRow{conditions: list(r[1]), options: list(r[2])}
		if err := t.checkScope(where, row.conditions, row.options); err != nil {
			return err
		}
		if row.when, err = t.parseCondition(where, r[3]); err != nil {
			return err
		}
		if row.Risk, err = newRisk(r, n); err != nil {
			return defect(where, err.Error())
		}
		t.risks = append(t.risks, row)
	}
	return nil
}

// placeOf reads the value of a place row; "none" withdraws an option.
func placeOf(text string) (Place, error) {
	p, found := map[string]Place{"first": FirstChoice, "alternative": Alternative, "last": LastResort, "against": AdvisedAgainst, "none": ""}[text]
	if !found {
		return "", defect("place", fmt.Sprintf("%q is none of first, alternative, last, against, none", text))
	}
	return p, nil
}

// rank orders places, best first.
func (p Place) rank() int {
	return slices.Index([]Place{FirstChoice, Alternative, LastResort, AdvisedAgainst, ""}, p)
}
