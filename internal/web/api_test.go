package web

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"limitans/internal/account"
	"limitans/internal/intake"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/internal/work"
)

// call is one request of the API.
type call struct {
	method, path string
	body         any
	status       int // wanted
}

// apiCalls are calls of every endpoint by its pattern; an endpoint without one
// fails the test.
type apiCalls struct {
	b     *workbench
	calls map[string][]call
}

func (c *apiCalls) add(pattern, path string, body any, status int) {
	method, _, _ := strings.Cut(pattern, " ")
	c.calls[pattern] = append(c.calls[pattern], call{method, path, body, status})
}

// get adds calls of an endpoint that only reads, by its path below the prefix.
func (c *apiCalls) get(pattern string, paths ...string) {
	for _, p := range paths {
		c.add("GET "+apiPrefix+pattern, apiPrefix+p, nil, http.StatusOK)
	}
}

// visitOfToday is a visit that can be stored.
func visitOfToday() map[string]any {
	return map[string]any{
		"on":        "2026-11-24",
		"acuities":  []any{map[string]any{"raw": "6/9-2", "role": "corrected"}, map[string]any{"raw": "CF 1m"}},
		"pressures": []any{map[string]any{"mmhg": 14, "method": "rebound"}},
		"note":      "entered by a program", "due_by": "2026-12-24", "due_for": "review",
	}
}

// prepareCalls asks for everything in the clinic that answers differ by.
func prepareCalls(t *testing.T, b *workbench) *apiCalls {
	c := &apiCalls{b, map[string][]call{}}
	c.get("health", "health")
	c.get("version", "version")
	c.get("me", "me")
	c.get("eyes", "eyes", "eyes?limit=3", "eyes?q=a", "eyes?q=nobody-of-this-name")
	c.get("due", "due", "due?limit=2&reason=review&reason=gas_check", "due?until=2026-12-01")
	c.get("in-eyes", "in-eyes", "in-eyes?medium=oil&medium=gas&limit=2")
	c.get("jobs", "jobs", "jobs?state=waiting&limit=2")
	lots, figures, visits := 0, 0, 0
	ctx := context.Background()
	found, err := b.store.Eyes(ctx, "", store.Page{Limit: store.MaxPage})
	must(t, err)
	for _, row := range found.Rows {
		eye := "eyes/" + string(row.EyeID)
		c.get("eyes/{eye}", eye)
		course, err := b.store.Course(ctx, row.EyeID, false)
		must(t, err)
		c.get("eyes/{eye}/scans", eye+"/scans")
		c.get("eyes/{eye}/figures", eye+"/figures")
		c.get("eyes/{eye}/visits", eye+"/visits")
		for _, f := range course.Figures {
			if figures < 40 || f.Document != nil {
				c.get("eyes/{eye}/figures/{figures}", eye+"/figures/"+string(f.ID))
				figures++
			}
		}
		for _, v := range course.Visits[:min(len(course.Visits), 2)] {
			c.get("eyes/{eye}/visits/{visit}", eye+"/visits/"+string(v.ID))
			visits++
		}
		for _, o := range course.Operations {
			for _, a := range o.Agents {
				if a.Lot != "" && lots < 5 {
					c.get("lots/{lot}", "lots/"+a.Lot)
					lots++
				}
			}
		}
	}
	if lots == 0 || figures == 0 || visits == 0 {
		t.Fatalf("the clinic has %d lots, %d figures, %d visits", lots, figures, visits)
	}
	c.get("lots/{lot}", "lots/none-of-this-number")
	var cases apiCases
	must(t, json.Unmarshal([]byte(b.as(account.Auditor).get(apiPrefix+"cases?limit=1000").body), &cases))
	c.get("cases", "cases", "cases?limit=2", "cases?after="+string(cases.Cases[0].Case))
	for _, one := range cases.Cases {
		c.get("cases/{case}", "cases/"+string(one.Case))
	}
	c.visits(t)
	c.bench()
	return c
}

