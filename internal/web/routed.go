package web

import (
	"errors"
	"fmt"
	"net/http"

	"limitans/fault"
)

// errMethod is in the chain of what answers a method that an address does not know.
var errMethod = errors.New("method not allowed")

// routed answers what no route answers, as every other fault is answered.
func (s *Server) routed(mux *http.ServeMux) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		answers, pattern := mux.Handler(r)
		if pattern != "" {
			mux.ServeHTTP(w, r)
			return
		}
		// The multiplexer tells its own answer to a writer that keeps nothing else.
		told := &statusOnly{header: http.Header{}, status: http.StatusOK}
		answers.ServeHTTP(told, r)
		v := s.stranger(r)
		if len(r.Cookies()) > 0 {
			if a, in, err := s.sessions.Current(r.Context()); err == nil && in {
				v.account = &a
			}
		}
		err := &fault.Error{Code: fault.NotFound, Where: r.URL.Path, What: "there is no such page", Mend: "start at the first page"}
		if told.status == http.StatusMethodNotAllowed {
			w.Header().Set("Allow", told.header.Get("Allow"))
			err = &fault.Error{Code: fault.Unsupported, Where: r.URL.Path, What: fmt.Sprintf("takes no %s", r.Method), Expected: told.header.Get("Allow"), Cause: errMethod}
		}
		s.fail(w, r, v, err)
	})
}

// statusOnly keeps status and headers of an answer that nobody gets.
type statusOnly struct {
	header http.Header
	status int
}

func (t *statusOnly) Header() http.Header         { return t.header }
func (t *statusOnly) WriteHeader(status int)      { t.status = status }
func (t *statusOnly) Write(p []byte) (int, error) { return len(p), nil }
