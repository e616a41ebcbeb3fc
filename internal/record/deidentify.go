package record

import (
	"cmp"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"limitans/fault"
)

// Clinical is a set of clinical values without any identifying kind. A
// de-identified view begins here: the query that fills it never reads a kind that
// [Kinds] marks as identifying.
type Clinical struct {
	Patients   []*Patient
	Eyes       []*Eye
	Scans      []*Scan
	Figures    []*HoleFigures
	Plans      []*Plan
	Operations []*Operation
	Visits     []*Visit
	Films      []*Film
}

// DayView says what becomes of dates.
type DayView int

// The views of days.
const (
	// DaysFromOperation: each date becomes a number of days from the first
	// operation of its patient (the first visit or scan where there was none).
	DaysFromOperation DayView = iota
	// YearOnly: each date keeps its year.
	YearOnly
)

// ViewOptions of a de-identified view.
type ViewOptions struct {
	Days DayView
	// Key makes the pseudonyms: the same key gives the same pseudonyms, another key
	// others. Whoever has it and the record can go back; it stays with the unit. At
	// least 16 bytes.
	Key []byte
}

// Age is an age in completed calendar years (year of surgery less year of birth,
// so up to one too many). Above 89 it is grouped.
type Age struct {
	Known   bool
	Years   int  // 0 when grouped or unknown
	Over89  bool // "90 or older"
	NoEvent bool // there was no operation: nothing to tell an age at
}

// String returns "67", "90 or older" or "not known".
func (a Age) String() string {
	switch {
	case !a.Known:
		return "not known"
	case a.Over89:
		return "90 or older"
	}
	return fmt.Sprint(a.Years)
}

// View is a de-identified set. Its identifiers are pseudonyms, its accounts too; its
// dates are relative or years; it holds no free text.
type View struct {
	Clinical
	AgeAtFirstSurgery map[ID]Age // by pseudonym of the patient
	Report            ViewReport
}

// ViewReport says what was left out, so that a reader knows what he does not see,
// and what may still identify.
type ViewReport struct {
	Struck       int // entries that were struck out
	FreeTexts    int // free texts and typed names that were not empty
	Blobs        int // documents and maps whose content is not known here
	Files        int // file references; names and hashes never leave the unit
	DatesDropped int // unknown, partly known, or so early that they tell an age above 89
	NoReference  int // patients without any dated event
	Orphans      int // entries whose patient is not in the set; left out
	NoOperation  int // patients whose days count from the first visit or scan
	SmallGroups  int // patients in groups of fewer than SmallestGroup
	Cautions     []string
}

// SmallestGroup is the size below which patients who share age band, sex and
// indication are called few: a rare case can be recognised. Common practice, no
// source.
const SmallestGroup = 5

// shortestKey in bytes.
const shortestKey = 16

// ageGroupedAbove: ages over 89 are grouped, together with all dates that tell them.
// Source: HIPAA Privacy Rule, safe harbour, 45 CFR 164.514(b)(2)(i)(C), from memory.
const ageGroupedAbove = 89

