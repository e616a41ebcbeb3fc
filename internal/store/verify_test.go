package store_test

import (
	"strings"
	"testing"

	"limitans/internal/record"
	"limitans/internal/store"
)

// sample stores one of nearly everything and leaves an open and a decided
// contest behind.
func sample(t testing.TB, s *store.Store, m *maker) (*record.Person, *record.Eye, *record.Visit, *record.Operation) {
	t.Helper()
	_, person, right := m.storedEye(s, "Amaryllis Quell", "U-1")
	batch := &record.Batch{Base: m.base(), Class: record.AgentOil, Product: "Oil 1000", Lot: "AB-123", Expiry: day(t, "2027-06")}
	put(t, s, batch)
	operation := m.operation(right, "2026-02-01", record.AgentUse{
		Class: record.AgentOil, Action: record.AgentPlaced, Product: "Oil 1000", BatchID: batch.ID, Lot: "AB-123", Expiry: day(t, "2027-06"),
		AmountML: number(5),
	})
	operation.Steps = []record.Step{{Code: record.StepKnife, ElapsedS: number(0)}, {Code: record.StepEnd, ElapsedS: number(1800.5)}}
	put(t, s, operation)
	visit := m.visit(right, "2026-03-01")
	visit.Acuities = []record.AcuityEntry{acuityOf("6/9")}
	visit.Pressures = []record.Pressure{{MmHg: number(14.5), Method: record.PressureApplanation}}
	visit.DueBy, visit.DueFor = day(t, "2026-05-01"), record.DueOilRemoval
	put(t, s, visit)
	put(t, s, m.scan(right, "2026-01-10", "a"))
	for i, note := range []record.FreeText{"one", "two"} {
		first := with(*visit, func(v *record.Visit) { v.Version, v.Note = 1, note })
		err := s.Write(background, nurse, func(tx *store.Tx) error { return putAll(tx, first) })
		if i == 0 && err != nil {
			t.Fatal(err)
		}
	}
	visit.Version, visit.Note = 2, "one"
	return person, right, visit, operation
}

func fileRef(digit string) record.FileRef {
	return record.FileRef{SHA256: strings.Repeat(digit, 64), Bytes: 1, MediaType: "application/dicom"}
}

func TestVerifyFindsNothingInASoundRecord(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		if r := mustVerify(t, s); r.Entries != 0 || !r.OK() {
			t.Errorf("an empty record: %+v", r)
		}
		sample(t, s, newMaker(t, 1))
		r := mustVerify(t, s)
		if head, err := s.Head(background); err != nil || r.Head != head || r.Entries != head.Entries || r.Nouns != 7 || r.Contests != 1 {
			t.Errorf("report %+v, head %+v (%v)", r, head, err)
		}
	})
}

