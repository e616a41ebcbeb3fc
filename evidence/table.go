package evidence

import (
	_ "embed" // the tables
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"

	"limitans/fault"
	"limitans/table"
)

//go:embed data/evidence.csv
var evidenceCSV string

//go:embed data/corrections.csv
var correctionsCSV string

// NotSeen stands for a count that was not seen.
const NotSeen = -1

// Row is one published group of eyes. Lengths and months that were not printed
// are NaN, counts [NotSeen], texts empty.
type Row struct {
	ID, Study     string
	Question      Question
	Indication    string // as the source words it
	Technique     Technique
	TechniqueText string
	Outcome       Outcome
	Tamponade     Tamponade
	TamponadeText string
	Posture       string
	SizeLowUM     float64 // stratum by minimum linear diameter, ends included
	SizeHighUM    float64
	MLDMeanUM     float64 // minimum linear diameter of the group
	MLDSDUM       float64
	MLDMedianUM   float64
	Eyes, Events  int
	FollowUpLow   float64 // months
	FollowUpHigh  float64
	AcuityBefore  float64 // logMAR
	AcuityAfter   float64
	Design        Design
	Year          int // 0 where not seen
	Source, DOI   string
	HowKnown      string
	Derived       []string // columns that were not printed but reckoned
	Recalled      string   // parts of the reference from memory or not seen
	StratumOf     string   // the row whose eyes include these
	Overlaps      string   // a row whose eyes may be the same
	Notes         string
}

// Counted reports whether both counts were seen or derived.
func (r Row) Counted() bool { return r.Eyes != NotSeen && r.Events != NotSeen }

// CountsDerived reports whether a count was reckoned from a percentage or a sum.
func (r Row) CountsDerived() bool {
	return slices.Contains(r.Derived, "eyes") || slices.Contains(r.Derived, "events")
}

// Secondary reports whether the row is known through another text only.
func (r Row) Secondary() bool { return strings.HasPrefix(r.HowKnown, "secondary") }

// Rows returns the table in its order. The slice is the caller's.
func Rows() ([]Row, error) {
	rows, err := embeddedRows()
	return slices.Clone(rows), err
}

var embeddedRows = sync.OnceValues(func() ([]Row, error) { return readRows(evidenceCSV) })

var columns = strings.Fields(`id study question indication technique_class technique outcome tamponade_class tamponade posture
	size_low_um size_high_um mld_mean_um mld_sd_um mld_median_um eyes events followup_months_low followup_months_high va_pre_logmar
	va_post_logmar design year source doi_or_pmid how_known derived recalled stratum_of overlaps notes`)

func readRows(text string) ([]Row, error) {
	lines, err := table.Named("table of evidence", text, columns)
	if err != nil {
		return nil, err
	}
	rows := make([]Row, len(lines))
	byID := map[string]Row{}
	for i, line := range lines {
		r, err := readRow(line)
		if err != nil {
			return nil, err
		}
		if _, twice := byID[r.ID]; twice {
			return nil, wrongRow(r.ID, "stands twice", "one row an id")
		}
		rows[i], byID[r.ID] = r, r
	}
	return rows, checkStrata(rows, byID)
}

func wrongRow(id, what, expected string) error {
	return &fault.Error{Code: fault.Internal, Where: "table of evidence, row " + id, What: what, Expected: expected}
}

func readRow(line map[string]string) (Row, error) {
	r := Row{
		ID: line["id"], Study: line["study"], Question: Question(line["question"]), Indication: line["indication"],
		Technique: Technique(line["technique_class"]), TechniqueText: line["technique"], Outcome: Outcome(line["outcome"]),
		Tamponade: Tamponade(line["tamponade_class"]), TamponadeText: line["tamponade"], Posture: line["posture"], Design: Design(line["design"]),
		Source: line["source"], DOI: line["doi_or_pmid"], HowKnown: line["how_known"], Derived: strings.Fields(line["derived"]),
		Recalled: line["recalled"], StratumOf: line["stratum_of"], Overlaps: line["overlaps"], Notes: line["notes"],
	}
	switch {
	case r.ID == "":
		return r, wrongRow("without id", "has no id", "an id")
	case r.Source == "":
		return r, wrongRow(r.ID, "has no source", "where the numbers are published")
	case !strings.HasPrefix(r.HowKnown, "abstract") && !r.Secondary():
		return r, wrongRow(r.ID, fmt.Sprintf("how it is known is %q", r.HowKnown), "abstract or secondary")
	case r.Study == "" || !known(r.Question, Questions()) || !known(r.Technique, Techniques()):
		return r, wrongRow(r.ID, "study, question or technique is not a known word", "one of the package's")
	case !known(r.Outcome, []Outcome{Closed, Attached, AttachedAfterOil, AttachedFinally, Sight}) ||
		!known(r.Tamponade, append(Tamponades(), TamponadeNotStated)) || !known(r.Design, []Design{Trial, Series, Registry, MetaAnalysis}):
		return r, wrongRow(r.ID, "outcome, tamponade or design is not a known word", "one of the package's")
	}
	for _, name := range r.Derived {
		if !slices.Contains(columns, name) {
			return r, wrongRow(r.ID, "derived names "+name, "names of columns")
		}
	}
	return r, r.readNumbers(line)
}