// DeIdentify makes a view without identifiers from clinical values; they are not
// changed. What it does follows the safe harbour list of the HIPAA Privacy Rule, 45
// CFR 164.514(b)(2), from memory:
//
//   - it takes no identifying kind, so that names, numbers, contacts, addresses and
//     distances cannot be in it;
//   - identifiers and accounts become pseudonyms, HMAC-SHA256 of the identifier with
//     the unit's key; an identifier here would tell when it was made;
//   - no date remains but as days from the first operation, or as a year; birth years
//     become an age, grouped above 89;
//   - free text, typed names of products, lot numbers, file names and hashes, maps and
//     documents are left out: only numbers, coded words and texts of this program
//     remain. A field of a type that is not known here is left out too;
//   - the order of entries does not follow the order of entering.
//
// What it cannot do: intervals between visits, a rare diagnosis, an unusual course or
// an extreme figure can identify somebody to whoever knows the case. SmallGroups counts
// some of that; whether the view may leave the unit is for a person to decide under the
// law of the place.
func DeIdentify(in Clinical, options ViewOptions) (View, error) {
	if len(options.Key) < shortestKey {
		return View{}, &fault.Error{Code: fault.Invalid, Where: "key of the view", What: fmt.Sprintf("has %d bytes", len(options.Key)), Expected: fmt.Sprintf("at least %d secret bytes", shortestKey)}
	}
	if options.Days != DaysFromOperation && options.Days != YearOnly {
		return View{}, &fault.Error{Code: fault.Invalid, Where: "view of days", What: "is not known"}
	}
	d := &deidentifier{options: options, view: View{AgeAtFirstSurgery: map[ID]Age{}}}
	events := eventsByPatient(in)
	for _, p := range in.Patients {
		if p == nil || p.Struck() {
			d.view.Report.Struck += boolToInt(p != nil)
			continue
		}
		d.patients = append(d.patients, p.ID)
		e := events[p.ID]
		d.view.AgeAtFirstSurgery[d.pseudonym(p.ID)] = ageAt(p, e)
		d.view.Report.NoOperation += boolToInt(!e.operation.Known() && e.any.Known())
		d.view.Report.NoReference += boolToInt(!e.reference().Known())
	}
	slices.Sort(d.patients)
	d.events = events
	out := &d.view.Clinical
	out.Patients = clean(d, in.Patients)
	out.Eyes = clean(d, in.Eyes)
	out.Scans = clean(d, in.Scans)
	out.Figures = clean(d, in.Figures)
	out.Plans = clean(d, in.Plans)
	out.Operations = clean(d, in.Operations)
	out.Visits = clean(d, in.Visits)
	out.Films = clean(d, in.Films)
	for _, p := range out.Patients {
		p.BirthYear = 0
	}
	d.smallGroups(in)
	d.cautions()
	return d.view, nil
}

func boolToInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

// patientEvents are the days a patient's time axis can begin with.
type patientEvents struct {
	operation Date // first operation, of either eye
	any       Date // first visit or scan
}

func (e patientEvents) reference() Date {
	if e.operation.Known() {
		return e.operation
	}
	return e.any
}

func eventsByPatient(in Clinical) map[ID]patientEvents {
	events := map[ID]patientEvents{}
	take := func(into *Date, d Date) {
		if d.Full() && !d.Relative && (!into.Known() || d.Compare(*into) < 0) {
			*into = Date{Year: d.Year, Month: d.Month, Day: d.Day}
		}
	}
	for _, o := range standing(in.Operations) {
		e := events[o.PatientID]
		take(&e.operation, o.On)
		events[o.PatientID] = e
	}
	other := func(patient ID, on Date) {
		e := events[patient]
		take(&e.any, on)
		events[patient] = e
	}
	for _, v := range standing(in.Visits) {
		other(v.PatientID, v.On)
	}
	for _, s := range standing(in.Scans) {
		other(s.PatientID, s.Taken)
	}
	return events
}

func ageAt(p *Patient, e patientEvents) Age {
	switch years := e.operation.Year - p.BirthYear; {
	case !e.operation.Known():
		return Age{NoEvent: true}
	case p.BirthYear == 0 || years < 0 || years > oldestYears+1:
		return Age{}
	case years > ageGroupedAbove:
		return Age{Known: true, Over89: true}
	default:
		return Age{Known: true, Years: years}
	}
}

type deidentifier struct {
	options  ViewOptions
	view     View
	patients []ID // in the set, sorted
	events   map[ID]patientEvents
	patient  ID // whose entry is being cleaned
	typed    bool
}

// pseudonym of an identifier or account; empty stays empty.
func (d *deidentifier) pseudonym(id ID) ID { return Pseudonym(d.options.Key, id) }

// Pseudonym is what [DeIdentify] with this key makes of an identifier: 24
// hexadecimal digits behind a v. Without the key it leads back to nothing.
func Pseudonym(key []byte, id ID) ID { return ID(codeOf(key, "id", string(id))) }

