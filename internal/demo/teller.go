package demo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"limitans/acuity"
	"limitans/eye"
	"limitans/internal/record"
	"limitans/oct/phantom"
)

// teller writes one case. Its day moves on; what lies after today, or after the
// day on which the patient stopped coming, is not written.
type teller struct {
	clinic *Clinic
	rng    *rand.Rand
	ids    *rand.ChaCha8
	out    *Case
	err    error

	startDaysAgo int // first visit; 0: a day that is drawn

	day     record.Date
	minute  int // of the day
	silent  bool
	lostOn  record.Date // zero: never
	patient *record.Patient
	eye     *record.Eye
	surgeon record.AccountID
	// lens, medium and bubble are the eye's present state.
	lens      record.LensState
	medium    record.Medium
	bubble    *bubble
	lastVisit *record.Visit
}

func newTeller(c *Clinic, n int) *teller {
	rng := rand.New(rand.NewPCG(c.seed, uint64(n)+1))
	t := &teller{
		clinic: c, rng: rng, ids: randomBytes(c.seed, "case", n),
		out: &Case{Number: n, Drawings: map[record.ID]phantom.Parameters{}}, minute: 8 * 60,
		surgeon: firstSurgeon, medium: record.MediumFluid,
	}
	if rng.IntN(3) == 0 {
		t.surgeon = secondSurgeon
	}
	return t
}

func (t *teller) between(low, high float64) float64 { return low + (high-low)*t.rng.Float64() }
func (t *teller) chance(percent int) bool           { return t.rng.IntN(100) < percent }

// wait moves to a later day. After today, or after the patient was lost,
// nothing more is written.
func (t *teller) wait(days int) {
	next, ok := t.day.AddDays(days)
	if !ok {
		t.silent = true
		return
	}
	t.day, t.minute = next, 8*60+t.rng.IntN(8*60)
	if t.clinic.today.CertainlyBefore(next) || t.lostOn.Known() && t.lostOn.CertainlyBefore(next) {
		t.silent = true
	}
}

// write enters a noun and returns whether it was written.
func (t *teller) write(by record.AccountID, e record.Entity) bool {
	if t.silent || t.err != nil {
		return false
	}
	at := t.now()
	if e.Identity().ID == "" {
		id, err := record.NewID(at, t.ids)
		if err != nil {
			t.err = err
			return false
		}
		e.Identity().ID = id
	}
	t.minute++
	t.out.Entries = append(t.out.Entries, Entry{At: at, By: record.Actor{AccountID: by, Place: "invented workstation"}, Entity: e})
	return true
}

func (t *teller) now() time.Time { return momentOf(t.day, t.minute) }

func (t *teller) sign(by record.AccountID) *record.Signature {
	return &record.Signature{By: record.Actor{AccountID: by, Place: "invented workstation"}, At: t.now()}
}

// introduce writes who the patient is and which eye it is about.
func (t *teller) introduce(c Course) {
	first := 20 + t.rng.IntN(c.longestDays)
	if t.startDaysAgo > 0 {
		first = t.startDaysAgo
	}
	t.day, _ = t.clinic.today.AddDays(-first)
	if t.out.Number >= len(courses) && t.startDaysAgo == 0 && t.chance(c.lossPercent) {
		t.out.Lost = true
		t.lostOn, _ = t.day.AddDays(15 + t.rng.IntN(150))
	}
	age := c.ageFrom + t.rng.IntN(c.ageTo-c.ageFrom+1)
	born := record.Date{Year: t.day.Year - age, Month: 1 + t.rng.IntN(12), Day: 1 + t.rng.IntN(28)}
	t.patient = &record.Patient{BirthYear: born.Year, Sex: record.Female, NoAllergies: true}
	if t.rng.IntN(5) < 2 {
		t.patient.Sex = record.Male
	}
	if t.chance(30) {
		t.patient.Conditions = append(t.patient.Conditions, record.Condition{Code: record.Hypertension})
	}
	if t.chance(6) {
		t.patient.ClotRisk, t.patient.ClotRiskWhy = record.Yes, "clot in the leg two years ago"
		t.patient.Conditions = append(t.patient.Conditions, record.Condition{Code: record.VenousClot})
	}
	t.write(clinicNurse, t.patient)
	distance := math.Round(t.between(1, 90))
	t.write(clinicNurse, &record.Person{
		PatientID: t.patient.ID, Names: []record.PersonName{inventedName(t.rng, t.out.Number)}, BirthDate: born,
		UnitNumber: unitNumber(t.out.Number), DistanceKm: &distance,
		Contacts: []record.Contact{{Way: record.ContactPhone, Value: fmt.Sprintf("000 555 %04d (invented)", t.out.Number%10000)}},
	})
	side, other := eye.Right, eye.Left
	if t.chance(50) {
		side, other = other, side
	}
	length := math.Round(t.between(c.axialFromMM, c.axialToMM)*100) / 100
	t.eye = &record.Eye{
		PatientID: t.patient.ID, Side: side,
		AxialLengths: []record.AxialLength{{LengthMM: length, Method: record.BiometryLight, MediumThen: record.MediumFluid, On: t.day}},
	}
	t.write(clinicNurse, &record.Eye{PatientID: t.patient.ID, Side: other})
	t.lens = record.LensCataract
	switch roll := t.rng.IntN(10); {
	case roll < 4:
		t.lens = record.LensPseudophakic
	case roll < 6 && age < 65:
		t.lens = record.LensClear
	}
}

