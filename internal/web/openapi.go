package web

import (
	_ "embed"
	"encoding"
	"encoding/json"
	"fmt"
	"net/http"
	"path"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"limitans/acuity"
	"limitans/estimate"
	"limitans/fault"
	"limitans/internal/record"
)

// apiVersionNumber stands in every address of the API. A key may be added to what
// it answers; a change that breaks programs is a new number.
const apiVersionNumber = "1"

// sessionCookie is how package account names it.
const sessionCookie = "limitans"

// schema is a JSON Schema of draft 2020-12, which OpenAPI 3.1 uses.
type schema = map[string]any

// Comments of the Go types that the API gives and takes, by "package.Type" and
// "package.Type.Field". They are read from the source: go test ./internal/web -run
// TestAPIWords -update.
//
//go:embed apiwords.json
var apiWordsFile []byte

// describer makes schemas of Go types. Every named struct becomes a component.
type describer struct {
	words      map[string]string
	components schema
	names      map[reflect.Type]string
	texts      map[reflect.Type]bool // named types that are no structs
	taken      map[string]reflect.Type
	bare       []string // what has no description
	failed     error
}

func newDescriber() (*describer, error) {
	d := &describer{components: schema{}, names: map[reflect.Type]string{}, texts: map[reflect.Type]bool{}, taken: map[string]reflect.Type{}}
	if err := json.Unmarshal(apiWordsFile, &d.words); err != nil {
		return nil, &fault.Error{Code: fault.Internal, Where: "words of the API", What: err.Error(), Cause: err}
	}
	return d, nil
}

// nullable lets a schema be null too.
func nullable(s schema) schema {
	if kind, is := s["type"].(string); is {
		s["type"] = []string{kind, "null"}
		if words, is := s["enum"].([]string); is {
			all := []any{nil}
			for _, w := range words {
				all = append(all, w)
			}
			s["enum"] = all
		}
		return s
	}
	return schema{"anyOf": []schema{s, {"type": "null"}}}
}

// known are the types whose JSON form is not that of their fields.
func known(t reflect.Type) (schema, bool) {
	number := schema{"type": []string{"number", "null"}}
	switch t {
	case reflect.TypeFor[time.Time]():
		return schema{"type": "string", "format": "date-time"}, true
	case reflect.TypeFor[json.RawMessage]():
		return schema{"description": "JSON of a form that another document describes."}, true
	case reflect.TypeFor[estimate.Estimate]():
		return schema{
			"type": "object", "required": []string{"value", "low", "high", "basis"},
			"description": "A figure with its 95 % interval and what that rests on. A figure that is missing has null in all three, and its basis says why.",
			"properties":  schema{"value": number, "low": number, "high": number, "basis": schema{"type": "string"}},
		}, true
	case reflect.TypeFor[record.Date]():
		text := schema{"type": "string"}
		return schema{
			"description": "A day as far as it is known: 2026-11-24, 2026-11, 2026 or empty. An object keeps the text it came from and how it was read; in a de-identified view it counts days from the first operation.",
			"anyOf": []schema{
				{"type": "string", "pattern": `^$|^\d{4}(-\d\d(-\d\d)?)?$`},
				{"type": "object", "properties": schema{"date": text, "raw": text, "how": text, "days_from_first_operation": schema{"type": "integer"}}},
			},
		}, true
	}
	return nil, false
}

// component names the types of known that are worth a name of their own.
var component = map[reflect.Type]string{
	reflect.TypeFor[estimate.Estimate](): "Estimate", reflect.TypeFor[record.Date](): "Date",
}

// of is the schema of a type.
func (d *describer) of(t reflect.Type) schema {
	if s, is := known(t); is {
		name, named := component[t]
		if !named {
			return s
		}
		d.components[name] = s
		return reference(name)
	}
	switch {
	case t.Kind() == reflect.Pointer:
		return d.of(t.Elem())
	case t.Implements(reflect.TypeFor[encoding.TextMarshaler]()):
		return d.coded(t)
	case t.Implements(reflect.TypeFor[json.Marshaler]()) && !plainlyMarshalled[t]:
		d.failed = fmt.Errorf("%v writes its own JSON and is not described", t)
		return schema{}
	}
	switch t.Kind() {
	case reflect.Bool:
		return schema{"type": "boolean"}
	case reflect.Int, reflect.Int64, reflect.Uint64:
		return schema{"type": "integer"}
	case reflect.Float64:
		return schema{"type": "number"}
	case reflect.String:
		return d.coded(t)
	case reflect.Slice, reflect.Array:
		return schema{"type": "array", "items": d.of(t.Elem())}
	case reflect.Map:
		return schema{"type": "object", "additionalProperties": d.of(t.Elem())}
	case reflect.Struct:
		return d.object(t)
	}
	d.failed = fmt.Errorf("%v cannot be described", t)
	return schema{}
}

