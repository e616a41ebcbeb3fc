package store_test

import (
	"testing"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// due are the reasons of one eye with their days.
func due(t *testing.T, s *store.Store, eyeID record.ID) map[record.DueFor]string {
	t.Helper()
	page, err := s.Due(background, store.DueQuery{Page: store.Page{Limit: store.MaxPage}})
	if err != nil {
		t.Fatal(err)
	}
	found := map[record.DueFor]string{}
	for _, r := range page.Rows {
		if r.EyeID == eyeID {
			found[r.Reason] = r.On
		}
	}
	return found
}

func oilIn(t testing.TB, lot string) record.AgentUse {
	return record.AgentUse{Class: record.AgentOil, Action: record.AgentPlaced, Product: "Oil 1000", Lot: lot, Expiry: day(t, "2027-06")}
}

func gasIn(t testing.TB) record.AgentUse {
	return record.AgentUse{
		Class: record.AgentGas, Action: record.AgentPlaced, Gas: record.SF6, Percent: number(20), Product: "SF6", Lot: "G-1",
		Expiry: day(t, "2027-06"), MixedBy: "account-1", CheckedBy: "account-2",
	}
}

// TestDueFollowsTheCourse tells one eye's course and looks at the due list after
// each step. The rules are those written at dueOf: agreed days until the next
// visit, media until they are gone, plans until they are signed or replaced.
func TestDueFollowsTheCourse(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		_, _, right := m.storedEye(s, "Amaryllis Quell", "U-1")
		want := func(step string, reasons map[record.DueFor]string) {
			t.Helper()
			got := due(t, s, right.ID)
			for r, on := range reasons {
				if d, is := got[r]; !is || d != on {
					t.Errorf("%s: %s is due on %q (%v), want %q", step, r, d, is, on)
				}
			}
			if len(got) != len(reasons) {
				t.Errorf("%s: due for %v, want %v", step, got, reasons)
			}
		}
		visit := func(on, dueBy string, reason record.DueFor) *record.Visit {
			v := m.visit(right, on)
			v.DueBy, v.DueFor = day(t, dueBy), reason
			put(t, s, v)
			return v
		}
		want("nothing yet", nil)
		plan := &record.Plan{
			Base: m.base(), PatientID: right.PatientID, EyeID: right.ID, Revision: 1, MadeOn: day(t, "2026-01-01"), MadeBy: "account-1",
			Side: right.Side, Options: []record.PlanOption{{Code: "peel", Name: "peel"}}, Chosen: "peel",
		}
		put(t, s, plan)
		want("unsigned plan", map[record.DueFor]string{store.DueUnsignedPlan: "2026-01-01"})
		plan.Version, plan.Signed = 1, &record.Signature{By: surgeon, At: start}
		put(t, s, plan)
		want("signed plan", nil)

		operation := m.operation(right, "2026-01-10", oilIn(t, "L-1"))
		put(t, s, operation)
		want("oil and no day agreed", map[record.DueFor]string{record.DueOilRemoval: ""})
		visit("2026-01-12", "2026-02-01", "")
		want("review agreed", map[record.DueFor]string{record.DueOilRemoval: "", record.DueReview: "2026-02-01"})
		mistaken := visit("2026-02-01", "2026-03-01", record.DueOilRemoval)
		want("removal agreed", map[record.DueFor]string{record.DueOilRemoval: "2026-03-01"})
		write(t, s, func(tx *store.Tx) error {
			return tx.StrikeOut(background, record.KindVisit, mistaken.ID, 1, "another patient's")
		})
		want("that visit struck out", map[record.DueFor]string{record.DueOilRemoval: "", record.DueReview: "2026-02-01"})

		removal := m.operation(right, "2026-03-02", record.AgentUse{
			Class: record.AgentOil, Action: record.AgentRemoved, SeenEmpty: record.Yes,
		}, gasIn(t))
		removal.Procedure = record.OilRemoval
		put(t, s, removal)
		want("oil out, gas in", map[record.DueFor]string{record.DueGasCheck: "", record.DueReview: "2026-02-01"})
		visit("2026-03-03", "2026-03-09", record.DueGasCheck)
		want("gas check agreed", map[record.DueFor]string{record.DueGasCheck: "2026-03-09"})
		empty := m.visit(right, "2026-03-12")
		empty.MediaSeen = []record.MediumSeen{{Medium: record.MediumGas, State: record.LookNone}}
		put(t, s, empty)
		want("seen empty", nil)

		write(t, s, func(tx *store.Tx) error {
			return tx.StrikeOut(background, record.KindVisit, empty.ID, 1, "wrong eye")
		})
		want("that was the other eye", map[record.DueFor]string{record.DueGasCheck: "2026-03-09"})
		write(t, s, func(tx *store.Tx) error {
			return tx.StrikeOut(background, record.KindEye, right.ID, 1, "entered twice")
		})
		want("the eye struck out", nil)
		write(t, s, func(tx *store.Tx) error {
			return tx.Restore(background, record.KindEye, right.ID, 2, "was right")
		})
		want("the eye restored", map[record.DueFor]string{record.DueGasCheck: "2026-03-09"})
		write(t, s, func(tx *store.Tx) error {
			return tx.StrikeOut(background, record.KindPatient, right.PatientID, 1, "a test entry")
		})
		want("the patient struck out", nil)
		if page, err := s.Eyes(background, "quell", store.Page{}); err != nil || len(page.Rows) != 0 {
			t.Errorf("%d eyes of a struck-out patient are listed (%v)", len(page.Rows), err)
		}
		mustVerify(t, s)
	})
}

