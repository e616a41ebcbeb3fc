package store

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"limitans/fault"
	"limitans/internal/record"
)

// table is one table of the schema that repeats parts of nouns for queries.
type table struct {
	name    string
	columns []string // for a noun's own table, those after id, version, struck, body
}

// The noun's own tables by kind, and the tables of its lists. The columns are
// in the order in which project gives their values.
var (
	nounTables = map[record.Kind]table{
		record.KindPatient:    {"patient", []string{"birth_year"}},
		record.KindPerson:     {"person", []string{"patient_id", "name", "unit_number", "birth_date", "died_on"}},
		record.KindFileOrigin: {"file_origin", []string{"patient_id", "of_kind", "of_id", "sha256"}},
		record.KindMerge:      {"merge", []string{"survivor", "absorbed", "undoes"}},
		record.KindEye:        {"eye", []string{"patient_id", "side"}},
		record.KindScan:       {"scan", []string{"patient_id", "eye_id", "day", "sha256"}},
		record.KindFigures:    {"hole_figures", []string{"patient_id", "eye_id", "scan_id", "day", "supersedes", "mld_um"}},
		record.KindPlan:       {"plan", []string{"patient_id", "eye_id", "day", "replaces", "signed"}},
		record.KindOperation:  {"operation", []string{"patient_id", "eye_id", "plan_id", "day", "procedure_code", "indication", "surgeon", "signed"}},
		record.KindVisit:      {"visit", []string{"patient_id", "eye_id", "day", "lens", "closure", "due_by", "due_for"}},
		record.KindBatch:      {"batch", []string{"class", "product", "lot", "lot_key", "expiry", "recalled"}},
		record.KindFilm:       {"film", []string{"patient_id", "eye_id", "operation_id", "day"}},
		record.KindDocument:   {"document", []string{"patient_id", "eye_id", "operation_id", "day", "sort"}},
		record.KindContact:    {"contact_attempt", []string{"patient_id", "eye_id", "day", "outcome"}},
		record.KindUnit:       {"unit", []string{"name"}},
	}
	diagnosisTable = table{"diagnosis", []string{"eye_id", "position", "code", "since"}}
	stepTable      = table{"step", []string{"operation_id", "position", "code", "elapsed_s"}}
	agentTable     = table{"agent", []string{"operation_id", "position", "class", "action", "gas", "product", "batch_id", "lot", "lot_key", "expiry"}}
	acuityTable    = table{"acuity", []string{"visit_id", "position", "raw", "kind", "role", "logmar", "letters", "through"}}
	pressureTable  = table{"pressure", []string{"visit_id", "position", "mmhg", "method"}}
	fileTable      = table{"file_reference", []string{"kind", "entity", "position", "sha256"}}

	// listTables are those of a kind's lists; the first column is the noun's id.
	// file_reference, which serves all kinds, is not among them.
	listTables = map[record.Kind][]table{
		record.KindEye:       {diagnosisTable},
		record.KindOperation: {stepTable, agentTable},
		record.KindVisit:     {acuityTable, pressureTable},
	}
)

// projection is what the tables repeat of a noun: the values of its own table's
// columns, and the rows of its lists in order.
type projection struct {
	values []any
	lists  map[string][][]any // by table
}