// TestVerifyFindsEveryChangeMadeBehindItsBack makes one change in the database
// at a time and expects a problem that names the place.
func TestVerifyFindsEveryChangeMadeBehindItsBack(t *testing.T) {
	tampers := map[string]struct{ statement, where, what string }{
		"a byte after":          {"update history set after = replace(after, 'oil', 'air') where kind = 'operation'", "history entry", "hash does not fit"},
		"a byte before":         {"update history set before = replace(before, '14.5', '41.5') where version = 2", "history entry", "hash does not fit"},
		"who":                   {"update history set account = 'account-9' where number = 3", "history entry 3", "hash does not fit"},
		"where from":            {"update history set place = 'elsewhere' where number = 3", "history entry 3", "hash does not fit"},
		"when":                  {"update history set at = '2020-01-01T00:00:00.000000Z' where number = 3", "history entry 3", "hash does not fit"},
		"when, unreadable":      {"update history set at = 'yesterday' where number = 3", "history entry 3", "hash does not fit"},
		"why":                   {"update history set reason = 'no reason' where number = 3", "history entry 3", "hash does not fit"},
		"what was done":         {"update history set action = 'change' where number = 3", "history entry 3", "hash does not fit"},
		"the hash":              {"update history set hash = '00' where number = 3", "history entry 4", "hash does not fit"},
		"an entry gone":         {"delete from history where number = 3", "history entry 4", "1 entries before it are missing"},
		"the last entry gone":   {"delete from history where number = (select max(number) from history)", "history head", "it speaks of 9 entries"},
		"the end cut, head too": {"delete from history where number > 6; update history_head set entries = 6, hash = (select hash from history where number = 6)", "scan", "the history does not know it"},
		"the head alone":        {"update history_head set entries = 4", "history head", "it speaks of 4 entries"},
		"an entry of a strange kind": {
			"update history set kind = 'spell' where number = 3", "history entry 3", "there is no kind",
		},
		"a noun's body":             {"update visit set body = replace(body, '14.5', '41.5')", "visit", "changed by other means"},
		"a noun's body, no JSON":    {"update visit set body = 'x'", "visit", "cannot be read"},
		"a noun's day":              {"update visit set day = '2026-03-02'", "visit", "column day"},
		"a noun's null":             {"update operation set plan_id = null, surgeon = 'account-2'", "operation", "column surgeon"},
		"a noun's version":          {"update visit set version = 7", "visit", "at version 7"},
		"a strike-out":              {"update visit set struck = 1", "visit", "strike-out"},
		"a name in a column":        {"update person set name = 'Somebody Else'", "person", "column name"},
		"a number in a list":        {"update pressure set mmhg = 15", "visit", "table pressure"},
		"a row of a list gone":      {"delete from step where position = 1", "operation", "table step"},
		"a row of a list more":      {"insert into acuity (visit_id, position, raw, kind, role, through) select id, 9, '', '', '', '' from visit", "visit", "table acuity"},
		"a lot":                     {"update agent set lot = 'AB-124'", "operation", "table agent"},
		"a file's hash":             {"update file_reference set sha256 = 'bb'", "scan", "table file_reference"},
		"a diagnosis":               {"update diagnosis set code = 'other'", "eye", "table diagnosis"},
		"a noun gone":               {"delete from file_reference; delete from scan", "scan", "not in the record any more"},
		"a noun from nowhere":       {"insert into batch (id, version, struck, body, class, product, lot, lot_key, expiry, recalled) values ('x', 1, 0, '{}', '', '', '', '', '', 0)", "batch x", "does not know it"},
		"a contest":                 {"update contest set body = replace(body, 'two', 'one')", "contest", "changed by other means"},
		"a contest closed":          {"update contest set open = 0", "contest", "open or decided"},
		"a contest gone":            {"delete from contest", "contest", "not in the record any more"},
		"a list without its noun":   {"insert into file_reference (kind, entity, position, sha256) select 'visit', id, 0, 'cc' from visit", "visit", "table file_reference"},
		"a version left out":        {"update history set version = 5 where kind = 'visit' and version = 2", "visit", "version 5 follows version 1"},
		"a version of other origin": {"update history set before = '{}' where kind = 'visit' and version = 2", "visit", "does not start from"},
	}
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		sample(t, s, newMaker(t, 1))
		keepTables(t, s)
		for name, test := range tampers {
			for _, statement := range strings.Split(test.statement, "; ") {
				result, err := s.Writer().Exec(background, statement)
				if err != nil {
					t.Fatalf("%s: %v", name, err)
				}
				if n, err := result.RowsAffected(); err != nil || n == 0 {
					t.Errorf("%s: changed %d rows (%v)", name, n, err)
				}
			}
			report, err := s.Verify(background)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			found := false
			for _, p := range report.Problems {
				found = found || strings.HasPrefix(p.Where, test.where) && strings.Contains(p.What, test.what)
				if strings.Contains(p.What, "Quell") || strings.Contains(p.What, "Somebody") {
					t.Errorf("%s: the report tells a name: %s", name, p.What)
				}
			}
			if !found || report.OK() {
				t.Errorf("%s: found only %v", name, report.Problems)
			}
			restoreTables(t, s)
		}
		mustVerify(t, s)
	})
}