func TestDueListIsByDay(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		_, person, first := m.storedEye(s, "Amaryllis Quell", "U-1")
		_, _, second := m.storedEye(s, "Bartholo Vint", "U-2")
		put(t, s, m.operation(second, "2026-01-10", oilIn(t, "L-1")))
		visit := m.visit(first, "2026-02-01")
		visit.DueBy, visit.DueFor = day(t, "2026-03-01"), record.DuePressure
		put(t, s, visit)
		person.Version, person.DiedOn = 1, day(t, "2026-02-20")
		put(t, s, person)

		for _, test := range []struct {
			name  string
			query store.DueQuery
			want  []record.DueFor
		}{
			{"all", store.DueQuery{}, []record.DueFor{record.DueOilRemoval, record.DuePressure}},
			{"until the day", store.DueQuery{Until: "2026-03-01"}, []record.DueFor{record.DueOilRemoval, record.DuePressure}},
			{"until the day before", store.DueQuery{Until: "2026-02-28"}, []record.DueFor{record.DueOilRemoval}},
			{"pressure", store.DueQuery{Reasons: []record.DueFor{record.DuePressure}}, []record.DueFor{record.DuePressure}},
			{"two reasons", store.DueQuery{Reasons: []record.DueFor{record.DuePressure, record.DueOilRemoval}}, []record.DueFor{record.DueOilRemoval, record.DuePressure}},
			{"another", store.DueQuery{Reasons: []record.DueFor{record.DueReview}}, nil},
		} {
			page, err := s.Due(background, test.query)
			if err != nil || len(page.Rows) != len(test.want) {
				t.Errorf("%s: %d rows (%v), want %d", test.name, len(page.Rows), err, len(test.want))
				continue
			}
			for i, r := range page.Rows {
				if r.Reason != test.want[i] {
					t.Errorf("%s: row %d is %s, want %s", test.name, i, r.Reason, test.want[i])
				}
				if r.Reason == record.DuePressure && (r.Name != "Amaryllis Quell" || r.DiedOn != "2026-02-20" || r.Source != visit.ID || r.Since != "2026-02-01") {
					t.Errorf("%s: %+v", test.name, r)
				}
			}
		}
		counts, err := s.Counts(background, "2026-03-02")
		if err != nil {
			t.Fatal(err)
		}
		if counts.ByKind[record.KindEye] != 2 || counts.ByKind[record.KindPerson] != 2 || counts.ByKind[record.KindScan] != 0 ||
			counts.Overdue[record.DuePressure] != 1 || counts.Overdue[record.DueOilRemoval] != 1 || counts.InEyes[record.MediumOil] != 1 ||
			counts.OpenContests != 0 || counts.StruckByKind[record.KindEye] != 0 {
			t.Errorf("counts %+v", counts)
		}
	})
}

func TestInEyesIsTheRegister(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		_, _, first := m.storedEye(s, "Amaryllis Quell", "U-1")
		_, _, second := m.storedEye(s, "Bartholo Vint", "U-2")
		operation := m.operation(first, "2026-02-10", oilIn(t, "L-1"))
		put(t, s, operation)
		put(t, s, m.operation(second, "2026-01-10", gasIn(t)))
		rows, _, err := s.InEyes(background, store.Page{})
		if err != nil || len(rows) != 2 || rows[0].Content.Medium != record.MediumGas || rows[1].Content.Medium != record.MediumOil {
			t.Fatalf("%+v (%v)", rows, err)
		}
		oil := rows[1]
		if oil.EyeID != first.ID || oil.Name != "Amaryllis Quell" || oil.Side != first.Side || oil.Content.OperationID != operation.ID ||
			len(oil.Content.Labels) != 1 || oil.Content.Labels[0].Lot != "L-1" || oil.Content.Since != day(t, "2026-02-10") {
			t.Errorf("%+v", oil)
		}
		for medium, want := range map[record.Medium]int{record.MediumOil: 1, record.MediumHeavyLiquid: 0} {
			if rows, _, err := s.InEyes(background, store.Page{}, medium); err != nil || len(rows) != want {
				t.Errorf("%s: %d rows (%v)", medium, len(rows), err)
			}
		}
		course, err := s.Course(background, first.ID, false)
		if err != nil || len(course.InEye) != 1 || len(course.Due) != 1 || course.Due[0].Name != "Amaryllis Quell" {
			t.Errorf("course: in eye %+v, due %+v (%v)", course.InEye, course.Due, err)
		}
	})
}

