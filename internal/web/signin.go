package web

import (
	"errors"
	"net/http"
	"slices"

	"limitans/fault"
	"limitans/internal/account"
)

func (s *Server) signInRoutes() []route {
	return []route{
		{"GET", "/sign-in", open(), s.showSignIn},
		{"POST", "/sign-in", open(), s.signIn},
		{"POST", "/sign-out", anyone(), s.signOut},
		{"GET", "/passphrase", open(), s.showPassphrase},
		{"POST", "/passphrase", open(), s.setPassphrase},
		{"GET", "/sign-on", open(), s.signOnStart},
		{"GET", "/sign-on/back", open(), s.signOnFinish},
	}
}

// signInPage is the form with which people come in.
type signInPage struct {
	Then     string
	Name     string
	Trouble  string
	NeedCode bool           // a second factor is asked for
	SignOn   bool           // the department's provider can be used
	Roles    []account.Role // of a demonstration; empty for a real record
	FirstRun bool
}

func (s *Server) signInPage(r *http.Request) (signInPage, error) {
	p := signInPage{Then: localPath(r.FormValue("then")), SignOn: s.SignOn != nil}
	if s.Gate.Mode().Demo {
		p.Roles = account.EveryRole()
		return p, nil
	}
	var err error
	p.FirstRun, err = s.Gate.FirstRun(r.Context())
	return p, err
}

func (s *Server) showSignIn(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p, err := s.signInPage(r)
	if err != nil {
		return err
	}
	return s.render(w, v, http.StatusOK, "sign-in", titled("Sign in"), p)
}

// signIn lets somebody in by name and passphrase, or by role in a demonstration.
func (s *Server) signIn(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p, err := s.signInPage(r)
	if err != nil {
		return err
	}
	var a account.Account
	if s.Gate.Mode().Demo {
		role := account.Role(r.PostFormValue("role"))
		if !slices.Contains(account.EveryRole(), role) {
			return &fault.Error{Code: fault.Invalid, Where: "role", What: "is none of this program", Expected: account.Roles(account.EveryRole()).String()}
		}
		a, err = s.Gate.EnterDemo(r.Context(), role, v.remote)
	} else {
		a, err = s.Gate.LogIn(r.Context(), account.Credentials{
			Name: r.PostFormValue("name"), Passphrase: r.PostFormValue("passphrase"), Code: r.PostFormValue("code"), Remote: v.remote,
		})
	}
	if err != nil {
		return s.signInAgain(w, r, v, p, err)
	}
	if err := s.sessions.Begin(r.Context(), a, v.remote, r.UserAgent()); err != nil {
		return err
	}
	http.Redirect(w, r, homeOf(a, p.Then), http.StatusSeeOther)
	return nil
}

// homeOf is where an account begins: an auditor has no page that shows people.
func homeOf(a account.Account, then string) string {
	if then != "/" {
		return then
	}
	switch {
	case a.Allows(account.ReadIdentity):
		return "/"
	case a.Allows(account.ReadDeIdentified):
		return "/cases"
	}
	return "/settings"
}

// signInAgain shows the form with what went wrong. A passphrase is never sent
// back; with a second factor it is typed once more.
func (s *Server) signInAgain(w http.ResponseWriter, r *http.Request, v *visitor, p signInPage, err error) error {
	status := http.StatusForbidden
	p.Name = r.PostFormValue("name")
	switch {
	case errors.Is(err, account.ErrSecondFactor):
		p.NeedCode = true
		p.Trouble = "This account has a second factor: type the passphrase again, and the code of your authenticator."
	case errors.Is(err, account.ErrBlocked):
		status = http.StatusTooManyRequests
		p.Trouble = "Too many attempts failed."
		if until, told := account.BlockedUntil(err); told {
			p.Trouble = "Too many attempts failed. The next one is looked at from " + until.Format("15:04:05") + " on."
		}
	case errors.Is(err, account.ErrRefused):
		p.NeedCode = r.PostFormValue("code") != ""
		p.Trouble = "Name, passphrase or code is not right."
	default:
		return err
	}
	return s.render(w, v, status, "sign-in", titled("Sign in"), p)
}

func (s *Server) signOut(w http.ResponseWriter, r *http.Request, v *visitor) error {
	if err := s.sessions.End(r.Context(), v.remote); err != nil {
		return err
	}
	http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
	return nil
}

// passphrasePage sets a passphrase with a one-time code.
type passphrasePage struct {
	Name, Trouble string
	Least         int
}

func (s *Server) showPassphrase(w http.ResponseWriter, _ *http.Request, v *visitor) error {
	return s.render(w, v, http.StatusOK, "passphrase", titled("Set a passphrase"), passphrasePage{Least: account.LeastPassphraseCharacters})
}

func (s *Server) setPassphrase(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p := passphrasePage{Name: r.PostFormValue("name"), Least: account.LeastPassphraseCharacters}
	fresh := r.PostFormValue("passphrase")
	var err error
	if fresh != r.PostFormValue("again") {
		err = &fault.Error{Code: fault.Invalid, Where: "passphrase", What: "was typed differently the second time"}
	} else {
		_, err = s.Gate.Redeem(r.Context(), p.Name, r.PostFormValue("code"), fresh, v.remote)
	}
	if err != nil {
		status := statusOf(err)
		if status == http.StatusInternalServerError {
			return err
		}
		p.Trouble = err.Error()
		return s.render(w, v, status, "passphrase", titled("Set a passphrase"), p)
	}
	http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
	return nil
}

// errNoSignOn says that no provider is configured.
func errNoSignOn() error {
	return &fault.Error{Code: fault.NotFound, Where: "sign-on", What: "no identity provider is set up", Mend: "sign in by name and passphrase"}
}

func (s *Server) signOnStart(w http.ResponseWriter, r *http.Request, _ *visitor) error {
	if s.SignOn == nil {
		return errNoSignOn()
	}
	to, err := s.SignOn.Start(r.Context())
	if err != nil {
		return err
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

func (s *Server) signOnFinish(w http.ResponseWriter, r *http.Request, v *visitor) error {
	if s.SignOn == nil {
		return errNoSignOn()
	}
	a, err := s.SignOn.Finish(r.Context(), r.URL.Query(), v.remote)
	if err != nil {
		return err
	}
	if err := s.sessions.Begin(r.Context(), a, v.remote, r.UserAgent()); err != nil {
		return err
	}
	http.Redirect(w, r, homeOf(a, "/"), http.StatusSeeOther)
	return nil
}