func (r *Row) readNumbers(line map[string]string) error {
	for name, to := range map[string]*float64{
		"size_low_um": &r.SizeLowUM, "size_high_um": &r.SizeHighUM, "mld_mean_um": &r.MLDMeanUM, "mld_sd_um": &r.MLDSDUM, "mld_median_um": &r.MLDMedianUM,
		"followup_months_low": &r.FollowUpLow, "followup_months_high": &r.FollowUpHigh, "va_pre_logmar": &r.AcuityBefore, "va_post_logmar": &r.AcuityAfter,
	} {
		*to = math.NaN()
		if line[name] == "" {
			continue
		}
		v, err := strconv.ParseFloat(line[name], 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || v < -1 {
			return wrongRow(r.ID, fmt.Sprintf("%s is %q", name, line[name]), "a number")
		}
		*to = v
	}
	for name, to := range map[string]*int{"eyes": &r.Eyes, "events": &r.Events, "year": &r.Year} {
		*to = NotSeen
		if line[name] == "" {
			continue
		}
		v, err := strconv.Atoi(line[name])
		if err != nil || v < 0 || v > 1_000_000 {
			return wrongRow(r.ID, fmt.Sprintf("%s is %q", name, line[name]), "a count")
		}
		*to = v
	}
	if r.Year == NotSeen {
		r.Year = 0
	}
	if r.Eyes == 0 || (r.Counted() && r.Events > r.Eyes) {
		return wrongRow(r.ID, fmt.Sprintf("%d events in %d eyes", r.Events, r.Eyes), "events from none to all eyes, of which there is one at least")
	}
	if r.SizeLowUM > r.SizeHighUM {
		return wrongRow(r.ID, fmt.Sprintf("stratum from %g to %g", r.SizeLowUM, r.SizeHighUM), "ends in order")
	}
	return nil
}

// checkStrata wants every stratum to be of the same study as its total and all
// strata together to be no more than it; a stratum has no strata of its own.
func checkStrata(rows []Row, byID map[string]Row) error {
	eyes, events := map[string]int{}, map[string]int{}
	for _, r := range rows {
		if r.Overlaps != "" {
			if _, found := byID[r.Overlaps]; !found {
				return wrongRow(r.ID, "overlaps "+r.Overlaps+", which is not there", "the id of a row")
			}
		}
		if r.StratumOf == "" {
			continue
		}
		whole, found := byID[r.StratumOf]
		if !found || whole.Study != r.Study || whole.StratumOf != "" {
			return wrongRow(r.ID, "is a stratum of "+r.StratumOf, "a row of the same study that is itself no stratum")
		}
		if r.Counted() && whole.Counted() {
			eyes[whole.ID] += r.Eyes
			events[whole.ID] += r.Events
			if eyes[whole.ID] > whole.Eyes || events[whole.ID] > whole.Events {
				return wrongRow(whole.ID, "is smaller than its strata together", "a total that holds them")
			}
		}
	}
	return nil
}

// Correction is one change to the table as it was first compiled. An empty text
// is an empty cell.
type Correction struct {
	RowID, Field, Before, After, Reason string
}

// Corrections returns all changes, in the order of the rows.
func Corrections() ([]Correction, error) {
	lines, err := table.Named("corrections of the table of evidence", correctionsCSV, []string{"id", "field", "before", "after", "reason"})
	if err != nil {
		return nil, err
	}
	out := make([]Correction, len(lines))
	for i, l := range lines {
		out[i] = Correction{l["id"], l["field"], l["before"], l["after"], l["reason"]}
	}
	return out, nil
}