// TestRecallMissesNobody writes one lot in the ways that people write it.
func TestRecallMissesNobody(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		batch := &record.Batch{Base: m.base(), Class: record.AgentOil, Product: "Oil 1000", Lot: "AB-123", Expiry: day(t, "2027-06")}
		put(t, s, batch)
		byBatch := oilIn(t, "")
		byBatch.BatchID = batch.ID
		var operations []*record.Operation
		for i, use := range []record.AgentUse{oilIn(t, "AB-123"), oilIn(t, "ab 123"), oilIn(t, "AB123"), byBatch, oilIn(t, "AB-1234"), oilIn(t, "AB-123")} {
			_, _, right := m.storedEye(s, people[i].name, people[i].number)
			operations = append(operations, m.operation(right, "2026-02-0"+string(rune('1'+i)), use))
			put(t, s, operations[i])
		}
		write(t, s, func(tx *store.Tx) error {
			return tx.StrikeOut(background, record.KindOperation, operations[5].ID, 1, "not done")
		})
		rows, err := s.EyesWithLot(background, "aB.123 ")
		if err != nil || len(rows) != 4 {
			t.Fatalf("%d uses (%v), want 4", len(rows), err)
		}
		for i, r := range rows {
			if r.OperationID != operations[i].ID || r.Class != record.AgentOil || r.Action != record.AgentPlaced || r.Name != people[i].name {
				t.Errorf("use %d: %+v", i, r)
			}
		}
		if rows[3].BatchID != batch.ID {
			t.Errorf("%+v", rows[3])
		}
		if _, err := s.EyesWithLot(background, " - "); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("no lot: %v", err)
		}
	})
}

func TestCourseIsTheWholeEye(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		person, right, visit, operation := sample(t, s, m)
		_, _, stranger := m.storedEye(s, "Bartholo Vint", "U-2")
		put(t, s, m.visit(stranger, "2026-01-01"))
		early := m.visit(right, "2026-01-05")
		put(t, s, early)
		other := &record.Eye{Base: m.base(), PatientID: right.PatientID, Side: 2}
		put(t, s, other)
		put(t, s, &record.Document{Base: m.base(), PatientID: right.PatientID, Sort: record.DocumentConsent, On: day(t, "2026-01-01"), File: fileRef("b")})
		put(t, s, &record.ContactAttempt{Base: m.base(), PatientID: right.PatientID, EyeID: right.ID, On: day(t, "2026-03-01"), By: "account-2", Way: record.ContactPhone, Outcome: record.Reached})
		c, err := s.Course(background, right.ID, false)
		if err != nil {
			t.Fatal(err)
		}
		if c.Eye.ID != right.ID || c.Patient.ID != right.PatientID || len(c.Persons) != 1 || c.Persons[0].ID != person.ID || c.ReadAs != person.ID {
			t.Errorf("whose: %+v", c)
		}
		if len(c.Visits) != 2 || c.Visits[0].ID != early.ID || c.Visits[1].ID != visit.ID || len(c.Operations) != 1 || c.Operations[0].ID != operation.ID ||
			len(c.Scans) != 1 || len(c.Documents) != 1 || len(c.Contacts) != 1 || len(c.Fellow) != 1 || c.Fellow[0].ID != other.ID ||
			len(c.Batches) != 1 || len(c.Contests) != 1 || len(c.InEye) != 1 || len(c.Due) != 1 {
			t.Errorf("what: %+v", c)
		}
		if a := c.Operations[0].Agents[0]; c.Batches[a.BatchID] == nil || *a.AmountML != 5 {
			t.Errorf("agent %+v", a)
		}
		if _, err := s.Course(background, m.id(), false); fault.CodeOf(err) != fault.NotFound {
			t.Errorf("an eye that is not there: %v", err)
		}
	})
}
