package demo

import (
	"fmt"
	"iter"
	"math/rand/v2"
	"time"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/oct/phantom"
)

// MaxPatients is the largest clinic that can be asked for.
const MaxPatients = 1_000_000

// Clinic is an invented unit on one day.
type Clinic struct {
	patients int
	seed     uint64
	today    record.Date
	batches  []*record.Batch
	bubbles  bubbleCourses
}

// Entry is one stored noun with the moment at which it was written and by whom.
type Entry struct {
	At     time.Time
	By     record.Actor
	Entity record.Entity
}

// Case is everything about one patient, in the order in which it was written.
type Case struct {
	Number  int    // 0, 1, …
	Course  string // name of the course, see [Courses]
	Lost    bool   // the patient stopped coming
	Entries []Entry
	// Drawings says how to draw the scans among the entries.
	Drawings map[record.ID]phantom.Parameters
}

// New prepares a clinic of 1 to [MaxPatients] patients as it stands on a day.
// Equal arguments give equal clinics.
func New(patients int, seed uint64, today record.Date) (*Clinic, error) {
	if patients < 1 || patients > MaxPatients {
		return nil, &fault.Error{
			Code: fault.Invalid, Where: "patients", What: fmt.Sprintf("%d patients cannot be invented", patients),
			Expected: fmt.Sprintf("1 to %d", MaxPatients),
		}
	}
	if !today.Full() || today.Relative || today.Check() != nil || today.Year < 1990 {
		return nil, &fault.Error{Code: fault.Invalid, Where: "today", What: "not a full day of the calendar", Expected: "a day from 1990 on"}
	}
	c := &Clinic{patients: patients, seed: seed, today: today}
	batches, err := inventBatches(seed, today)
	if err != nil {
		return nil, err
	}
	c.batches = batches
	return c, nil
}

// Batches returns the batches of agents that the unit held; they are to be
// stored before the cases that name them.
func (c *Clinic) Batches() []*record.Batch { return append([]*record.Batch(nil), c.batches...) }

// Cases tells the patients one after the other. It stops at the first fault.
func (c *Clinic) Cases() iter.Seq2[*Case, error] {
	return func(yield func(*Case, error) bool) {
		for n := range c.patients {
			one, err := c.Case(n)
			if !yield(one, err) || err != nil {
				return
			}
		}
	}
}

// Case tells patient number n, counted from 0.
func (c *Clinic) Case(n int) (*Case, error) {
	if n < 0 || n >= c.patients {
		return nil, &fault.Error{Code: fault.NotFound, Where: "invented clinic", What: fmt.Sprintf("there is no patient %d", n), Expected: fmt.Sprintf("0 to %d", c.patients-1)}
	}
	if n == freshPatient {
		return c.freshCase()
	}
	b := c.tell(n, 0)
	return b.out, b.err
}

// tell tells patient n, from a first visit so many days ago or, with 0, from a day
// that is drawn.
func (c *Clinic) tell(n, startDaysAgo int) *teller {
	b := newTeller(c, n)
	chosen := courseOf(n, b.rng)
	b.out.Course, b.startDaysAgo = chosen.Name, startDaysAgo
	b.introduce(chosen)
	chosen.tell(b)
	return b
}

// One patient was operated with gas a few days ago, on purpose: by chance a small
// clinic has nobody with gas in the eye, and it is then that one looks at a bubble.
const (
	freshPatient  = 12 // after those who have one course each
	freshCourse   = 1  // of the table: always gas
	freshDaysAgo  = 3
	longEnoughAgo = 100 // from the first visit to the operation and beyond
)

// freshCase tells the patient twice: once to see how long the operation is waited
// for, once from the day that makes it fresh. Days change nothing else in a story.
func (c *Clinic) freshCase() (*Case, error) {
	b := c.tell(freshPatient, longEnoughAgo)
	for _, e := range b.out.Entries {
		if o, is := e.Entity.(*record.Operation); is {
			daysAgo, _ := o.On.DaysUntil(c.today)
			b = c.tell(freshPatient, longEnoughAgo-daysAgo+freshDaysAgo)
			break
		}
	}
	return b.out, b.err
}

// Course is one way an eye can go.
type Course struct {
	Name string
	// Weight is how often it comes, relative to the others.
	Weight int
	// About says in a sentence what happens.
	About string

	ageFrom, ageTo           int
	axialFromMM, axialToMM   float64
	longestDays, lossPercent int // first visit at most so many days ago; share lost to follow-up
	tell                     func(*teller)
}

