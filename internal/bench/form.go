package bench

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"limitans/fault"
)

// Field is one field of a question as a form asks for it: the flag of the command
// with a label, the unit and the same words of help.
type Field struct {
	// Name is that of the flag without its hyphens, "axial-length".
	Name, Label, Unit, Help string
	Kind                    FieldKind
	Choices                 []string // of a Choice; others are answered by hand
	Value                   string   // as written; lines for Lines
	Required                bool
	// More fields are seldom needed and stand apart.
	More bool
	// Trouble says what is wrong with what was written.
	Trouble string
}

// FieldKind is how a field is answered.
type FieldKind string

// The kinds of fields.
const (
	Text   FieldKind = "text"
	Number FieldKind = "number"
	Choice FieldKind = "choice"
	Yes    FieldKind = "yes" // a box to tick
	Lines  FieldKind = "lines"
)

// Form lists the fields of a question, which is a pointer to one of this package's
// structures, with their defaults.
func Form(question Question) []Field {
	var out []Field
	eachField(reflect.ValueOf(question).Elem(), func(f reflect.StructField, _ reflect.Value) error {
		out = append(out, fieldOf(f))
		return nil
	})
	return out
}

// eachField visits the fields that are asked for, those of embedded structures too.
func eachField(v reflect.Value, visit func(reflect.StructField, reflect.Value) error) error {
	for i := range v.NumField() {
		f := v.Type().Field(i)
		switch {
		case f.Tag.Get("form") == "-":
		case f.Anonymous:
			if err := eachField(v.Field(i), visit); err != nil {
				return err
			}
		default:
			if err := visit(f, v.Field(i)); err != nil {
				return err
			}
		}
	}
	return nil
}

// units are those of the flags' placeholders.
var units = map[string]string{
	"MM": "mm", "CM": "cm", "UM": "µm", "ML": "mL", "UL": "µL", "MMHG": "mmHg", "KPA": "kPa", "PSI": "psi", "BAR": "bar", "CST": "cSt",
	"M": "m", "FT": "ft", "MINUTES": "min", "SECONDS": "s", "DAYS": "days", "MONTHS": "months", "YEARS": "years", "MW": "mW", "LM": "lm", "NM": "nm",
	"DEG": "degrees", "PERCENT": "%", "MN": "mN",
}

func fieldOf(f reflect.StructField) Field {
	out := Field{
		Name: fieldName(f), Help: f.Tag.Get("help"), Unit: units[f.Tag.Get("placeholder")], Value: f.Tag.Get("default"),
		Label: f.Tag.Get("label"), Kind: Text,
	}
	_, out.Required = f.Tag.Lookup("required")
	_, out.More = f.Tag.Lookup("more")
	if page := f.Tag.Get("page"); page != "" { // help that names no flag
		out.Help = page
	}
	for word, text := range Words() {
		out.Help = strings.ReplaceAll(out.Help, "${"+word+"}", text)
	}
	if out.Label == "" {
		out.Label = labelOf(out.Name)
	}
	kind := f.Type
	if kind.Kind() == reflect.Pointer {
		kind = kind.Elem()
	}
	switch {
	case f.Tag.Get("enum") != "":
		out.Kind, out.Choices = Choice, strings.Split(f.Tag.Get("enum"), ",")
	case f.Tag.Get("offer") != "":
		out.Kind, out.Choices = Choice, append([]string{""}, strings.Split(f.Tag.Get("offer"), ",")...)
	case kind.Kind() == reflect.Bool:
		out.Kind = Yes
	case kind.Kind() == reflect.Slice:
		out.Kind = Lines
	case kind.Kind() != reflect.String:
		out.Kind = Number
	}
	return out
}

