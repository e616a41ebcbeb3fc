package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"limitans/fault"
	"limitans/internal/bench"
	"limitans/internal/record"
	"limitans/internal/store"
)

// The API answers programs with the same rules, checks and faults as the pages.
// Each endpoint says what it takes and gives by Go types, from which its
// description is made (openapi.go); what is answered and what is described cannot
// drift apart.

// endpoint is a route of the API with what its description needs.
type endpoint struct {
	route
	group, about string
	query        []parameter
	takes, gives reflect.Type  // takes is nil where there is no body
	takesForm    []bench.Field // instead of takes, of a calculator
	status       int           // of success
}

// parameter is a value in the query of an address.
type parameter struct {
	name, what string
	number     bool
	several    bool // may be given more than once
}

// gives is an endpoint without a body.
func gives[T any](group, path string, who rule, about string, query []parameter, answer func(*http.Request, *visitor) (T, error)) endpoint {
	e := endpoint{group: group, about: about, query: query, gives: reflect.TypeFor[T](), status: http.StatusOK}
	e.route = route{http.MethodGet, apiPrefix + path, who, func(w http.ResponseWriter, r *http.Request, v *visitor) error {
		out, err := answer(r, v)
		if err != nil {
			return err
		}
		return answerJSON(w, v, http.StatusOK, out)
	}}
	return e
}

// takes is an endpoint with a body; status is that of success.
func takes[B, T any](method, group, path string, who rule, about string, status int, answer func(*http.Request, *visitor, B) (T, error)) endpoint {
	e := endpoint{group: group, about: about, takes: reflect.TypeFor[B](), gives: reflect.TypeFor[T](), status: status}
	e.route = route{method, apiPrefix + path, who, func(w http.ResponseWriter, r *http.Request, v *visitor) error {
		var body B
		if err := readJSON(r, &body); err != nil {
			return err
		}
		out, err := answer(r, v, body)
		if err != nil {
			return err
		}
		return answerJSON(w, v, status, out)
	}}
	return e
}

// endpoints are all of the API. Each noun lists its own.
func (s *Server) endpoints() []endpoint {
	return slices.Concat(s.aboutAPI(), s.eyesAPI(), s.visitsAPI(), s.registersAPI(), s.casesAPI(), s.benchAPI())
}

func (s *Server) apiRoutes() []route {
	var out []route
	for _, e := range s.endpoints() {
		out = append(out, e.route)
	}
	return out
}

// answerJSON answers a program. Nothing is sent before the whole answer is made.
func answerJSON(w http.ResponseWriter, v *visitor, status int, value any) error {
	body, err := json.Marshal(value)
	if err != nil {
		return &fault.Error{Code: fault.Internal, Where: "answer", What: err.Error(), Cause: err}
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	return send(w, v, status, append(body, '\n'))
}

// readJSON reads the one JSON value of a request. A key that is not known is
// refused: it would be dropped silently.
func readJSON(r *http.Request, into any) error {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || kind != "application/json" {
		return &fault.Error{Code: fault.Unsupported, Where: "Content-Type", What: fmt.Sprintf("is %q", r.Header.Get("Content-Type")), Expected: "application/json"}
	}
	decoder := json.NewDecoder(r.Body)
	decoder.DisallowUnknownFields()
	err = decoder.Decode(into)
	if err == nil {
		if _, more := decoder.Token(); !errors.Is(more, io.EOF) {
			err = errors.New("something stands behind the value")
		}
	}
	return badJSON(err)
}

// badJSON words what the reader of JSON found.
func badJSON(err error) error {
	var known *fault.Error
	var tooLarge *http.MaxBytesError
	var wrong *json.UnmarshalTypeError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &tooLarge):
		return err
	case errors.As(err, &known):
		return known
	case errors.As(err, &wrong):
		return &fault.Error{Code: fault.Malformed, Where: "body, " + wrong.Field, What: "is a " + wrong.Value, Expected: "as in the description of the API", Cause: err}
	}
	what := strings.TrimPrefix(err.Error(), "json: ")
	if errors.Is(err, io.EOF) {
		what = "is empty"
	}
	return &fault.Error{Code: fault.Malformed, Where: "body", What: what, Expected: "one JSON value as in the description of the API", Cause: err}
}

// pageQuery are the parameters of every list that comes in stretches.
var pageQuery = []parameter{
	{name: "after", what: "next of the stretch before; left out for the first"},
	{name: "limit", what: fmt.Sprintf("rows at most, 1 to %d; left out: %d", store.MaxPage, store.DefaultPage), number: true},
}

// pageOf reads them.
func pageOf(r *http.Request) (store.Page, error) {
	limit, err := numberOf(r, "limit")
	return store.Page{After: r.FormValue("after"), Limit: int(limit)}, err
}

// numberOf reads a whole number of the query; 0 when it is not there.
func numberOf(r *http.Request, name string) (int64, error) {
	text := r.FormValue(name)
	if text == "" {
		return 0, nil
	}
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < 1 {
		return 0, &fault.Error{Code: fault.Invalid, Where: name, What: fmt.Sprintf("%q is no number", shorten(text)), Expected: "a whole number, 1 or more"}
	}
	return n, nil
}

// idOf reads an identifier of the path; what is none names nothing.
func idOf(r *http.Request, name string) (record.ID, error) {
	id := record.ID(r.PathValue(name))
	if id.Check() != nil {
		return "", notFound(name)
	}
	return id, nil
}

func notFound(noun string) error {
	return &fault.Error{Code: fault.NotFound, Where: noun, What: "there is no such " + noun}
}

// listOf gives a list that is not there an empty one, so that JSON never says null.
func listOf[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}