// visits adds calls that enter and change visits.
func (c *apiCalls) visits(t *testing.T) {
	eye := apiPrefix + "eyes/" + string(c.b.firstEye().EyeID)
	post := "POST " + apiPrefix + "eyes/{eye}/visits"
	c.add(post, eye+"/visits", visitOfToday(), http.StatusCreated)
	stopped := visitOfToday()
	stopped["on"] = "2027-01-01"
	c.add(post, eye+"/visits", stopped, http.StatusUnprocessableEntity)
	unknown := visitOfToday()
	unknown["colour"] = "blue"
	c.add(post, eye+"/visits", unknown, http.StatusUnprocessableEntity)

	surgeon := c.b.as(account.Surgeon)
	var stored apiStored
	must(t, json.Unmarshal([]byte(surgeon.call("POST", eye+"/visits", visitOfToday()).body), &stored))
	if stored.Visit == nil || stored.Visit.Version != 1 {
		t.Fatalf("%+v", stored)
	}
	put := "PUT " + apiPrefix + "eyes/{eye}/visits/{visit}"
	at := eye + "/visits/" + string(stored.Visit.ID)
	changed := visitOfToday()
	changed["version"], changed["note"], changed["reason"] = 1, "changed by a program", "it was another note"
	c.add(put, at, changed, http.StatusOK)
	late := visitOfToday()
	late["version"], late["note"] = 1, "made from what was older"
	c.add(put, at, late, http.StatusConflict)
	c.add(put, at, visitOfToday(), http.StatusUnprocessableEntity)
}

// bench adds questions to the calculators, of all the cases by which keys differ.
func (c *apiCalls) bench() {
	ask := func(code string, status int, questions ...string) {
		for _, q := range questions {
			c.add("POST "+apiPrefix+"bench/"+code, apiPrefix+"bench/"+code, json.RawMessage(q), status)
		}
	}
	ask("acuity", http.StatusOK, `{"text":["6/9-2","CF 1m","0.5"]}`, `{"text":"20/40","numbers":"decimal"}`)
	ask("bubble", http.StatusOK, `{"gas":"c3f8","percent":14,"axial_length":24,"paths":200}`,
		`{"gas":"sf6","percent":"20 %","axial_length":22,"seen":["1:80","4:20"],"break":"6:18","lens":"pseudophakic","hole_um":520,"paths":200}`,
		`{"gas":"c3f8","percent":14,"axial_length":24,"fill":90,"seen":["1:50"],"lens":"phakic","paths":200}`,
		`{"gas":"sf6","percent":20,"axial_length":24,"seen":["25:60"],"break":"6:18","paths":200}`,
		`{"gas":"air","axial_length":30,"lens":"aphakic","glaucoma":true,"paths":200}`)
	ask("mix", http.StatusOK, `{"gas":"c3f8","percent":14,"syringe_ml":50,"axial_length":24}`, `{"gas":"sf6","pneumatic_ml":0.3,"syringe_ml":1}`,
		`{"gas":"c3f8","percent":20,"syringe_ml":50,"axial_length":31}`, `{"gas":"air","syringe_ml":50}`)
	ask("altitude", http.StatusOK, `{"gas":"sf6","fill":50,"living_m":0,"to_m":800}`, `{"gas":"air","fill":0,"living_m":800,"to_m":100,"axial_length":24,"days":3}`)
	ask("bubble", http.StatusUnprocessableEntity, `{"gas":"helium","axial_length":24}`, `{"gas":"c3f8","axial_length":24}`, `{"colour":"blue"}`, `{"gas":{}}`)
	ask("mix", http.StatusUnprocessableEntity, `{"gas":"c3f8","percent":14}`)
}

// call sends one request of a program.
func (p *person) call(method, path string, body any) answer {
	p.b.t.Helper()
	var sent io.Reader = http.NoBody
	if body != nil {
		text, err := json.Marshal(body)
		must(p.b.t, err)
		sent = bytes.NewReader(text)
	}
	r, err := http.NewRequest(method, p.b.http.URL+path, sent)
	must(p.b.t, err)
	if body != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	return p.do(r)
}

// withQueue gives the server a queue with one job in it that nobody works on.
func (b *workbench) withQueue() {
	b.t.Helper()
	ctx := context.Background()
	queue, err := intake.Queue(ctx, b.store, nil, work.Options{})
	must(b.t, err)
	b.server.Queue = queue
	must(b.t, b.store.Write(ctx, record.Actor{AccountID: "test"}, func(tx *store.Tx) error {
		_, err := work.Enqueue(ctx, queue, tx.SQL(), work.Kind[map[string]string]{Name: "nothing", Attempts: 1}, map[string]string{"scan": "none"})
		return err
	}))
}