var courses = []Course{
	{"small hole", 12, "A fresh hole under 250 µm: vitrectomy with membrane peel, air or a short gas.", 58, 78, 22.4, 24.6, 1200, 10, (*teller).smallHole},
	{"medium hole", 10, "A hole of 250 to 400 µm: peel and gas.", 58, 80, 22.2, 24.8, 1200, 10, (*teller).mediumHole},
	{"large hole", 12, "A hole over 400 µm, often old: inverted flap.", 60, 84, 22.0, 24.8, 1300, 12, (*teller).largeHole},
	{"myopic hole", 6, "A hole in a long eye, sometimes with detachment: flap, gas or oil.", 45, 70, 27.0, 32.0, 1400, 12, (*teller).myopicHole},
	{"failed hole", 7, "A hole that stayed open after the first operation and is operated again.", 60, 80, 22.2, 26.0, 1400, 12, (*teller).failedHole},
	{"epiretinal membrane", 18, "A membrane without a known cause: peeled, slow gain.", 60, 82, 22.2, 25.5, 1400, 15, (*teller).membrane},
	{"vein occlusion with membrane", 6, "A fragile membrane after an old branch vein occlusion; guarded gain.", 58, 80, 22.4, 24.6, 1400, 15, (*teller).veinOcclusion},
	{"recurrent detachment", 9, "A detachment that came back with membranes over the macula: peel under heavy liquid, oil, oil out or still in.", 40, 75, 23.0, 27.5, 1200, 18, (*teller).recurrentDetachment},
	{"retained heavy liquid", 4, "Heavy liquid found under the fovea after a detachment repair.", 40, 72, 23.0, 27.0, 1000, 10, (*teller).retainedLiquid},
	{"traction", 6, "Vitreomacular traction that is watched; some let go, some are operated.", 60, 80, 22.2, 24.6, 1000, 20, (*teller).traction},
	{"lamellar hole", 5, "A lamellar hole that is watched and not operated.", 60, 82, 22.2, 25.0, 1400, 20, (*teller).lamellar},
}

// Courses returns the table of courses.
func Courses() []Course { return append([]Course(nil), courses...) }

// courseOf gives the first patients one course each, so that a small clinic has
// all of them, and draws the others by weight.
func courseOf(n int, rng *rand.Rand) Course {
	total := 0
	for _, c := range courses {
		total += c.Weight
	}
	at := rng.IntN(total)
	if n < len(courses) {
		return courses[n]
	}
	if n == freshPatient {
		return courses[freshCourse]
	}
	for _, c := range courses {
		if at < c.Weight {
			return c
		}
		at -= c.Weight
	}
	return courses[0]
}

// inventBatches makes a batch of each agent for every quarter of the last five years.
func inventBatches(seed uint64, today record.Date) ([]*record.Batch, error) {
	random := randomBytes(seed, "batches", 0)
	goods := []struct {
		class   record.AgentClass
		product string
		prefix  string
	}{
		{record.AgentDye, "Invented brilliant blue G 0.025 %", "B"},
		{record.AgentGas, string(record.SF6), "S"},
		{record.AgentGas, string(record.C2F6), "E"},
		{record.AgentGas, string(record.C3F8), "P"},
		{record.AgentOil, "Invented silicone oil 1300 cSt", "O"},
		{record.AgentHeavyLiquid, "Invented perfluoro-octane", "H"},
	}
	var out []*record.Batch
	for quarter := range batchQuarters {
		made, ok := today.AddDays(-quarterDays * (batchQuarters - quarter))
		if !ok {
			return nil, &fault.Error{Code: fault.Internal, Where: "invented batches", What: "no day before today"}
		}
		for _, g := range goods {
			id, err := record.NewID(momentOf(made, 7*60), random)
			if err != nil {
				return nil, err
			}
			expiry := record.Date{Year: made.Year + shelfYears, Month: made.Month}
			out = append(out, &record.Batch{
				Base: record.Base{ID: id}, Class: g.class, Product: g.product, Maker: "Nowhere Ophthalmics (invented)",
				Lot: fmt.Sprintf("%s%02d%02d-%d", g.prefix, made.Year%100, made.Month, quarter), Expiry: expiry,
			})
		}
	}
	return out, nil
}

const (
	quarterDays   = 91
	batchQuarters = 20
	shelfYears    = 3
)

// batch finds the newest batch made on or before a day.
func (c *Clinic) batch(product string, on record.Date) *record.Batch {
	age, _ := on.DaysUntil(c.today)
	quarter := batchQuarters - 1 - age/quarterDays
	quarter = max(quarter, 0)
	for _, b := range c.batches[quarter*len(c.batches)/batchQuarters:] {
		if b.Product == product {
			return b
		}
	}
	return nil
}

// momentOf is a minute of a day in UTC.
func momentOf(d record.Date, minute int) time.Time {
	return time.Date(d.Year, time.Month(d.Month), d.Day, 0, minute, 0, 0, time.UTC)
}

// randomBytes is the source of the IDs of one subject.
func randomBytes(seed uint64, subject string, n int) *rand.ChaCha8 {
	var key [32]byte
	copy(key[:], fmt.Sprintf("%-12.12s%08x%012x", subject, uint32(n), seed&0xffffffffffff))
	return rand.NewChaCha8(key)
}
