package web

import (
	"encoding/json"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"limitans/decide"
	"limitans/estimate"
	"limitans/fault"
	"limitans/internal/planning"
	"limitans/tamponade"
)

// findingField is one finding as the Plan station asks for it.
type findingField struct {
	Key     string // of the table of findings of package decide
	JSON    string // of decide.Findings
	Words   string
	Unit    string
	Kind    findingKind
	Choices []choice

	// Filled for a page:
	Value     string
	Low, High string // of an estimate
	From      string // entry that told it
	Asked     bool   // rows of the table want it and nobody told it
}

// Has reports whether one value of several is chosen.
func (f findingField) Has(value string) bool { return strings.Contains(f.Value, " "+value+" ") }

type findingKind string

// The kinds of fields. An interval field takes a value with its 95 % interval.
const (
	choiceField   findingKind = "choice"
	numberField   findingKind = "number"
	intervalField findingKind = "interval"
	severalField  findingKind = "several"
)

// choice is one value of a field in words.
type choice struct{ Value, Words string }

var answers = []choice{{"", "not told"}, {"yes", "yes"}, {"no", "no"}, {"unknown", "unknown"}}

func answerField(key, name, words string) findingField {
	return findingField{Key: key, JSON: name, Words: words, Kind: choiceField, Choices: answers}
}

func numeric(key, name, words, unit string) findingField {
	return findingField{Key: key, JSON: name, Words: words, Unit: unit, Kind: numberField}
}