// fieldName is the flag's: as told, or the words of the name joined by hyphens.
func fieldName(f reflect.StructField) string {
	if name := f.Tag.Get("name"); name != "" {
		return name
	}
	var b strings.Builder
	runes := []rune(f.Name)
	upper := func(i int) bool { return i >= 0 && i < len(runes) && runes[i] >= 'A' && runes[i] <= 'Z' }
	for i, r := range runes {
		if i > 0 && upper(i) && (!upper(i-1) || i+1 < len(runes) && !upper(i+1)) {
			b.WriteByte('-')
		}
		b.WriteRune(r)
	}
	return strings.ToLower(b.String())
}

// labelOf writes a flag's name as words, without its unit.
func labelOf(name string) string {
	words := strings.Split(name, "-")
	if n := len(words); n > 1 && units[strings.ToUpper(words[n-1])] != "" {
		words = words[:n-1]
	}
	text := strings.Join(words, " ")
	return strings.ToUpper(text[:1]) + text[1:]
}

// maxWritten is the longest answer to one field, in bytes.
const maxWritten = 2000

// Read fills a question, a pointer to one of this package's structures, with what
// was written into its form; get gives the text of a field, "on" or nothing of a
// box. Fields that are left empty keep their default. The fields come back as they
// were written, with what is wrong with them; the error is the first of that.
func Read(question Question, get func(name string) string) ([]Field, error) {
	return readInto(reflect.ValueOf(question).Elem(), get)
}

// readInto is Read for any structure with the tags of a question.
func readInto(structure reflect.Value, get func(name string) string) ([]Field, error) {
	var out []Field
	var first error
	_ = eachField(structure, func(f reflect.StructField, v reflect.Value) error {
		field := fieldOf(f)
		written := strings.TrimSpace(get(field.Name))
		if written != "" {
			field.Value = written
		}
		err := setField(v, field)
		if err != nil {
			field.Trouble = troubleOf(err)
			if first == nil {
				first = err
			}
		}
		out = append(out, field)
		return nil
	})
	return out, first
}

// setField reads a field's value into its place.
func setField(v reflect.Value, f Field) error {
	wrong := func(what, expected string) error {
		return &fault.Error{Code: fault.Invalid, Where: "--" + f.Name, What: what, Expected: expected}
	}
	switch {
	case len(f.Value) > maxWritten:
		return wrong("is too long", fmt.Sprintf("at most %d letters", maxWritten))
	case f.Value == "" && f.Required:
		return wrong("is missing", f.Unit)
	case f.Value == "":
		return nil
	case f.Kind == Choice && !slices.Contains(f.Choices, f.Value):
		return wrong(fmt.Sprintf("%q is none of the choices", f.Value), strings.Join(f.Choices, ", "))
	}
	if v.Kind() == reflect.Pointer {
		v.Set(reflect.New(v.Type().Elem()))
		v = v.Elem()
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString(f.Value)
	case reflect.Bool:
		v.SetBool(f.Value == "on" || f.Value == "true")
	case reflect.Float64:
		x, err := decimal(f.Value)
		if err != nil {
			return wrong(fmt.Sprintf("%q is no number", f.Value), "a number such as 24.5")
		}
		v.SetFloat(x)
	case reflect.Int:
		n, err := strconv.Atoi(f.Value)
		if err != nil {
			return wrong(fmt.Sprintf("%q is no whole number", f.Value), "")
		}
		v.SetInt(int64(n))
	case reflect.Uint64:
		n, err := strconv.ParseUint(f.Value, 10, 64)
		if err != nil {
			return wrong(fmt.Sprintf("%q is no whole number", f.Value), "")
		}
		v.SetUint(n)
	case reflect.Slice:
		return setLines(v, f, wrong)
	}
	return nil
}

