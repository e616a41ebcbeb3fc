package web

import (
	"net/http"
	"strings"

	"limitans/fault"
	"limitans/internal/account"
)

// maxFormBytes is how large a form without files may be.
const maxFormBytes = 1 << 20

// contentPolicy lets a page load only what this server serves: no script, style,
// frame, form target or connection elsewhere, and no script or style inside the
// page. Pictures may be data, since scans are drawn into pages as such; blob: is
// the preview of a file that the browser itself holds.
const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; " +
	"connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'; manifest-src 'self'"

// safeHeaders are set on every answer.
var safeHeaders = [][2]string{
	{"Content-Security-Policy", contentPolicy},
	{"X-Content-Type-Options", "nosniff"},
	{"X-Frame-Options", "DENY"},
	{"Referrer-Policy", "same-origin"},
	{"Cross-Origin-Opener-Policy", "same-origin"},
	{"Cross-Origin-Resource-Policy", "same-origin"},
	{"Permissions-Policy", "camera=(), geolocation=(), microphone=(), payment=(), usb=()"},
	// A record is nobody else's business: no cache keeps a page. Assets say otherwise.
	{"Cache-Control", "no-store"},
}

// guard stands before everything: headers, size of the body, requests that
// another site makes a browser send.
func (s *Server) guard(next http.Handler) http.Handler {
	// Refuses what Sec-Fetch-Site or Origin calls cross-site, for every method
	// that changes something. Cookies are SameSite=Lax besides.
	crossSite := http.NewCrossOriginProtection()
	crossSite.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.fail(w, r, s.stranger(r), &fault.Error{
			Code: fault.Invalid, Where: "request", What: "came from another site",
			Expected: "a form of this program", Mend: "open the page here and send it again", Cause: account.ErrForbidden,
		})
	}))
	guarded := crossSite.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		for _, h := range safeHeaders {
			w.Header().Set(h[0], h[1])
		}
		if s.Secure {
			w.Header().Set("Strict-Transport-Security", "max-age=31536000")
		}
		if r.Body != nil && r.Body != http.NoBody {
			limit := int64(maxFormBytes)
			if isUpload(r) {
				limit = s.MaxUploadBytes
			}
			r.Body = http.MaxBytesReader(w, r.Body, limit)
		}
		guarded.ServeHTTP(w, r)
	})
}

// isUpload reports a request that brings a file.
func isUpload(r *http.Request) bool {
	kind := r.Header.Get("Content-Type")
	return strings.HasPrefix(kind, "multipart/form-data") || strings.HasPrefix(kind, "application/octet-stream")
}

// stranger is a visitor of whom nothing is known yet.
func (s *Server) stranger(r *http.Request) *visitor {
	return &visitor{
		remote: s.remoteOf(r), theme: themeOf(r), words: languageOf(r), keys: keysOf(r), path: r.URL.RequestURI(),
		packs: strings.Contains(r.Header.Get("Accept-Encoding"), "gzip"),
	}
}

// sessionFailed answers a request whose session cannot be read or written.
func (s *Server) sessionFailed(w http.ResponseWriter, r *http.Request, err error) {
	s.fail(w, r, s.stranger(r), err)
}