// findingFields are all findings in the order in which they are asked.
func findingFields() []findingField {
	conditions := []choice{{"", "choose"}}
	for _, c := range decide.Conditions() {
		conditions = append(conditions, choice{string(c), c.Words()})
	}
	return []findingField{
		{Key: "condition", JSON: "condition", Words: "What is to be treated", Kind: choiceField, Choices: conditions},
		{Key: "mld", JSON: "mld_um", Words: "Minimum linear diameter", Unit: "µm", Kind: intervalField},
		{Key: "oval", JSON: "largest_um", Words: "Largest diameter of the smallest section", Unit: "µm", Kind: intervalField},
		{Key: "ratio", JSON: "base_um", Words: "Base diameter", Unit: "µm", Kind: intervalField},
		numeric("duration", "duration_months", "Symptoms for", "months"),
		numeric("axial", "axial_length_mm", "Axial length", "mm"),
		answerField("sound-in-oil", "axial_length_by_sound_in_oil", "Axial length taken by sound with oil in the eye"),
		{Key: "cause", JSON: "cause", Words: "Cause", Kind: choiceField, Choices: []choice{
			{"", "not told"}, {"idiopathic", "idiopathic"}, {"trauma", "injury"}, {"after-detachment", "after a detachment"}, {"inflammation", "inflammation"},
		}},
		{Key: "earlier", JSON: "earlier_surgery", Words: "Earlier surgery for it", Kind: choiceField, Choices: []choice{
			{"", "not told"}, {"none", "none"}, {"failed", "it never closed"}, {"reopened", "closed once, open again"},
		}},
		{Key: "open-as", JSON: "open_as", Words: "Edges of the open hole", Kind: choiceField, Choices: []choice{{"", "not told"}, {"flat", "flat"}, {"elevated", "raised"}}},
		answerField("membrane-left", "membrane_left", "Limiting membrane left around the hole"),
		answerField("membrane-further", "membrane_further", "Limiting membrane to be had further away"),
		numeric("days-since", "days_since_surgery", "Since the failed operation", "days"),
		answerField("vitreous-attached", "vitreous_attached", "Vitreous still attached at the fovea"),
		numeric("attachment", "attachment_um", "Width of the attachment", "µm"),
		answerField("membrane", "membrane", "Epiretinal membrane on the macula"),
		{Key: "stage", JSON: "membrane_stage", Words: "Stage of the membrane", Kind: choiceField, Choices: []choice{{"0", "not told"}, {"1", "1"}, {"2", "2"}, {"3", "3"}, {"4", "4"}}},
		{Key: "lamellar", JSON: "lamellar", Words: "Kind of lamellar defect", Kind: choiceField, Choices: []choice{
			{"", "not told"}, {"lamellar", "lamellar hole"}, {"foveoschisis", "foveoschisis"}, {"pseudohole", "pseudohole"},
		}},
		answerField("symptoms", "symptoms", "Symptoms that the patient wants treated"),
		answerField("worsening", "worsening", "Acuity or tissue lost between visits"),
		numeric("acuity", "acuity_logmar", "Acuity before surgery", "logMAR"),
		answerField("vein-occlusion", "vein_occlusion", "Vein occlusion"),
		answerField("ischaemia", "macular_ischaemia", "Macular ischaemia"),
		answerField("haemorrhage", "vitreous_haemorrhage", "Vitreous haemorrhage"),
		answerField("detachment", "detachment", "Retina detached"),
		answerField("proliferation", "proliferation", "Proliferation of grade C or more"),
		answerField("band-lifts", "band_lifts", "The strand lifts the retina or crosses the macula"),
		numeric("drop", "drop_um", "Diameter of the drop", "µm"),
		numeric("drop-distance", "drop_distance_um", "From the drop to the foveal centre", "µm"),
		answerField("drop-is-liquid", "drop_is_liquid", "The drop is held to be heavy liquid"),
		{Key: "lens", JSON: "lens", Words: "Lens", Kind: choiceField, Choices: []choice{{"", "not told"}, {"phakic", "own lens"}, {"pseudophakic", "lens implant"}, {"aphakic", "no lens"}}},
		answerField("iridectomy-open", "iridectomy_open", "Iridectomy open"),
		answerField("hydrophilic", "hydrophilic_implant", "Implant of hydrophilic acrylic"),
		answerField("glaucoma", "glaucoma", "Glaucoma or drops for it"),
		answerField("only-eye", "only_eye", "Only seeing eye"),
		answerField("pale-fundus", "pale_fundus", "Pale fundus"),
		answerField("lattice", "lattice", "Lattice degeneration"),
		answerField("can-posture", "can_posture", "Can hold a posture"),
		answerField("clot-risk", "clot_risk", "Raised risk of a clot"),
		answerField("flight", "flight_ahead", "Flight ahead"),
		answerField("climb", "climb_ahead", "Road or home above where the patient lives now"),
		answerField("anaesthetic", "anaesthetic_ahead", "Anaesthetic ahead"),
		{Key: "allergy", JSON: "allergies", Words: "Must not be used", Kind: severalField, Choices: []choice{
			{"brilliant-blue", "brilliant blue"}, {"trypan-blue", "trypan blue"}, {"indocyanine-green", "indocyanine green"}, {"iodine", "iodine"}, {"steroid", "steroid"},
		}},
		{Key: "gauge", JSON: "gauge_g", Words: "Gauge meant to be used", Kind: choiceField, Choices: []choice{{"0", "open"}, {"20", "20"}, {"23", "23"}, {"25", "25"}, {"27", "27"}}},
	}
}

// typedBasis is the basis of an interval that a person typed.
const typedBasis = "typed on the Plan station"

// readFindings takes findings from a form. A field that is not in the form keeps
// what the record told; an empty one is not told.
func readFindings(form url.Values, record decide.Findings) (decide.Findings, error) {
	known, err := asMap(record)
	if err != nil {
		return record, err
	}
	for _, f := range findingFields() {
		values, is := form[f.JSON]
		if !is {
			continue
		}
		value, told, err := f.read(values, form)
		if err != nil {
			return record, err
		}
		delete(known, f.JSON)
		if told {
			known[f.JSON] = value
		}
	}
	// The interval of the record stays where its value was not changed.
	for _, f := range findingFields() {
		if f.Kind == intervalField {
			keepInterval(known, f.JSON, record)
		}
	}
	data, err := json.Marshal(known)
	if err != nil {
		return record, err
	}
	var out decide.Findings
	if err := json.Unmarshal(data, &out); err != nil {
		return record, &fault.Error{Code: fault.Invalid, Where: "findings", What: "cannot be read: " + err.Error(), Cause: err}
	}
	return out, nil
}

