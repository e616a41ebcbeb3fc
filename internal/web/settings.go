package web

import (
	"net/http"
)

// theme is how light the pages are.
type theme string

// The themes. By the system means that the page follows what the browser says.
const (
	themeSystem theme = "system"
	themeDay    theme = "day"
	themeDim    theme = "dim"
)

const (
	themeCookie = "limitans_theme"
	keysCookie  = "limitans_keys"
	yearSeconds = 365 * 24 * 3600
)

func themeOf(r *http.Request) theme {
	if c, err := r.Cookie(themeCookie); err == nil {
		switch t := theme(c.Value); t {
		case themeDay, themeDim:
			return t
		}
	}
	return themeSystem
}

// keysOf: single-letter keys are on unless turned off, as WCAG 2.2, 2.1.4 asks.
func keysOf(r *http.Request) bool {
	c, err := r.Cookie(keysCookie)
	return err != nil || c.Value != "off"
}

func (s *Server) settingsRoutes() []route {
	return []route{
		{"GET", "/settings", anyone(), s.showSettings},
		{"POST", "/settings/look", open(), s.setLook},
		{"POST", "/settings/passphrase", anyone(), s.changePassphrase},
		{"POST", "/settings/sessions", anyone(), s.endSession},
		{"POST", "/settings/second-factor", anyone(), s.beginSecondFactor},
		{"POST", "/settings/second-factor/confirm", anyone(), s.confirmSecondFactor},
		{"POST", "/settings/second-factor/remove", anyone(), s.removeSecondFactor},
		{"GET", "/settings/history", anyone(), s.showOwnHistory},
	}
}

// setLook keeps theme and keys in this browser.
func (s *Server) setLook(w http.ResponseWriter, r *http.Request, _ *visitor) error {
	set := func(name, value string) {
		http.SetCookie(w, &http.Cookie{
			Name: name, Value: value, Path: "/", MaxAge: yearSeconds, Secure: s.Secure, HttpOnly: true, SameSite: http.SameSiteLaxMode,
		})
	}
	switch t := theme(r.PostFormValue("theme")); t {
	case themeDay, themeDim, themeSystem:
		set(themeCookie, string(t))
	}
	switch keys := r.PostFormValue("keys"); keys {
	case "on", "off":
		set(keysCookie, keys)
	}
	http.Redirect(w, r, localPath(r.PostFormValue("then")), http.StatusSeeOther)
	return nil
}