// hasEye writes the eye with what is wrong with it. Stories call it first.
func (t *teller) hasEye(codes ...record.DiagnosisCode) {
	for _, c := range codes {
		t.eye.Diagnoses = append(t.eye.Diagnoses, record.Diagnosis{Code: c, Since: record.Date{Year: t.day.Year, Month: t.day.Month}})
	}
	t.write(clinicNurse, t.eye)
}

// seen is one visit to write: sight by logMAR, or by words off the chart.
type seen struct {
	logMAR    float64
	pressure  float64
	closure   record.ClosureClass
	problems  []record.ComplicationCode
	media     []record.MediumSeen // beside gas and air, which every visit looks for
	dueInDays int
	dueFor    record.DueFor
	note      record.FreeText
}

// visit writes what was seen today.
func (t *teller) visit(s seen) {
	v := &record.Visit{
		PatientID: t.patient.ID, EyeID: t.eye.ID, On: t.day, At: record.Clock(t.now().Format("15:04")), SeenBy: clinicNurse,
		Lens: t.lens, MediaSeen: slices.Clone(s.media), Note: s.note,
	}
	t.lookForGas(v)
	entry := record.AcuityEntry{Raw: record.FreeText(t.written(s.logMAR))}
	entry.Understood = acuity.Parse(string(entry.Raw), acuity.Options{})
	if t.medium != record.MediumFluid {
		entry.Through = t.medium
	}
	v.Acuities = []record.AcuityEntry{entry}
	pressure := math.Round(s.pressure)
	v.Pressures = []record.Pressure{{MmHg: &pressure, Method: record.PressureApplanation, At: v.At, NoDrops: pressure < 24}}
	if pressure >= 24 {
		v.Pressures[0].Drops = []record.FreeText{"pressure-lowering drops started"}
		v.Medication = append(v.Medication, record.Medication{Class: record.PressureLowering, Name: "pressure-lowering drops", From: t.day})
	}
	if s.closure != "" {
		v.Closure = &record.Closure{Class: s.closure, Source: record.ClosureFromOCT, By: t.surgeon}
	}
	for _, code := range s.problems {
		v.Complications = append(v.Complications, record.Complication{Code: code, Since: t.day})
	}
	v.NoComplications = len(v.Complications) == 0
	if s.dueInDays > 0 {
		v.DueBy, _ = t.day.AddDays(s.dueInDays)
		v.DueFor = s.dueFor
	}
	v.Signed = t.sign(clinicNurse)
	t.write(clinicNurse, v)
	t.lastVisit = v
}

// quiet is a pressure without a problem.
func (t *teller) quiet() float64 { return t.between(11, 19) }

// written puts sight into the words of a clinic that tests at 6 m, with the
// habits of several people.
func (t *teller) written(logMAR float64) string {
	lines := []float64{5, 6, 9, 12, 18, 24, 36, 60}
	switch {
	case logMAR > 2.5:
		return "PL"
	case logMAR > 2.1:
		return "HM"
	case logMAR > 1.6:
		return fmt.Sprintf("CF %dm", 1+t.rng.IntN(2))
	case logMAR > 1.1:
		return "3/60"
	}
	best := lines[0]
	for _, l := range lines {
		if math.Abs(math.Log10(l/6)-logMAR) < math.Abs(math.Log10(best/6)-logMAR) {
			best = l
		}
	}
	text := fmt.Sprintf("6/%.0f", best)
	switch roll := t.rng.IntN(10); {
	case roll == 0:
		text += "-2"
	case roll == 1:
		text += " +1"
	case roll == 2:
		text += fmt.Sprintf(" ph 6/%.0f", better(lines, best))
	case roll == 3:
		text = fmt.Sprintf("logMAR %.2f", math.Round(logMAR*50)/50)
	}
	return text
}

// better is the next line up.
func better(lines []float64, line float64) float64 {
	for i, l := range lines {
		if l == line && i > 0 {
			return lines[i-1]
		}
	}
	return line
}