func reference(name string) schema { return schema{"$ref": "#/components/schemas/" + name} }

// coded is a text, with its words where it has a closed set.
func (d *describer) coded(t reflect.Type) schema {
	s := schema{"type": "string"}
	if t.Name() != "string" {
		d.texts[t] = true
	}
	if words := record.WordsOf(t); len(words) > 0 {
		s["enum"] = append([]string{""}, words...)
	}
	return s
}

// object describes a struct once and refers to it.
func (d *describer) object(t reflect.Type) schema {
	if name, is := d.names[t]; is {
		return reference(name)
	}
	name := shownType(t.Name())
	name = strings.ToUpper(name[:1]) + name[1:]
	if other := d.taken[name]; other != nil {
		pkg := path.Base(t.PkgPath())
		name = strings.ToUpper(pkg[:1]) + pkg[1:] + name
	}
	d.names[t], d.taken[name] = name, t
	properties, required := schema{}, []string{}
	d.fields(t, properties, &required)
	s := schema{"type": "object", "properties": properties}
	if len(required) > 0 {
		slices.Sort(required)
		s["required"] = required
	}
	if words := d.words[typeKey(t)]; words != "" {
		s["description"] = words
	} else {
		d.bare = append(d.bare, typeKey(t))
	}
	d.components[name] = s
	return reference(name)
}

func typeKey(t reflect.Type) string {
	return strings.TrimPrefix(t.PkgPath(), "limitans/") + "." + t.Name()
}

// plainlyMarshalled types write their own JSON, of the form of their fields.
var plainlyMarshalled = map[reflect.Type]bool{reflect.TypeFor[acuity.Entry](): true}

// fields describes the fields of a struct, those of embedded ones among them.
func (d *describer) fields(t reflect.Type, properties schema, required *[]string) {
	for i := range t.NumField() {
		f := t.Field(i)
		key, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case key == "-", !f.IsExported() && !f.Anonymous:
			continue
		case f.Anonymous && key == "":
			inner := f.Type
			if inner.Kind() == reflect.Pointer {
				inner = inner.Elem()
			}
			d.fields(inner, properties, required)
			continue
		case key == "":
			d.failed = fmt.Errorf("%v.%s has no key", t, f.Name)
			continue
		}
		optional := strings.Contains(options, "omit")
		if !optional {
			*required = append(*required, key)
		}
		properties[key] = d.field(t, f, key, optional)
	}
}

// field describes one field: its type, whether it may be null, and what it means.
func (d *describer) field(in reflect.Type, f reflect.StructField, key string, optional bool) schema {
	s := d.of(f.Type)
	kind := f.Type.Kind()
	lists := kind == reflect.Slice && f.Type != reflect.TypeFor[json.RawMessage]() || kind == reflect.Map
	// What this package and the documents give has no null list; the record's own
	// nouns may.
	if !optional && (kind == reflect.Pointer || lists && !neverNull(in)) {
		s = nullable(s)
	}
	words := d.words[typeKey(in)+"."+f.Name]
	if words == "" {
		words = commonKeys[key]
	}
	if words == "" && f.Type.Name() != "" && kind != reflect.Struct {
		words = d.words[typeKey(f.Type)]
	}
	items, _ := s["items"].(schema)
	if words == "" && s["$ref"] == nil && s["description"] == nil && s["anyOf"] == nil && items["$ref"] == nil {
		d.bare = append(d.bare, typeKey(in)+"."+f.Name+" ("+key+")")
	}
	if words != "" {
		if s["$ref"] != nil && kind != reflect.Slice {
			return schema{"$ref": s["$ref"], "description": words}
		}
		s["description"] = words
	}
	return s
}

// neverNull reports the types whose lists are made, empty where there is nothing.
func neverNull(t reflect.Type) bool {
	for _, p := range []string{"internal/web", "internal/report", "internal/bench", "acuity"} {
		if strings.TrimPrefix(t.PkgPath(), "limitans/") == p {
			return true
		}
	}
	return false
}

// braces finds the parameters of a path.
var braces = regexp.MustCompile(`\{(\w+)\}`)