// withDocument adds hole figures with the document of their measurement.
func (b *workbench) withDocument() {
	b.t.Helper()
	ctx := context.Background()
	found, err := b.store.Eyes(ctx, "", store.Page{Limit: store.MaxPage})
	must(b.t, err)
	for _, row := range found.Rows {
		c, err := b.store.Course(ctx, row.EyeID, false)
		must(b.t, err)
		if len(c.Figures) == 0 {
			continue
		}
		measured := *c.Figures[0]
		measured.Version, measured.Document = 0, json.RawMessage(`{"cautions":[],"hole":{"present":true}}`)
		must(b.t, b.store.Write(ctx, record.Actor{AccountID: "test"}, func(tx *store.Tx) error {
			if measured.ID, err = tx.NewID(); err != nil {
				return err
			}
			_, err = tx.Put(ctx, &measured, "")
			return err
		}))
		return
	}
	b.t.Fatal("the clinic has no figures")
}

// strict is the described API whose objects hold nothing that is not described.
type strict struct {
	compiler *jsonschema.Compiler
	document map[string]any
}

const documentAddress = "limitans:///openapi.json"

func strictOf(t *testing.T, text []byte) *strict {
	t.Helper()
	parsed, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	must(t, err)
	document := parsed.(map[string]any)
	close := func(s any) {
		if object, is := s.(map[string]any); is && object["properties"] != nil {
			object["additionalProperties"] = false
		}
	}
	for _, s := range document["components"].(map[string]any)["schemas"].(map[string]any) {
		close(s)
		if any, is := s.(map[string]any)["anyOf"].([]any); is {
			for _, inner := range any {
				close(inner)
			}
		}
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	must(t, c.AddResource(documentAddress, document))
	return &strict{c, document}
}

// schemaOf is the one that describes an answer.
func (s *strict) schemaOf(t *testing.T, path, method string, status int) *jsonschema.Schema {
	t.Helper()
	escape := strings.NewReplacer("~", "~0", "/", "~1", "{", "%7B", "}", "%7D")
	named := fmt.Sprint(status)
	operation := s.document["paths"].(map[string]any)[path].(map[string]any)[strings.ToLower(method)].(map[string]any)
	if operation["responses"].(map[string]any)[named] == nil {
		named = "default"
	}
	at := fmt.Sprintf("%s#/paths/%s/%s/responses/%s/content/application~1json/schema", documentAddress, escape.Replace(path), strings.ToLower(method), named)
	compiled, err := s.compiler.Compile(at)
	must(t, err)
	return compiled
}

// TestAPIAnswersAsDescribed calls every endpoint on the invented clinic and holds
// each answer to its schema; a key that is not described fails, and so does an
// endpoint that is not called.
func TestAPIAnswersAsDescribed(t *testing.T) {
	b := newBench(t, 0)
	b.withQueue()
	b.withDocument()
	calls := prepareCalls(t, b)
	calls.get("jobs/{job}", "jobs/1")
	s := strictOf(t, b.server.described)
	surgeon := b.as(account.Surgeon)
	answers := 0
	for _, e := range b.server.endpoints() {
		all := calls.calls[e.pattern()]
		if len(all) == 0 {
			t.Errorf("%s is not called", e.pattern())
		}
		succeeded := false
		for _, one := range all {
			got := surgeon.call(one.method, one.path, one.body)
			if got.status != one.status || got.header.Get("Content-Type") != "application/json; charset=utf-8" {
				t.Errorf("%s %s: answered %d (%s), wanted %d: %s", one.method, one.path, got.status, got.header.Get("Content-Type"), one.status, got.body)
				continue
			}
			value, err := jsonschema.UnmarshalJSON(strings.NewReader(got.body))
			must(t, err)
			if err := s.schemaOf(t, e.path, e.method, got.status).Validate(value); err != nil {
				t.Errorf("%s %s: %v", one.method, one.path, err)
			}
			succeeded = succeeded || got.status < 300
			answers++
		}
		if !succeeded {
			t.Errorf("%s never succeeded", e.pattern())
		}
	}
	if answers < 100 {
		t.Errorf("only %d answers", answers)
	}
}

// TestStrictSchemasCanFail shows that a key too many and one too few are found.
func TestStrictSchemasCanFail(t *testing.T) {
	b := newBench(t, 0)
	s := strictOf(t, b.server.described).schemaOf(t, apiPrefix+"health", "GET", http.StatusOK)
	for text, right := range map[string]bool{`{"status":"ok"}`: true, `{"status":"ok","more":1}`: false, `{}`: false, `{"status":1}`: false} {
		value, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
		must(t, err)
		if err := s.Validate(value); (err == nil) != right {
			t.Errorf("%s: %v", text, err)
		}
	}
}

// TestOpenAPIDocument holds the description to the schema that the OpenAPI
// Initiative publishes for documents of version 3.1.
func TestOpenAPIDocument(t *testing.T) {
	b := newBench(t, 0)
	text, err := os.ReadFile("testdata/openapi-3.1/schema.json")
	must(t, err)
	published, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	must(t, err)
	c := jsonschema.NewCompiler()
	must(t, c.AddResource("published.json", published))
	rule, err := c.Compile("published.json")
	must(t, err)
	got := b.stranger().get(apiPrefix + "openapi.json")
	document, err := jsonschema.UnmarshalJSON(strings.NewReader(got.body))
	must(t, err)
	must(t, rule.Validate(document))
	delete(document.(map[string]any), "info")
	if rule.Validate(document) == nil {
		t.Error("a document without a title passes")
	}
	// Every route below the prefix is described, the description itself apart.
	var described []string
	for _, e := range b.server.endpoints() {
		described = append(described, e.pattern())
	}
	for _, one := range b.server.routes {
		if isAPIPath(one.path) && one.path != apiPrefix+"openapi.json" && !slices.Contains(described, one.pattern()) {
			t.Errorf("%s is not described", one.pattern())
		}
	}
	page := b.stranger().get("/api")
	for _, e := range b.server.endpoints() {
		if !strings.Contains(page.body, e.path) {
			t.Errorf("the page does not name %s", e.path)
		}
	}
}

// TestAPIFaults: each carries code and what, in JSON, also where no route answers.
func TestAPIFaults(t *testing.T) {
	b := newBench(t, 0)
	nobody := "00000000-0000-7000-8000-000000000000"
	surgeon := b.as(account.Surgeon)
	eye := apiPrefix + "eyes/" + string(b.firstEye().EyeID)
	for _, c := range []struct {
		who    *person
		call   call
		code   string
		raw    string // body as it is
		sent   string // content type
		within string // of the text
	}{
		{surgeon, call{"GET", apiPrefix + "nothing", nil, 404}, "not_found", "", "", "no such page"},
		{surgeon, call{"DELETE", apiPrefix + "eyes", nil, 405}, "unsupported", "", "", "takes no DELETE"},
		{surgeon, call{"GET", apiPrefix + "eyes/" + nobody, nil, 404}, "not_found", "", "", ""},
		{surgeon, call{"GET", apiPrefix + "eyes/x", nil, 404}, "not_found", "", "", ""},
		{surgeon, call{"GET", eye + "/visits/" + nobody, nil, 404}, "not_found", "", "", ""},
		{surgeon, call{"GET", apiPrefix + "eyes?limit=0", nil, 422}, "invalid", "", "", "limit"},
		{surgeon, call{"GET", apiPrefix + "eyes?limit=100000", nil, 422}, "invalid", "", "", "1 to 1000"},
		{surgeon, call{"GET", apiPrefix + "eyes?after=%21", nil, 422}, "invalid", "", "", ""},
		{surgeon, call{"GET", apiPrefix + "due?until=tomorrow", nil, 422}, "invalid", "", "", "until"},
		{surgeon, call{"GET", apiPrefix + "jobs", nil, 404}, "not_found", "", "", "queue"},
		{b.stranger(), call{"GET", apiPrefix + "eyes", nil, 403}, "invalid", "", "", "signed in"},
		{b.as(account.Auditor), call{"GET", eye, nil, 403}, "invalid", "", "", "not for the role"},
		{surgeon, call{"POST", eye + "/visits", nil, 415}, "unsupported", "{}", "text/plain", "application/json"},
		{surgeon, call{"POST", eye + "/visits", nil, 422}, "malformed", "{", "application/json", ""},
		{surgeon, call{"POST", eye + "/visits", nil, 422}, "malformed", "", "application/json", "empty"},
		{surgeon, call{"POST", eye + "/visits", nil, 422}, "malformed", "{} {}", "application/json", "behind"},
		{surgeon, call{"POST", eye + "/visits", nil, 422}, "malformed", `{"on":7}`, "application/json", ""},
		{surgeon, call{"POST", eye + "/visits", nil, 422}, "malformed", `{"elsewhere":"x"}`, "application/json", "elsewhere"},
		{surgeon, call{"POST", eye + "/visits", nil, 413}, "too_large", `{"note":"` + strings.Repeat("x", maxFormBytes) + `"}`, "application/json", ""},
	} {
		r, err := http.NewRequest(c.call.method, b.http.URL+c.call.path, strings.NewReader(c.raw))
		must(t, err)
		r.Header.Set("Content-Type", c.sent)
		got := c.who.do(r)
		var f apiFailure
		if err := json.Unmarshal([]byte(got.body), &f); err != nil || got.status != c.call.status || f.Error.Code != c.code || f.Error.Status != got.status || f.Error.What == "" {
			t.Errorf("%s %s: %d %s", c.call.method, c.call.path, got.status, got.body)
		}
		if !strings.Contains(got.body, c.within) {
			t.Errorf("%s %s: %q is not said: %s", c.call.method, c.call.path, c.within, got.body)
		}
	}
}

// TestAPIVisitIsCheckedAsThePageDoes: stops, questions, readings, overrides.
func TestAPIVisitIsCheckedAsThePageDoes(t *testing.T) {
	b := newBench(t, 0)
	surgeon := b.as(account.Surgeon)
	at := apiPrefix + "eyes/" + string(b.firstEye().EyeID) + "/visits"
	send := func(change func(map[string]any)) (answer, apiFailure) {
		visit := visitOfToday()
		change(visit)
		got := surgeon.call("POST", at, visit)
		var f apiFailure
		must(t, json.Unmarshal([]byte(got.body), &f))
		return got, f
	}
	got, f := send(func(v map[string]any) { v["acuities"] = []any{map[string]any{"raw": "0.5"}} })
	asked := slices.IndexFunc(f.Error.Findings, func(f record.Finding) bool { return f.Code == record.CodeAcuityUnclear })
	if got.status != 422 || asked < 0 {
		t.Fatalf("a text with two readings: %d %s", got.status, got.body)
	}
	if got, _ := send(func(v map[string]any) {
		v["acuities"] = []any{map[string]any{"raw": "0.5", "choice": "no such reading"}}
	}); got.status != 422 {
		t.Errorf("a reading that is none: %d", got.status)
	}
	var read struct{ Visit record.Visit }
	got, _ = send(func(v map[string]any) {
		v["acuities"], v["seen"] = []any{map[string]any{"raw": "0.5"}}, []any{string(record.CodeAcuityUnclear)}
	})
	must(t, json.Unmarshal([]byte(got.body), &read))
	if got.status != http.StatusCreated || len(read.Visit.Acuities) != 1 || len(read.Visit.Acuities[0].Understood[0].Readings) < 2 {
		t.Fatalf("a question that was seen: %d %s", got.status, got.body)
	}
	choice := read.Visit.Acuities[0].Understood[0].Readings[0].As
	got, _ = send(func(v map[string]any) { v["acuities"] = []any{map[string]any{"raw": "0.5", "choice": choice}} })
	must(t, json.Unmarshal([]byte(got.body), &read))
	if got.status != http.StatusCreated || read.Visit.Acuities[0].Chosen == nil || read.Visit.Acuities[0].ChosenBy == "" || read.Visit.SeenBy == "" {
		t.Errorf("a chosen reading: %d %s", got.status, got.body)
	}
	got, f = send(func(v map[string]any) { v["on"] = "2027-01-01" })
	if got.status != 422 || len(f.Error.Findings) == 0 || f.Error.Findings[0].Code != record.CodeFuture {
		t.Errorf("a visit that is to come: %d %s", got.status, got.body)
	}
	theatre := b.as(account.Theatre)
	if got := theatre.call("POST", at, visitOfToday()); got.status != http.StatusForbidden {
		t.Errorf("theatre enters a visit: %d", got.status)
	}
	r, err := http.NewRequest("POST", b.http.URL+at, strings.NewReader("{}"))
	must(t, err)
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	if got := surgeon.do(r); got.status != http.StatusForbidden || !strings.Contains(got.body, "another site") {
		t.Errorf("from another site: %d %s", got.status, got.body)
	}
}