// setLines reads one entry a line; numbers may also stand behind commas.
func setLines(v reflect.Value, f Field, wrong func(what, expected string) error) error {
	for line := range strings.SplitSeq(strings.ReplaceAll(f.Value, "\r", ""), "\n") {
		if line = strings.TrimSpace(line); line == "" {
			continue
		}
		if v.Type().Elem().Kind() == reflect.String {
			v.Set(reflect.Append(v, reflect.ValueOf(line)))
			continue
		}
		for one := range strings.SplitSeq(line, ",") {
			x, err := strconv.ParseFloat(strings.TrimSpace(one), 64)
			if err != nil {
				return wrong(fmt.Sprintf("%q is no number", one), "numbers with a point, a comma between them")
			}
			v.Set(reflect.Append(v, reflect.ValueOf(x)))
		}
	}
	return nil
}

// decimal reads a number with a point or a comma before its decimals. A comma with
// three digits behind it may be either and is refused.
func decimal(text string) (float64, error) {
	if whole, decimals, cut := strings.Cut(text, ","); cut {
		if len(decimals) == 3 || strings.Contains(text, ".") {
			return 0, strconv.ErrSyntax
		}
		text = whole + "." + decimals
	}
	return strconv.ParseFloat(text, 64)
}

func troubleOf(err error) string {
	f, is := err.(*fault.Error)
	if !is {
		return err.Error()
	}
	text := f.What
	if f.Expected != "" {
		text += "; expected: " + f.Expected
	}
	if f.Mend != "" {
		text += ". " + f.Mend
	}
	return text
}

// Blame writes what is wrong beside the fields that a fault names by their flags,
// and reports whether there was one; what stays is said above the form.
func Blame(fields []Field, err error) bool {
	f, is := err.(*fault.Error)
	if !is {
		return false
	}
	blamed := false
	for where := range strings.SplitSeq(f.Where, ",") {
		name, flag := strings.CutPrefix(strings.TrimSpace(where), "--")
		for i := range fields {
			if flag && fields[i].Name == name {
				fields[i].Trouble, blamed = troubleOf(err), true
			}
		}
	}
	return blamed
}

// Calculator is one question of the bench with its place on it.
type Calculator struct {
	Code, Title, What string
	// New makes an empty question.
	New func() Question
}

// Calculators are those of the bench, in its order.
func Calculators() []Calculator {
	return []Calculator{
		{"bubble", "Bubble", "How long a gas bubble stays, what it covers in which position, and which pressure it makes.", func() Question { return new(Bubble) }},
		{"mix", "Mixture", "The recipe for a gas mixture in the real syringe, with its stops.", func() Question { return new(Mix) }},
		{"altitude", "Height", "What height does to an eye with gas in it. An estimate, never a permission.", func() Question { return new(Altitude) }},
		{"infusion", "Infusion", "What flows of infusion fluid through a gauge at a pressure.", func() Question { return new(Infusion) }},
		{"oil", "Oil in and out", "How long silicone oil takes through a cannula.", func() Question { return new(OilFlow) }},
		{"subretinal-liquid", "Liquid under the retina", "Aspiration of a retained droplet of heavy liquid through a fine cannula.", func() Question { return new(SubretinalLiquid) }},
		{"subretinal-injection", "Injection under the retina", "What flows of salt solution through a fine cannula.", func() Question { return new(SubretinalInjection) }},
		{"light", "Light", "Light on the retina as a dose: what is used and what is left, on two bases that never mix.", func() Question { return new(Light) }},
		{"dye", "Dye", "The recipe for a vital dye, with its stops: strength, mixing, contact time.", func() Question { return new(Dye) }},
		{"ports", "Ports", "Where to enter an eye, and what reaches from there.", func() Question { return new(Ports) }},
		{"acuity", "Acuity", "What an acuity means as it was written.", func() Question { return new(Acuity) }},
		{"closure", "Closure to expect", "Closure that can be expected of a hole of a size, from published counts.", func() Question { return new(Closure) }},
		{"published", "Published results", "Published counts by technique, study by study, and what they say together.", func() Question { return new(Published) }},
	}
}

// CalculatorOf finds a calculator by its code.
func CalculatorOf(code string) (Calculator, bool) {
	for _, c := range Calculators() {
		if c.Code == code {
			return c, true
		}
	}
	return Calculator{}, false
}