// kept are the tables that a tamper may change, children after parents.
var kept = []string{
	"history", "history_head", "contest", "person", "eye", "diagnosis", "batch", "operation", "step", "agent",
	"visit", "acuity", "pressure", "scan", "file_reference",
}

func keepTables(t *testing.T, s *store.Store) {
	t.Helper()
	for _, name := range kept {
		if _, err := s.Writer().Exec(background, "create table kept_"+name+" as select * from "+name); err != nil {
			t.Fatal(err)
		}
	}
}

// restoreTables puts every row back by its columns; the tables that tampers add
// to or take from are emptied first, children first.
func restoreTables(t *testing.T, s *store.Store) {
	t.Helper()
	do := func(statement string) {
		if _, err := s.Writer().Exec(background, statement); err != nil {
			t.Fatalf("%s: %v", statement, err)
		}
	}
	off, on := "pragma foreign_keys = 0", "pragma foreign_keys = 1"
	if s.Dialect() == store.PostgreSQL {
		// Foreign keys are triggers there; a superuser switches them off in a session.
		off, on = "", ""
		do("do $$ declare r record; begin set session_replication_role = replica; " + restoreAll() + " set session_replication_role = origin; end $$")
	}
	if off == "" {
		return
	}
	do(off) // the writer has one connection
	for _, statement := range strings.Split(strings.TrimSuffix(restoreAll(), "; "), "; ") {
		do(statement)
	}
	do(on)
}

func restoreAll() string {
	var b strings.Builder
	for _, name := range kept {
		b.WriteString("delete from " + name + "; insert into " + name + " select * from kept_" + name + "; ")
	}
	return b.String()
}

// TestAnchorFindsARewrittenPast rewrites everything as somebody would who knows
// the method, which nothing inside the database can tell, and finds it with a
// head that was kept elsewhere.
func TestAnchorFindsARewrittenPast(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		sample(t, s, newMaker(t, 1))
		anchor, err := s.Head(background)
		if err != nil {
			t.Fatal(err)
		}
		put(t, s, &record.Patient{Base: newMaker(t, 9).base()})
		if report, err := s.Verify(background, anchor, store.Head{}); err != nil || !report.OK() {
			t.Errorf("with an honest anchor: %+v (%v)", report, err)
		}
		rewrite(t, s, "account-1", "account-7")
		if report, err := s.Verify(background); err != nil || !report.OK() {
			t.Fatalf("the forgery is not perfect: %+v (%v)", report, err)
		}
		report, err := s.Verify(background, anchor)
		if err != nil || len(report.Problems) != 1 || !strings.Contains(report.Problems[0].What, "rewritten") {
			t.Errorf("with the anchor: %+v (%v)", report, err)
		}
		far := store.Head{Entries: 1000, Hash: anchor.Hash}
		report, err = s.Verify(background, far)
		if err != nil || len(report.Problems) != 1 || !strings.Contains(report.Problems[0].What, "cut off") {
			t.Errorf("with an anchor beyond the end: %+v (%v)", report, err)
		}
	})
}

// rewrite forges who made every entry, with new hashes throughout.
func rewrite(t *testing.T, s *store.Store, from, to string) {
	t.Helper()
	all, err := s.HistorySince(background, 0, 1000)
	if err != nil {
		t.Fatal(err)
	}
	hash := ""
	for _, e := range all {
		if string(e.By.AccountID) == from {
			e.By.AccountID = record.AccountID(to)
		}
		hash = store.HistoryHash(hash, e)
		if _, err := s.Writer().Exec(background, "update history set account = ?, hash = ? where number = ?", string(e.By.AccountID), hash, e.Number); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.Writer().Exec(background, "update history_head set hash = ?", hash); err != nil {
		t.Fatal(err)
	}
}