// read is the value of one field; told is false for an empty one.
func (f findingField) read(values []string, form url.Values) (value any, told bool, err error) {
	text := strings.TrimSpace(values[0])
	bad := func(what string) error {
		return &fault.Error{Code: fault.Invalid, Where: f.Words, What: what, Expected: "a number, with a point or a comma"}
	}
	number := func(t string) (float64, error) {
		n, err := strconv.ParseFloat(strings.ReplaceAll(strings.TrimSpace(t), ",", "."), 64)
		if err != nil || math.IsNaN(n) || math.IsInf(n, 0) {
			return 0, bad(strconv.Quote(t) + " is no number")
		}
		return n, nil
	}
	switch f.Kind {
	case severalField:
		several := slices.DeleteFunc(slices.Clone(values), func(v string) bool { return v == "" })
		return several, len(several) > 0, nil
	case numberField:
		if text == "" {
			return nil, false, nil
		}
		n, err := number(text)
		return n, true, err
	case intervalField:
		if text == "" {
			return nil, false, nil
		}
		e := estimate.Estimate{Basis: typedBasis}
		if e.Value, err = number(text); err != nil {
			return nil, false, err
		}
		low, high := form.Get(f.JSON+"_low"), form.Get(f.JSON+"_high")
		if low == "" && high == "" {
			e = decide.TypedDiameter(e.Value)
			return e, true, nil
		}
		if e.Low, err = number(low); err != nil {
			return nil, false, err
		}
		e.High, err = number(high)
		return e, true, err
	}
	if text == "" || text == "0" {
		return nil, false, nil
	}
	if f.Key == "stage" || f.Key == "gauge" {
		n, err := strconv.Atoi(text)
		if err != nil {
			return nil, false, bad(strconv.Quote(text) + " is no number")
		}
		return n, true, nil
	}
	return text, true, nil
}

// keepInterval puts the record's own estimate back where a form repeats its value.
func keepInterval(known map[string]any, name string, record decide.Findings) {
	typed, is := known[name].(estimate.Estimate)
	if !is {
		return
	}
	of := map[string]*estimate.Estimate{"mld_um": record.MLDUM, "largest_um": record.LargestUM, "base_um": record.BaseUM}[name]
	if of != nil && wholeNumber(of.Value) == wholeNumber(typed.Value) && wholeNumber(of.Low) == wholeNumber(typed.Low) && wholeNumber(of.High) == wholeNumber(typed.High) {
		known[name] = *of
	}
}

// asMap is a value of findings as its JSON object.
func asMap(f decide.Findings) (map[string]any, error) {
	data, err := json.Marshal(f)
	if err != nil {
		return nil, err
	}
	out := map[string]any{}
	if err := json.Unmarshal(data, &out); err != nil {
		return nil, err
	}
	if f.Lens == tamponade.LensUnknown {
		delete(out, "lens")
	}
	return out, nil
}

// shortNumber writes a number as a field shows it.
func shortNumber(x float64) string { return strconv.FormatFloat(math.Round(x*100)/100, 'f', -1, 64) }

// wholeNumber writes micrometres: no reading is finer than one.
func wholeNumber(x float64) string { return strconv.FormatFloat(math.Round(x), 'f', 0, 64) }

// filledFields are the fields of a page: values, where each came from, and which
// are asked for.
func filledFields(f decide.Findings, told []planning.Told, asked []decide.Question) ([]findingField, error) {
	values, err := asMap(f)
	if err != nil {
		return nil, err
	}
	fields := findingFields()
	for i := range fields {
		one := &fields[i]
		switch v := values[one.JSON].(type) {
		case string:
			one.Value = v
		case float64:
			one.Value = shortNumber(v)
		case []any:
			for _, item := range v {
				if text, is := item.(string); is {
					one.Value += " " + text
				}
			}
			one.Value += " "
		case map[string]any:
			e := map[string]*estimate.Estimate{"mld_um": f.MLDUM, "largest_um": f.LargestUM, "base_um": f.BaseUM}[one.JSON]
			if e != nil && e.Known() {
				one.Value, one.Low, one.High = wholeNumber(e.Value), wholeNumber(e.Low), wholeNumber(e.High)
			}
		}
		for _, t := range told {
			if t.Finding == one.Key {
				one.From = t.From
			}
		}
		one.Asked = slices.ContainsFunc(asked, func(q decide.Question) bool { return q.Key == one.Key })
	}
	return fields, nil
}