// project takes the repeated parts out of a noun. It is the only place that
// knows how a column follows from a noun: writing and verification both use it.
func project(e record.Entity) (projection, error) {
	p := projection{lists: map[string][][]any{}}
	switch n := e.(type) {
	case *record.Patient:
		p.values = []any{int64(n.BirthYear)}
	case *record.Person:
		p.values = []any{text(n.PatientID), displayName(n), n.UnitNumber, n.BirthDate.ISO(), n.DiedOn.ISO()}
	case *record.FileOrigin:
		p.values = []any{reference(n.PatientID), text(n.OfKind), text(n.OfID), n.SHA256}
	case *record.Merge:
		p.values = []any{reference(n.Survivor), reference(n.Absorbed), reference(n.Undoes)}
	case *record.Eye:
		p.values = []any{text(n.PatientID), sideText(n.Side)}
		for i, d := range n.Diagnoses {
			p.add(diagnosisTable, text(n.ID), int64(i), text(d.Code), d.Since.ISO())
		}
	case *record.Scan:
		p.values = []any{text(n.PatientID), text(n.EyeID), n.Taken.ISO(), n.File.SHA256}
	case *record.HoleFigures:
		p.values = []any{text(n.PatientID), text(n.EyeID), reference(n.ScanID), n.Taken.ISO(), reference(n.Supersedes), estimated(n.MLDUM)}
	case *record.Plan:
		p.values = []any{text(n.PatientID), text(n.EyeID), n.MadeOn.ISO(), reference(n.Replaces), flag(n.Signed != nil)}
	case *record.Operation:
		p.operation(n)
	case *record.Visit:
		p.visit(n)
	case *record.Batch:
		p.values = []any{text(n.Class), n.Product, n.Lot, lotKey(n.Lot), n.Expiry.ISO(), flag(n.Recall != nil)}
	case *record.Film:
		p.values = []any{text(n.PatientID), reference(n.EyeID), reference(n.OperationID), n.On.ISO()}
	case *record.Document:
		p.values = []any{text(n.PatientID), reference(n.EyeID), reference(n.OperationID), n.On.ISO(), text(n.Sort)}
	case *record.ContactAttempt:
		p.values = []any{text(n.PatientID), reference(n.EyeID), n.On.ISO(), text(n.Outcome)}
	case *record.Unit:
		p.values = []any{n.Name}
	default:
		return p, &fault.Error{Code: fault.Unsupported, Where: "record", What: fmt.Sprintf("the store has no table for %T", e)}
	}
	for i, hash := range e.Links().FileHashes {
		p.add(fileTable, text(e.Kind()), text(e.Identity().ID), int64(i), hash)
	}
	return p, p.check()
}

func (p *projection) operation(n *record.Operation) {
	p.values = []any{
		text(n.PatientID), text(n.EyeID), reference(n.PlanID), n.On.ISO(),
		text(n.Procedure), text(n.Indication), text(n.Surgeon), flag(n.Signed != nil),
	}
	for i, s := range n.Steps {
		p.add(stepTable, text(n.ID), int64(i), text(s.Code), number(s.ElapsedS))
	}
	for i, a := range n.Agents {
		p.add(agentTable, text(n.ID), int64(i), text(a.Class), text(a.Action), text(a.Gas), a.Product, reference(a.BatchID), a.Lot, lotKey(a.Lot), a.Expiry.ISO())
	}
}

func (p *projection) visit(n *record.Visit) {
	closure := ""
	if n.Closure != nil {
		closure = string(n.Closure.Class)
	}
	p.values = []any{text(n.PatientID), text(n.EyeID), n.On.ISO(), text(n.Lens), closure, n.DueBy.ISO(), text(n.DueFor)}
	position := int64(0)
	for _, entry := range n.Acuities {
		for _, value := range values(entry) {
			p.add(acuityTable, text(n.ID), position, text(entry.Raw), text(value.Kind), text(value.Role),
				number(value.LogMAR), number(value.Letters), text(entry.Through))
			position++
		}
	}
	for i, pressure := range n.Pressures {
		p.add(pressureTable, text(n.ID), int64(i), number(pressure.MmHg), text(pressure.Method))
	}
}

// add appends a row to a list.
func (p *projection) add(t table, values ...any) { p.lists[t.name] = append(p.lists[t.name], values) }

// check refuses texts that a column cannot hold on both engines: PostgreSQL has
// no zero byte and wants UTF-8.
func (p *projection) check() error {
	all := [][]any{p.values}
	for _, list := range p.lists {
		all = append(all, list...)
	}
	for _, row := range all {
		for _, value := range row {
			if s, is := value.(string); is && (!utf8.ValidString(s) || strings.ContainsRune(s, 0)) {
				return &fault.Error{
					Code: fault.Malformed, Where: "record", What: fmt.Sprintf("the text %q holds bytes that are no characters", s),
					Expected: "UTF-8 without zero bytes",
				}
			}
		}
	}
	return nil
}
