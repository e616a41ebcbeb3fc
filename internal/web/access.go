package web

import (
	"net"
	"net/http"
	"net/url"
	"strings"

	"limitans/internal/account"
	"limitans/internal/record"
)

// visitor is who asks, and how pages look for them.
type visitor struct {
	account *account.Account // nil: not signed in
	remote  string
	theme   theme
	words   *tongue
	// keys: single-letter keys are on.
	keys bool
	path string // of the page, with its query
	// packs: the browser takes compressed answers.
	packs bool
}

// may reports whether the visitor may do an act.
func (v *visitor) may(act account.Act) bool { return v.account != nil && v.account.Allows(act) }

// actor is the visitor for the history of the record.
func (v *visitor) actor() record.Actor {
	if v.account == nil {
		return record.Actor{Place: record.FreeText("page from " + v.remote)}
	}
	return record.Actor{AccountID: v.account.ID, Place: record.FreeText("page from " + v.remote)}
}

// serve puts the rule before the handler of a route.
func (s *Server) serve(one route) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		v := s.stranger(r)
		// Without a cookie nobody can be signed in, and the database is not asked.
		if len(r.Cookies()) > 0 {
			a, in, err := s.sessions.Current(r.Context())
			if err != nil {
				s.fail(w, r, v, err)
				return
			}
			if in {
				v.account = &a
			}
		}
		if !one.rule.allows(v.account) {
			s.refuse(w, r, v)
			return
		}
		if err := one.handle(w, r, v); err != nil {
			s.fail(w, r, v, err)
		}
	})
}

// refuse sends strangers to the sign-in page and tells others that their roles
// do not allow it.
func (s *Server) refuse(w http.ResponseWriter, r *http.Request, v *visitor) {
	if v.account != nil || isAPI(r) {
		s.fail(w, r, v, errNotAllowed(v))
		return
	}
	to := "/sign-in"
	if r.Method == http.MethodGet && r.URL.Path != "/" {
		to += "?then=" + url.QueryEscape(r.URL.RequestURI())
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// isAPI reports a request of a program.
func isAPI(r *http.Request) bool { return strings.HasPrefix(r.URL.Path, apiPrefix) }

// apiPrefix is where the API begins; its version is part of every address.
const apiPrefix = "/api/1/"

// remoteOf is the address of the browser.
func (s *Server) remoteOf(r *http.Request) string {
	if s.RemoteHeader != "" {
		if told := strings.TrimSpace(r.Header.Get(s.RemoteHeader)); told != "" {
			// The last one was added by the nearest proxy; those before it came from outside.
			parts := strings.Split(told, ",")
			return strings.TrimSpace(parts[len(parts)-1])
		}
	}
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return host
}

// localPath keeps a redirect on this server: an absolute path, nothing else.
func localPath(to string) string {
	u, err := url.Parse(to)
	if err != nil || u.IsAbs() || u.Host != "" || !strings.HasPrefix(u.Path, "/") || strings.HasPrefix(u.Path, "//") || strings.Contains(to, `\`) {
		return "/"
	}
	return u.RequestURI()
}