// openAPI describes the API as an OpenAPI 3.1 document.
func openAPI(endpoints []endpoint, program string) (schema, []string, error) {
	d, err := newDescriber()
	if err != nil {
		return nil, nil, err
	}
	failure := d.of(reflect.TypeFor[apiFailure]())
	fails := schema{"description": "Not done; the answer says why and how to mend it.", "content": schema{"application/json": schema{"schema": failure}}}
	paths := schema{}
	for _, e := range endpoints {
		operation := schema{
			"operationId": operationID(e), "summary": e.about, "tags": []string{e.group}, "description": whoMay(e.rule),
			"responses": schema{
				strconv.Itoa(e.status): schema{"description": "Done.", "content": schema{"application/json": schema{"schema": d.of(e.gives)}}},
				"default":              fails,
			},
			"security": []schema{{"session": []string{}}},
		}
		if e.rule.kind == openToAll {
			operation["security"] = []schema{}
		}
		if all := parametersOf(e); len(all) > 0 {
			operation["parameters"] = all
		}
		if e.takes != nil {
			operation["requestBody"] = schema{"required": true, "content": schema{"application/json": schema{"schema": d.of(e.takes)}}}
		}
		if e.takesForm != nil {
			operation["requestBody"] = schema{"required": true, "content": schema{"application/json": schema{"schema": formSchema(e.takesForm)}}}
		}
		item, is := paths[e.path].(schema)
		if !is {
			item = schema{}
			paths[e.path] = item
		}
		item[strings.ToLower(e.method)] = operation
	}
	if d.failed != nil {
		return nil, nil, &fault.Error{Code: fault.Internal, Where: "description of the API", What: d.failed.Error(), Cause: d.failed}
	}
	return schema{
		"openapi": "3.1.0",
		"info": schema{
			"title": "limitans", "version": apiVersionNumber,
			"summary":     "The record of a macular surgeon, for programs.",
			"description": "Program version " + program + ". Same permissions and same checks as the pages. Sign in as the page does (POST /sign-in) and keep the cookie. A key may be added to an answer; none is renamed or removed while the number in the address stays.",
		},
		"paths": paths,
		"components": schema{
			"schemas":         d.components,
			"securitySchemes": schema{"session": schema{"type": "apiKey", "in": "cookie", "name": sessionCookie, "description": "The cookie of a session; over encrypted connections its name begins with __Host-."}},
		},
	}, d.bare, nil
}

func operationID(e endpoint) string {
	words := strings.FieldsFunc(strings.ToLower(e.method)+"/"+strings.TrimPrefix(e.path, apiPrefix), func(r rune) bool { return strings.ContainsRune("/{}-.", r) })
	return strings.Join(words, "_")
}

// parametersOf are those of the path, then those of the query.
func parametersOf(e endpoint) []schema {
	var all []schema
	for _, found := range braces.FindAllStringSubmatch(e.path, -1) {
		all = append(all, schema{"name": found[1], "in": "path", "required": true, "description": pathWords[found[1]], "schema": schema{"type": "string"}})
	}
	for _, p := range e.query {
		s := schema{"type": "string"}
		if p.number {
			s = schema{"type": "integer", "minimum": 1}
		}
		if p.several {
			s = schema{"type": "array", "items": s}
		}
		all = append(all, schema{"name": p.name, "in": "query", "description": p.what, "schema": s})
	}
	return all
}

// pathWords say what the parameters of paths are.
var pathWords = map[string]string{
	"eye": "identifier of an eye", "visit": "identifier of a visit", "figures": "identifier of a set of hole figures",
	"lot": "lot number as on the label; only letters and digits count", "job": "number of a job", "case": "pseudonym of a de-identified eye",
	"calculator": "name of a calculator of the bench",
}

// whoMay says in words who may use an endpoint.
func whoMay(r rule) string {
	switch r.kind {
	case openToAll:
		return "Open to everybody."
	case signedIn:
		return "For everybody who is signed in."
	}
	var acts []string
	for _, a := range r.acts {
		acts = append(acts, string(a))
	}
	return "Needs: " + strings.Join(acts, ", ") + "."
}

// showOpenAPI answers with the description.
func (s *Server) showOpenAPI(w http.ResponseWriter, _ *http.Request, v *visitor) error {
	return answerJSON(w, v, http.StatusOK, s.described)
}

// describe makes the description once.
func (s *Server) describe() (json.RawMessage, error) {
	document, _, err := openAPI(s.endpoints(), s.Program)
	if err != nil {
		return nil, err
	}
	return json.Marshal(document)
}
