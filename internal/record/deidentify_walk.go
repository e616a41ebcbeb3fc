package record

import (
	"encoding/json"
	"reflect"
	"slices"
	"time"

	"limitans/acuity"
	"limitans/estimate"
	"limitans/eye"
)

// programTexts are the plain text fields that this program words itself, or that hold
// one of its own codes. They are the only plain texts that stay; a new text field is
// left out until it is entered here. Warnings and formats are not among them: readers
// of files may quote the file in them.
var programTexts = map[string]bool{
	"HoleFigures.Method": true, "HoleFigures.ProgramVersion": true, "HoleFigures.Basis": true,
	"NamedFigure.Name": true, "Plan.Chosen": true, "PlanOption.Code": true, "PlanOption.Name": true,
	"PlanOption.Why": true, "PlanOption.WhyNot": true, "Blob.Schema": true,
}

// typedTexts are those of programTexts that a person words when the figures were
// typed or drawn by hand.
var typedTexts = map[string]bool{
	"HoleFigures.Method": true, "HoleFigures.ProgramVersion": true, "HoleFigures.Basis": true, "NamedFigure.Name": true,
}

// leftOutBasis stands for a basis that a person may have worded.
const leftOutBasis = "basis left out of the de-identified view"

// copyOf copies what may stay of one entry into a new one.
func (d *deidentifier) copyOf(e Entity) Entity {
	from := reflect.ValueOf(e).Elem()
	to := reflect.New(from.Type())
	d.value(from, to.Elem(), from.Type().Name())
	return to.Interface().(Entity)
}

// value copies from into to, which is zero. field is "Type.Field" of the field that
// holds the value. Whatever is not named here stays zero.
func (d *deidentifier) value(from, to reflect.Value, field string) {
	if from.IsZero() || d.known(from, to) {
		return
	}
	switch from.Kind() {
	case reflect.Bool, reflect.Int, reflect.Int64, reflect.Float64:
		to.Set(from)
	case reflect.String:
		d.text(from, to, field)
	case reflect.Pointer:
		to.Set(reflect.New(from.Type().Elem()))
		d.value(from.Elem(), to.Elem(), field)
	case reflect.Slice:
		if from.Type().Elem().Kind() == reflect.Uint8 {
			return
		}
		to.Set(reflect.MakeSlice(from.Type(), from.Len(), from.Len()))
		for i := range from.Len() {
			d.value(from.Index(i), to.Index(i), field)
		}
	case reflect.Struct:
		if from.Type().PkgPath() != reflect.TypeFor[Date]().PkgPath() {
			return
		}
		for i := range from.NumField() {
			if f := from.Type().Field(i); f.IsExported() {
				d.value(from.Field(i), to.Field(i), from.Type().Name()+"."+f.Name)
			}
		}
	}
}

// text keeps coded words and the texts of this program.
func (d *deidentifier) text(from, to reflect.Value, field string) {
	isWord, coded := isKnownWord(from)
	switch {
	case coded && isWord:
		to.Set(from)
	case from.Type() == reflect.TypeFor[string]() && programTexts[field] && !(d.typed && typedTexts[field]):
		to.Set(from)
	case field == "Scan.ScaleTrust" && scaleTrustKnown(from.String()):
		to.Set(from)
	default:
		d.view.Report.FreeTexts++
	}
}

// known treats the types that have a rule of their own.
func (d *deidentifier) known(from, to reflect.Value) bool {
	set := func(x any) { to.Set(reflect.ValueOf(x)) }
	switch at := from.Interface().(type) {
	case ID:
		set(d.pseudonym(at))
	case AccountID:
		set(AccountID(d.code("account", string(at))))
	case Date:
		set(d.date(at))
	case time.Time:
		d.view.Report.DatesDropped++
	case FreeText:
		d.view.Report.FreeTexts++
	case Clock:
		if _, ok := at.Seconds(); ok {
			set(at)
		}
	case FileRef:
		d.view.Report.Files++
	case json.RawMessage:
		d.view.Report.Blobs++
	case []Override:
		// An override says who passed a stop and why: a matter of the unit.
		d.view.Report.FreeTexts += len(at)
	case eye.Laterality, ClockHour:
		to.Set(from)
	case FindingCode:
		if _, ok := ruleOf(at); ok {
			to.Set(from)
		}
	case estimate.Estimate:
		if d.typed {
			at.Basis = leftOutBasis
		}
		set(at)
	case acuity.Entry:
		set(cleanAcuity(at))
	case acuity.Reading:
		set(acuity.Reading{Kind: at.Kind, LogMAR: at.LogMAR, Letters: at.Letters, Scheme: at.Scheme})
	case acuity.Role:
		if slices.Contains([]acuity.Role{acuity.Corrected, acuity.Uncorrected, acuity.Pinhole, acuity.RoleUnknown}, at) {
			to.Set(from)
		}
	default:
		return false
	}
	return true
}

// cleanAcuity keeps the value and how it came about; the text and the notes, which
// repeat words of the text, stay behind.
func cleanAcuity(e acuity.Entry) acuity.Entry {
	out := acuity.Entry{
		Kind: e.Kind, LogMAR: e.LogMAR, Letters: e.Letters, Scheme: e.Scheme, Role: e.Role, DistanceM: e.DistanceM,
		Missing: e.Missing, Partial: e.Partial, LettersMissed: e.LettersMissed, LettersGained: e.LettersGained, Side: e.Side,
	}
	for _, r := range e.Readings {
		out.Readings = append(out.Readings, acuity.Reading{Kind: r.Kind, LogMAR: r.LogMAR, Letters: r.Letters, Scheme: r.Scheme})
	}
	return out
}

// date turns a date into days from the first operation, or into its year.
func (d *deidentifier) date(from Date) Date {
	if !from.Known() || from.Relative {
		if from.Raw != "" {
			d.view.Report.DatesDropped++
		}
		return Date{}
	}
	reference := d.events[d.patient].reference()
	if d.options.Days == YearOnly {
		if reference.Known() && reference.Year-from.Year > ageGroupedAbove {
			d.view.Report.DatesDropped++
			return Date{}
		}
		return Date{Year: from.Year}
	}
	days, ok := reference.DaysUntil(Date{Year: from.Year, Month: from.Month, Day: from.Day})
	const daysPerYear = 365
	if !ok || days < -ageGroupedAbove*daysPerYear {
		d.view.Report.DatesDropped++
		return Date{}
	}
	return RelativeDay(days)
}
