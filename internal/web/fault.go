package web

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

// errNotAllowed says that the visitor's roles do not allow what was asked.
func errNotAllowed(v *visitor) error {
	what := "is for people who are signed in"
	if v.account != nil {
		what = "is not for the role " + v.account.Roles.String()
	}
	return &fault.Error{Code: fault.Invalid, Where: "this page", What: what, Mend: "an administrator gives roles", Cause: account.ErrForbidden}
}

// statusOf is the HTTP status of an error.
func statusOf(err error) int {
	var tooLarge *http.MaxBytesError
	var refused *store.Refused
	switch {
	case errors.Is(err, account.ErrForbidden), errors.Is(err, account.ErrRefused), errors.Is(err, account.ErrMode):
		return http.StatusForbidden
	case errors.Is(err, account.ErrBlocked):
		return http.StatusTooManyRequests
	case errors.As(err, &tooLarge):
		return http.StatusRequestEntityTooLarge
	case errors.As(err, &refused), errors.As(err, new(*foundOpen)):
		return http.StatusUnprocessableEntity
	case errors.Is(err, errMethod):
		return http.StatusMethodNotAllowed
	}
	switch fault.CodeOf(err) {
	case fault.Invalid, fault.Malformed, fault.NotMeasurable:
		return http.StatusUnprocessableEntity
	case fault.Unsupported:
		return http.StatusUnsupportedMediaType
	case fault.NotFound:
		return http.StatusNotFound
	case fault.TooLarge:
		return http.StatusRequestEntityTooLarge
	case fault.Conflict:
		return http.StatusConflict
	case fault.NoSpace:
		return http.StatusInsufficientStorage
	}
	return http.StatusInternalServerError
}

// failure is an error as a page or a program gets it. What is internal goes to
// the log and not to the browser.
type failure struct {
	Status   int    `json:"status"`             // of the answer
	Code     string `json:"code"`               // stable
	Where    string `json:"where,omitempty"`    // field, noun or place
	What     string `json:"what"`               // is wrong
	Expected string `json:"expected,omitempty"` // instead
	Mend     string `json:"mend,omitempty"`     // how to mend it
	// Findings are what the rules of the record found, when they forbid to store.
	Findings []record.Finding `json:"findings,omitempty"`
	// Contests are the changes that came too late and are kept beside the others.
	Contests []record.ID `json:"contests,omitempty"`
}

// failureOf words an error for people.
func failureOf(err error) failure {
	f := failure{Status: statusOf(err), Code: string(fault.CodeOf(err))}
	var known *fault.Error
	var tooLarge *http.MaxBytesError
	var refused *store.Refused
	switch {
	case errors.As(err, &tooLarge):
		f.Code, f.What, f.Mend = string(fault.TooLarge), "More was sent than this server takes.", "Send a smaller file, or ask whoever runs the server."
	case errors.As(err, &refused):
		f.Code, f.What = string(fault.Invalid), refused.Error()
	case f.Status == http.StatusInternalServerError:
		f.Code, f.What = string(fault.Internal), "Something in this program or on its machine went wrong. Nothing was changed."
		f.Mend = "Try again; if it stays, tell whoever runs the server the time of day."
	case errors.As(err, &known):
		f.Where, f.What, f.Expected, f.Mend = known.Where, known.What, known.Expected, known.Mend
	default:
		f.What = err.Error()
	}
	f.kept(err)
	return f
}

// kept adds what the record found and what it kept beside the other.
func (f *failure) kept(err error) {
	var open *foundOpen
	var refused *store.Refused
	var contested *store.Contested
	switch {
	case errors.As(err, &open):
		f.Code, f.Findings = string(fault.Invalid), open.findings
		f.Mend = "mend what stops; pass what may be passed with a reason; show a person the rest and name its codes as seen"
	case errors.As(err, &refused):
		f.Findings = refused.Stops
	case errors.As(err, &contested):
		f.Contests = contested.Contests
	}
}

// apiFailure is how the API says that something was not done.
type apiFailure struct {
	Error failure `json:"error"`
}

// fail answers a request with an error. Every error of every page and of the API
// is answered here.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, v *visitor, err error) {
	if errors.Is(err, context.Canceled) && r.Context().Err() != nil {
		return // nobody waits any more
	}
	f := failureOf(err)
	if f.Status == http.StatusInternalServerError {
		s.Log.Error("request failed", "method", r.Method, "path", r.URL.Path, "error", err)
	}
	if isAPI(r) {
		writeJSON(w, f.Status, apiFailure{f})
		return
	}
	if err := s.render(w, v, f.Status, "fault", titled("Not done"), f); err != nil {
		s.Log.Error("fault not shown", "error", err)
	}
}

// writeJSON answers a program.
func writeJSON(w http.ResponseWriter, status int, value any) {
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(status)
	// The status is out; a reader that left is no fault of ours.
	_ = json.NewEncoder(w).Encode(value)
}
