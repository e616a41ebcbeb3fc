package web

import (
	"bytes"
	"encoding/base64"
	"errors"
	"html/template"
	"image/png"
	"net/http"
	"slices"
	"strings"

	"limitans/fault"
	"limitans/internal/account"
)

// settingsPage is what a person can set: for this browser, and for the account.
type settingsPage struct {
	Account  account.Account
	Demo     bool
	Sessions []sessionLine
	Trouble  string // what went wrong with the form that was sent
	Done     string
	Least    int // characters of a passphrase
	Sealed   bool
}

// sessionLine is one open session.
type sessionLine struct {
	ID, Began, Seen, Remote, Agent string
	This                           bool
}

// showSettings is the page of what a person can set.
func (s *Server) showSettings(w http.ResponseWriter, r *http.Request, v *visitor) error {
	return s.settingsPage(w, r, v, http.StatusOK, "", map[string]string{
		"passphrase": "The passphrase is changed, and your other sessions have ended.", "session": "The session has ended.",
		"removed": "The second factor is taken away.",
	}[r.FormValue("done")])
}

func (s *Server) settingsPage(w http.ResponseWriter, r *http.Request, v *visitor, status int, trouble, done string) error {
	p := settingsPage{
		Account: *v.account, Demo: s.Gate.Mode().Demo, Trouble: trouble, Done: done,
		Least: account.LeastPassphraseCharacters, Sealed: s.Gate.SecondFactorsSealed(),
	}
	sessions, err := s.sessions.List(r.Context(), v.account.Actor(v.remote), v.account.ID)
	if err != nil {
		return err
	}
	now := s.sessions.ID(r.Context())
	for _, one := range sessions {
		p.Sessions = append(p.Sessions, sessionLine{one.ID, momentWords(one.BeganAt), momentWords(one.SeenAt), one.Remote, one.Agent, one.ID == now})
	}
	return s.render(w, v, status, "settings", head{Title: "Settings", Rail: "settings"}, p)
}

// settingsFailed shows the page again with what went wrong, where the person can
// mend it.
func (s *Server) settingsFailed(w http.ResponseWriter, r *http.Request, v *visitor, err error) error {
	status := statusOf(err)
	if status == http.StatusInternalServerError {
		return err
	}
	trouble := err.Error()
	if errors.Is(err, account.ErrRefused) {
		trouble = "The passphrase or the code is not right."
	}
	return s.settingsPage(w, r, v, status, trouble, "")
}

func (s *Server) changePassphrase(w http.ResponseWriter, r *http.Request, v *visitor) error {
	fresh := r.PostFormValue("fresh")
	var err error
	if fresh != r.PostFormValue("again") {
		err = &fault.Error{Code: fault.Invalid, Where: "passphrase", What: "was typed differently the second time"}
	} else {
		err = s.Gate.ChangePassphrase(r.Context(), v.account.ID, r.PostFormValue("old"), fresh, s.sessions.ID(r.Context()), v.remote)
	}
	if err != nil {
		return s.settingsFailed(w, r, v, err)
	}
	http.Redirect(w, r, "/settings?done=passphrase", http.StatusSeeOther)
	return nil
}

// endSession ends one of the visitor's own sessions.
func (s *Server) endSession(w http.ResponseWriter, r *http.Request, v *visitor) error {
	if err := s.sessions.EndOne(r.Context(), v.account.Actor(v.remote), v.account.ID, r.PostFormValue("session")); err != nil {
		return s.settingsFailed(w, r, v, err)
	}
	http.Redirect(w, r, "/settings?done=session", http.StatusSeeOther)
	return nil
}

// factorPage shows a second factor before it is confirmed, or its recovery codes.
// It is shown once.
type factorPage struct {
	Secret  string
	Picture template.URL // the address as a QR code
	Codes   []string
}

// pictureSide of the QR code in pixels.
const pictureSide = 264

// beginSecondFactor shows the secret and its picture. The picture stands in the page
// itself: a secret gets no address of its own.
func (s *Server) beginSecondFactor(w http.ResponseWriter, r *http.Request, v *visitor) error {
	e, err := s.Gate.BeginSecondFactor(r.Context(), v.account.ID, r.PostFormValue("passphrase"), v.remote)
	if err != nil {
		return s.settingsFailed(w, r, v, err)
	}
	picture, err := e.Picture(pictureSide)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := png.Encode(&b, picture); err != nil {
		return err
	}
	p := factorPage{Secret: inFours(e.Secret), Picture: template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(b.Bytes()))}
	return s.render(w, v, http.StatusOK, "second-factor", head{Title: "Second factor", Rail: "settings"}, p)
}

func (s *Server) confirmSecondFactor(w http.ResponseWriter, r *http.Request, v *visitor) error {
	codes, err := s.Gate.ConfirmSecondFactor(r.Context(), v.account.ID, r.PostFormValue("code"), s.sessions.ID(r.Context()), v.remote)
	if err != nil {
		return s.settingsFailed(w, r, v, err)
	}
	return s.render(w, v, http.StatusOK, "second-factor", head{Title: "Recovery codes", Rail: "settings"}, factorPage{Codes: codes})
}

func (s *Server) removeSecondFactor(w http.ResponseWriter, r *http.Request, v *visitor) error {
	if err := s.Gate.RemoveSecondFactor(r.Context(), v.account.ID, r.PostFormValue("passphrase"), v.remote); err != nil {
		return s.settingsFailed(w, r, v, err)
	}
	http.Redirect(w, r, "/settings?done=removed", http.StatusSeeOther)
	return nil
}

func (s *Server) showOwnHistory(w http.ResponseWriter, r *http.Request, v *visitor) error {
	events, err := s.Gate.History(r.Context(), v.account.Actor(v.remote), v.account.ID)
	if err != nil {
		return err
	}
	return s.historyPage(w, r, v, events, v.account.ShownName)
}

// inFours writes a secret in groups, as it is easier to type; authenticator programs
// leave the spaces out.
func inFours(secret string) string {
	var groups []string
	for group := range slices.Chunk([]byte(secret), 4) {
		groups = append(groups, string(group))
	}
	return strings.Join(groups, " ")
}
