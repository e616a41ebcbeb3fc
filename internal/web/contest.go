package web

import (
	"bytes"
	"cmp"
	"encoding/json"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

func (s *Server) contestRoutes() []route {
	return []route{
		{"GET", "/contests/{contest}", seesEye(), s.showContest},
		{"POST", "/contests/{contest}", seesEye(), s.decideContest},
	}
}

// writesKind is the act that changing a noun of a kind needs, and with it the
// decision between two versions of one.
var writesKind = map[record.Kind]account.Act{
	record.KindPatient: account.WritePatient, record.KindPerson: account.WritePatient, record.KindEye: account.WritePatient,
	record.KindContact: account.WritePatient, record.KindFileOrigin: account.ImportScan, record.KindMerge: account.MergePatients,
	record.KindScan: account.ImportScan, record.KindFigures: account.MeasureScan, record.KindPlan: account.WritePlan,
	record.KindOperation: account.WriteOperation, record.KindVisit: account.WriteVisit, record.KindBatch: account.WriteOperation,
	record.KindFilm: account.WriteOperation, record.KindDocument: account.WriteVisit,
}

// contestPage shows two versions of one entry field by field.
type contestPage struct {
	ID       record.ID
	Eye      eyeHead // where the entry belongs to one
	HasEye   bool
	Kind     string
	Fields   []contestField
	Theirs   versionHead
	Yours    versionHead
	Reason   string // given with yours
	Now      int64  // version that stands
	Moved    bool   // it has moved on since theirs
	Decided  string
	MayWrite bool
	Trouble  string
	Typed    string
	V        entryValues
}

// versionHead says whose version it is.
type versionHead struct{ By, At string }

// contestField is one field in which the versions differ.
type contestField struct {
	Name                string
	Words               string
	Base, Theirs, Yours string
	// Suggested is the side that alone changed the field; empty when both did.
	Suggested string
}

// contestOf reads the contest of a request with the noun as it stands.
func (s *Server) contestOf(r *http.Request) (store.Contest, record.Entity, error) {
	id := record.ID(r.PathValue("contest"))
	if id.Check() != nil {
		return store.Contest{}, nil, &fault.Error{Code: fault.NotFound, Where: "contest", What: "there is no such one"}
	}
	c, err := s.Store.Contest(r.Context(), id)
	if err != nil {
		return c, nil, err
	}
	now, err := s.Store.Get(r.Context(), c.Kind, c.Entity)
	return c, now, err
}

// showContest is the page on which a person decides.
func (s *Server) showContest(w http.ResponseWriter, r *http.Request, v *visitor) error {
	return s.contestPage(w, r, v, http.StatusOK, entryValues{}, "")
}

func (s *Server) contestPage(w http.ResponseWriter, r *http.Request, v *visitor, status int, values entryValues, trouble string) error {
	c, now, err := s.contestOf(r)
	if err != nil {
		return err
	}
	people, err := s.colleagues(r.Context())
	if err != nil {
		return err
	}
	theirs, err := json.Marshal(now)
	if err != nil {
		return err
	}
	p := contestPage{
		ID: c.ID, Kind: kindWords(c.Kind), Reason: string(c.Reason), Now: now.Identity().Version, Moved: now.Identity().Version != c.TheirsVersion,
		MayWrite: v.may(writesKind[c.Kind]) && c.Decision == nil, Trouble: trouble, Typed: values.Get("reason"), V: values,
		Yours: versionHead{people.name(c.By.AccountID), momentWords(c.At)},
	}
	if c.Decision != nil {
		p.Decided = people.name(c.Decision.By.AccountID) + ", " + momentWords(c.Decision.At) + ": " + string(c.Decision.Choice) + ". " + string(c.Decision.Reason)
		theirs = c.Theirs // as it was then
	}
	if p.Fields, err = contestFields(c.Base, theirs, c.Yours); err != nil {
		return err
	}
	if p.Theirs, err = s.versionHead(r, c, p.Now, people); err != nil {
		return err
	}
	if eye := now.Links().EyeID; eye != "" {
		course, err := s.Store.Course(r.Context(), eye, false)
		if err != nil {
			return err
		}
		p.Eye, p.HasEye = headOf(course, ""), true
	}
	return s.render(w, v, status, "contest", head{Title: "Two versions of one entry", Rail: "eyes"}, p)
}

// versionHead finds who made the version that stands.
func (s *Server) versionHead(r *http.Request, c store.Contest, version int64, people colleagues) (versionHead, error) {
	entries, err := s.Store.History(r.Context(), c.Kind, c.Entity)
	if err != nil {
		return versionHead{}, err
	}
	for _, e := range slices.Backward(entries) {
		if e.Version <= version {
			return versionHead{people.name(e.By.AccountID), momentWords(e.At)}, nil
		}
	}
	return versionHead{}, nil
}

// bookkeeping are the fields of a noun that are no content.
var bookkeeping = map[string]bool{"id": true, "version": true, "struck_out": true, "patient_id": true, "eye_id": true}

// contestFields lists the fields in which two versions differ.
func contestFields(base, theirs, yours json.RawMessage) ([]contestField, error) {
	b, errB := fieldsOf(base)
	t, errT := fieldsOf(theirs)
	y, errY := fieldsOf(yours)
	for _, err := range []error{errB, errT, errY} {
		if err != nil {
			return nil, &fault.Error{Code: fault.Malformed, Where: "contest", What: "a version cannot be read", Mend: "run the verification", Cause: err}
		}
	}
	names := map[string]bool{}
	for _, all := range []map[string]json.RawMessage{t, y} {
		for name := range all {
			names[name] = true
		}
	}
	var out []contestField
	for _, name := range slices.Sorted(maps.Keys(names)) {
		if bookkeeping[name] || bytes.Equal(t[name], y[name]) {
			continue
		}
		words, _ := fieldWords(name)
		f := contestField{Name: name, Words: cmp.Or(words, codeWords(name)), Base: plainJSON(b[name]), Theirs: plainJSON(t[name]), Yours: plainJSON(y[name])}
		switch {
		case bytes.Equal(b[name], t[name]):
			f.Suggested = "yours"
		case bytes.Equal(b[name], y[name]):
			f.Suggested = "theirs"
		}
		out = append(out, f)
	}
	return out, nil
}

// fieldsOf splits a noun into its fields, each in one form.
func fieldsOf(noun json.RawMessage) (map[string]json.RawMessage, error) {
	if len(noun) == 0 || string(noun) == "null" {
		return nil, nil
	}
	var all map[string]json.RawMessage
	if err := json.Unmarshal(noun, &all); err != nil {
		return nil, err
	}
	for name, value := range all {
		// Keys in one order and numbers as written, so that equal values are equal bytes.
		d := json.NewDecoder(bytes.NewReader(value))
		d.UseNumber()
		var tree any
		if err := d.Decode(&tree); err != nil {
			return nil, err
		}
		again, err := json.Marshal(tree)
		if err != nil {
			return nil, err
		}
		all[name] = again
	}
	return all, nil
}

// plainJSON writes a value for people: without quotes and braces, one fact a line.
func plainJSON(value json.RawMessage) string {
	if len(value) == 0 {
		return "nothing"
	}
	var tree any
	d := json.NewDecoder(bytes.NewReader(value))
	d.UseNumber()
	if d.Decode(&tree) != nil {
		return string(value)
	}
	var lines []string
	plainTree(tree, "", &lines)
	return strings.Join(lines, "\n")
}

// fieldUnits are the endings of names that tell the unit of a number.
var fieldUnits = []struct{ ending, unit string }{
	{"mg_per_ml", "mg/mL"},
	{"mmhg", "mmHg"},
	{"mm", "mm"},
	{"um", "µm"},
	{"ml", "mL"},
	{"cst", "mm²/s"},
	{"percent", "%"},
	{"degrees", "°"},
	{"diopters", "D"},
	{"minutes", "min"},
	{"hours", "h"},
	{"days", "days"},
	{"s", "s"},
	{"g", "G"},
	{"m", "m"},
}

// fieldWords names a field of a noun for people, and the unit of its number.
func fieldWords(name string) (words, unit string) {
	before, last := "", name
	if at := strings.LastIndex(name, ", "); at >= 0 {
		before, last = name[:at+2], name[at+2:]
	}
	for _, u := range fieldUnits {
		if last == u.ending {
			return codeWords(strings.TrimSuffix(before, ", ")), u.unit
		}
		if rest, is := strings.CutSuffix(last, "_"+u.ending); is {
			return codeWords(before + rest), u.unit
		}
	}
	return codeWords(name), ""
}

func plainTree(tree any, name string, lines *[]string) {
	words, unit := fieldWords(name)
	label := ""
	if words != "" {
		label = words + ": "
	}
	switch x := tree.(type) {
	case map[string]any:
		for _, key := range slices.Sorted(maps.Keys(x)) {
			under := key
			if name != "" {
				under = name + ", " + key
			}
			plainTree(x[key], under, lines)
		}
	case []any:
		for i, one := range x {
			under := name
			if len(x) > 1 {
				under = strings.TrimSpace(name + " " + strconv.Itoa(i+1))
			}
			plainTree(one, under, lines)
		}
	case nil:
	case bool:
		*lines = append(*lines, label+map[bool]string{true: "yes", false: "no"}[x])
	case json.Number:
		*lines = append(*lines, strings.TrimSpace(label+x.String()+" "+unit))
	case string:
		if x != "" {
			*lines = append(*lines, label+codeWords(x))
		}
	}
}

// kindWords names a kind for people.
func kindWords(kind record.Kind) string {
	for _, k := range record.Kinds() {
		if k.Kind == kind {
			return k.Name
		}
	}
	return string(kind)
}

// decideContest takes, field by field, what the person chose.
func (s *Server) decideContest(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, now, err := s.contestOf(r)
	if err != nil {
		return err
	}
	if !v.may(writesKind[c.Kind]) {
		return errNotAllowed(v)
	}
	values, err := formOf(r)
	if err != nil {
		return err
	}
	resolution, trouble, err := resolutionOf(c, now, values)
	if err != nil {
		return err
	}
	if trouble != "" {
		return s.contestPage(w, r, v, http.StatusUnprocessableEntity, values, trouble)
	}
	err = s.Store.Write(r.Context(), v.actor(), func(tx *store.Tx) error {
		_, err := tx.Resolve(r.Context(), c.ID, resolution)
		return err
	})
	if code := fault.CodeOf(err); err != nil && (code == fault.Conflict || code == fault.Invalid) {
		return s.contestPage(w, r, v, statusOf(err), values, failureOf(err).What)
	}
	return s.stored(w, r, err, "/contests/"+string(c.ID))
}

// resolutionOf reads which field is taken from whom; trouble says what is open.
func resolutionOf(c store.Contest, now record.Entity, values entryValues) (res store.Resolution, trouble string, err error) {
	version, err := strconv.ParseInt(values.Get("version"), 10, 64)
	if err != nil {
		return res, "The form does not tell which version was looked at.", nil
	}
	res = store.Resolution{SeenVersion: version, Reason: strings.TrimSpace(values.Get("reason"))}
	if res.Reason == "" {
		return res, "Say why you decide so; it is kept with the entry.", nil
	}
	standing, err := json.Marshal(now)
	if err != nil {
		return res, "", err
	}
	fields, err := contestFields(c.Base, standing, c.Yours)
	if err != nil {
		return res, "", err
	}
	merged, err := fieldsOf(standing)
	if err != nil {
		return res, "", err
	}
	late, err := fieldsOf(c.Yours)
	if err != nil {
		return res, "", err
	}
	fromYours := 0
	for _, f := range fields {
		switch values.Get("take-" + f.Name) {
		case "yours":
			fromYours++
			if value, is := late[f.Name]; is {
				merged[f.Name] = value
			} else {
				delete(merged, f.Name)
			}
		case "theirs":
		default:
			return res, "Choose one of the two for every field.", nil
		}
	}
	switch fromYours {
	case 0:
		res.Choice = store.ChooseTheirs
		return res, "", nil
	case len(fields):
		res.Choice = store.ChooseYours
		return res, "", nil
	}
	text, err := json.Marshal(merged)
	if err != nil {
		return res, "", err
	}
	noun, err := record.New(c.Kind)
	if err != nil {
		return res, "", err
	}
	if err := json.Unmarshal(text, noun); err != nil {
		return res, "", &fault.Error{Code: fault.Invalid, Where: "contest", What: "the two versions cannot be mixed this way", Mend: "take one of the two as a whole", Cause: err}
	}
	res.Choice, res.Merged = store.ChooseMerged, noun
	return res, "", nil
}
