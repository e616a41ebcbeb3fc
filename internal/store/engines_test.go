package store_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"limitans/acuity"
	"limitans/eye"
	"limitans/internal/pgtest"
	"limitans/internal/record"
	"limitans/internal/store"
)

// engine is one kind of database that every test of the suite runs on.
type engine struct {
	dialect store.Dialect
	// place gives the options of a fresh, empty place for a record.
	place func(t testing.TB) store.Options
}

var engines = []engine{
	{store.SQLite, func(t testing.TB) store.Options { return store.Options{Folder: t.TempDir()} }},
	{store.PostgreSQL, func(t testing.TB) store.Options { return store.Options{Address: pgtest.Database(t)} }},
}

// onBoth runs a test on each engine.
func onBoth(t *testing.T, test func(t *testing.T, e engine)) {
	t.Helper()
	for _, e := range engines {
		t.Run(string(e.dialect), func(t *testing.T) { test(t, e) })
	}
}

var (
	background = context.Background()
	surgeon    = record.Actor{AccountID: "account-1", Place: "theatre 2"}
	nurse      = record.Actor{AccountID: "account-2", Place: "clinic"}
	// start is the first tick of a test's clock.
	start = time.Date(2026, 3, 14, 9, 26, 53, 589793000, time.UTC)
)

// clock ticks one second at each look, so that every transaction has a time of
// its own. It may be used from many goroutines.
func clock() func() time.Time {
	var mu sync.Mutex
	now := start
	return func() time.Time {
		mu.Lock()
		defer mu.Unlock()
		now = now.Add(time.Second)
		return now
	}
}

// source is a stream of random bytes that is the same on every run.
type source struct {
	mu  sync.Mutex
	pcg *rand.PCG
}

func seeded(seed uint64) *source { return &source{pcg: rand.NewPCG(seed, 1)} }

func (s *source) Read(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	var b bytes.Buffer
	for b.Len() < len(p) {
		_ = binary.Write(&b, binary.BigEndian, s.pcg.Uint64()) // a buffer takes all
	}
	return copy(p, b.Bytes()), nil
}

// open opens a record in a place with a clock and source of the test's own and
// closes it when the test ends.
func open(t testing.TB, o store.Options) *store.Store {
	t.Helper()
	if o.Now == nil {
		o.Now = clock()
	}
	if o.Random == nil {
		o.Random = seeded(1)
	}
	s, err := store.Open(background, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// write runs a change that must succeed.
func write(t testing.TB, s *store.Store, change func(tx *store.Tx) error) {
	t.Helper()
	if err := s.Write(background, surgeon, change); err != nil {
		t.Fatal(err)
	}
}

// put stores one noun in a transaction of its own and returns its version.
func put(t testing.TB, s *store.Store, e record.Entity) int64 {
	t.Helper()
	var out store.Outcome
	write(t, s, func(tx *store.Tx) (err error) {
		out, err = tx.Put(background, e, "")
		return err
	})
	return out.Version
}

// get reads a noun that must be there.
func get[E record.Entity](t testing.TB, s *store.Store, e E) E {
	t.Helper()
	got, err := s.Get(background, e.Kind(), e.Identity().ID)
	if err != nil {
		t.Fatal(err)
	}
	return got.(E)
}

// maker makes nouns with identifiers of its own.
type maker struct {
	t   testing.TB
	src *source
	now func() time.Time
}

func newMaker(t testing.TB, seed uint64) *maker {
	return &maker{t: t, src: seeded(seed), now: clock()}
}

func (m *maker) id() record.ID {
	id, err := record.NewID(m.now(), m.src)
	if err != nil {
		m.t.Fatal(err)
	}
	return id
}

func (m *maker) base() record.Base { return record.Base{ID: m.id()} }

func day(t testing.TB, text string) record.Date {
	t.Helper()
	var d record.Date
	if text == "" {
		return d
	}
	if err := d.UnmarshalJSON([]byte(`"` + text + `"`)); err != nil {
		t.Fatal(err)
	}
	return d
}

// eyeOf makes a patient, a person and the right eye, without storing them.
func (m *maker) eyeOf(name, unitNumber string) (*record.Patient, *record.Person, *record.Eye) {
	patient := &record.Patient{Base: m.base(), BirthYear: 1950, Sex: record.Female}
	person := &record.Person{
		Base: m.base(), PatientID: patient.ID, UnitNumber: unitNumber, BirthDate: day(m.t, "1950-02-03"),
		Names: []record.PersonName{{Text: name, Use: record.NameOfficial}},
	}
	right := &record.Eye{Base: m.base(), PatientID: patient.ID, Side: eye.Right}
	right.Diagnoses = []record.Diagnosis{{Code: record.FullThicknessHole, Since: day(m.t, "2026-01")}}
	return patient, person, right
}

// storedEye stores such a patient, person and eye.
func (m *maker) storedEye(s *store.Store, name, unitNumber string) (*record.Patient, *record.Person, *record.Eye) {
	patient, person, right := m.eyeOf(name, unitNumber)
	write(m.t, s, func(tx *store.Tx) error { return putAll(tx, patient, person, right) })
	return patient, person, right
}

func putAll(tx *store.Tx, all ...record.Entity) error {
	for _, e := range all {
		if _, err := tx.Put(background, e, ""); err != nil {
			return err
		}
	}
	return nil
}

func (m *maker) visit(e *record.Eye, on string) *record.Visit {
	return &record.Visit{Base: m.base(), PatientID: e.PatientID, EyeID: e.ID, On: day(m.t, on), SeenBy: "account-2"}
}

func (m *maker) operation(e *record.Eye, on string, agents ...record.AgentUse) *record.Operation {
	return &record.Operation{
		Base: m.base(), PatientID: e.PatientID, EyeID: e.ID, On: day(m.t, on), Side: e.Side,
		Procedure: record.Vitrectomy, Surgeon: "account-1", Indication: record.FullThicknessHole, Agents: agents,
	}
}

// figures of a scan, with nothing measured in them.
func (m *maker) figures(scan *record.Scan) *record.HoleFigures {
	return &record.HoleFigures{
		Base: m.base(), PatientID: scan.PatientID, EyeID: scan.EyeID, ScanID: scan.ID, Taken: scan.Taken, MeasuredAt: start,
		MeasuredBy: "account-1", Source: record.FiguresAutomatic, Method: "invented", HolePresent: record.Unclear,
	}
}

func (m *maker) scan(e *record.Eye, on, fileDigit string) *record.Scan {
	return &record.Scan{
		Base: m.base(), PatientID: e.PatientID, EyeID: e.ID, Taken: day(m.t, on), File: fileRef(fileDigit),
		SideSources: []record.SideSource{{Source: record.SideFromForm, Text: "right", Side: e.Side}},
	}
}

func number(v float64) *float64 { return &v }

// acuityOf is acuity as package acuity reads it.
func acuityOf(text string) record.AcuityEntry {
	return record.AcuityEntry{Raw: record.FreeText(text), Understood: acuity.Parse(text, acuity.Options{})}
}