// pseudonymBytes is how much of the HMAC is kept: 96 bits, so that two of a million
// identifiers collide with a chance of about 10⁻¹⁷.
const pseudonymBytes = 12

func (d *deidentifier) code(kind, text string) string { return codeOf(d.options.Key, kind, text) }

func codeOf(key []byte, kind, text string) string {
	if text == "" {
		return ""
	}
	mac := hmac.New(sha256.New, key)
	mac.Write([]byte(kind + "\x00" + text)) // a hash never fails
	return "v" + hex.EncodeToString(mac.Sum(nil)[:pseudonymBytes])
}

// clean copies what may stay of every standing entry of the patients in the set,
// sorted by pseudonym.
func clean[T Entity](d *deidentifier, all []T) []T {
	var out []T
	for _, e := range all {
		if isNil(e) {
			continue
		}
		if e.Identity().Struck() {
			if e.Kind() != KindPatient { // counted where ages are taken
				d.view.Report.Struck++
			}
			continue
		}
		d.patient = e.Links().PatientID
		if _, in := slices.BinarySearch(d.patients, d.patient); !in {
			d.view.Report.Orphans++
			continue
		}
		d.typed = false
		if f, is := any(e).(*HoleFigures); is {
			d.typed = f.Source != FiguresAutomatic && f.Source != FiguresConfirmed && f.Source != FiguresCorrected
		} else {
			d.typed = true
		}
		out = append(out, d.copyOf(e).(T))
	}
	slices.SortFunc(out, func(a, b T) int { return cmp.Compare(a.Identity().ID, b.Identity().ID) })
	return out
}

// smallGroups counts patients who share age band, sex and first indication with too
// few others.
func (d *deidentifier) smallGroups(in Clinical) {
	first := map[ID]*Operation{}
	for _, o := range standing(in.Operations) {
		if first[o.PatientID] == nil {
			first[o.PatientID] = o
		}
	}
	groups := map[string]int{}
	for _, p := range in.Patients {
		if p == nil || p.Struck() {
			continue
		}
		key := string(p.Sex)
		age := ageAt(p, d.events[p.ID])
		key += fmt.Sprintf(" %v %v %d", age.Known, age.Over89, age.Years/10)
		if o := first[p.ID]; o != nil {
			key += " " + string(o.Indication)
		}
		groups[key]++
	}
	for _, n := range groups {
		if n < SmallestGroup {
			d.view.Report.SmallGroups += n
		}
	}
}

func (d *deidentifier) cautions() {
	r := &d.view.Report
	r.Cautions = append(r.Cautions, "a rare case, an unusual age or course can identify by itself; whether this may leave the unit is for a person to decide")
	if r.SmallGroups > 0 {
		r.Cautions = append(r.Cautions, fmt.Sprintf("%d patients share decade of age, sex and indication with fewer than %d others in this set", r.SmallGroups, SmallestGroup))
	}
	if r.NoReference > 0 {
		r.Cautions = append(r.Cautions, fmt.Sprintf("%d patients have no dated event: their days are left out", r.NoReference))
	}
	if r.NoOperation > 0 {
		r.Cautions = append(r.Cautions, fmt.Sprintf("%d patients had no operation: their days count from the first visit or scan", r.NoOperation))
	}
}

// NeutralFileName names a file of the view by kind, pseudonym and place, and takes
// only the ending from its media type; nothing of the original name.
func NeutralFileName(kind Kind, pseudonym ID, number int, mediaType string) string {
	ending := map[string]string{
		"application/dicom": ".dcm", "image/tiff": ".tif", "image/png": ".png", "image/jpeg": ".jpg",
		"video/mp4": ".mp4", "video/quicktime": ".mov", "application/pdf": ".pdf", "application/json": ".json",
	}[strings.ToLower(mediaType)]
	return fmt.Sprintf("%s-%s-%d%s", kind, pseudonym, number, ending)
}
