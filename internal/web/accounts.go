package web

import (
	"net/http"
	"slices"
	"strings"

	"limitans/internal/account"
	"limitans/internal/record"
)

func (s *Server) accountRoutes() []route {
	manages := needs(account.ManageAccounts)
	return []route{
		{"GET", "/accounts", manages, s.listAccounts},
		{"POST", "/accounts", manages, s.makeAccount},
		{"GET", "/accounts/{account}", manages, s.showAccount},
		{"POST", "/accounts/{account}/roles", manages, s.setRoles},
		{"POST", "/accounts/{account}/active", manages, s.setActive},
		{"POST", "/accounts/{account}/recover", manages, s.recoverAccount},
		{"POST", "/accounts/{account}/unblock", manages, s.unblockAccount},
		{"GET", "/accounts/{account}/history", needs(account.ReadAccountHistory), s.showAccountHistory},
	}
}

// accountsPage lists all accounts.
type accountsPage struct {
	Accounts []account.Account
	Roles    []account.Role
	Demo     bool
	Trouble  string
	Name     string
	Shown    string
	Chosen   []string
}

// Has reports whether a role was chosen in the form.
func (p accountsPage) Has(role account.Role) bool { return slices.Contains(p.Chosen, string(role)) }

// accountPage is one account.
type accountPage struct {
	Account account.Account
	Roles   []account.Role
	Demo    bool
	Trouble string
	Own     bool
}

// Has reports whether the account has a role.
func (p accountPage) Has(role account.Role) bool { return slices.Contains(p.Account.Roles, role) }

// codePage shows a one-time code, once.
type codePage struct {
	Name, Shown, Code, Until string
	Account                  record.AccountID
}

func (s *Server) listAccounts(w http.ResponseWriter, r *http.Request, v *visitor) error {
	return s.accountsPage(w, r, v, http.StatusOK, accountsPage{})
}

func (s *Server) accountsPage(w http.ResponseWriter, r *http.Request, v *visitor, status int, p accountsPage) error {
	var err error
	if p.Accounts, err = s.Gate.Accounts(r.Context(), v.account.Actor(v.remote)); err != nil {
		return err
	}
	p.Roles, p.Demo = account.EveryRole(), s.Gate.Mode().Demo
	return s.render(w, v, status, "accounts", head{Title: "Accounts", Rail: "settings"}, p)
}

// rolesOf reads the roles of a form.
func rolesOf(r *http.Request) (account.Roles, error) {
	if err := r.ParseForm(); err != nil {
		return nil, err
	}
	var roles []account.Role
	for _, role := range r.PostForm["role"] {
		roles = append(roles, account.Role(role))
	}
	return account.NewRoles(roles...)
}

// makeAccount makes an account and shows its one-time code, once.
func (s *Server) makeAccount(w http.ResponseWriter, r *http.Request, v *visitor) error {
	roles, err := rolesOf(r)
	name, shown := r.PostFormValue("name"), strings.TrimSpace(r.PostFormValue("shown"))
	var made account.Account
	var code account.OneTimeCode
	if err == nil {
		made, code, err = s.Gate.Make(r.Context(), v.account.Actor(v.remote), name, shown, roles)
	}
	if err != nil {
		if statusOf(err) == http.StatusInternalServerError {
			return err
		}
		return s.accountsPage(w, r, v, statusOf(err), accountsPage{Trouble: err.Error(), Name: name, Shown: shown, Chosen: r.PostForm["role"]})
	}
	return s.showCode(w, v, made, code)
}

func (s *Server) showCode(w http.ResponseWriter, v *visitor, a account.Account, code account.OneTimeCode) error {
	p := codePage{Name: a.Name, Shown: a.ShownName, Code: code.Code, Until: momentWords(code.EndsAt), Account: a.ID}
	return s.render(w, v, http.StatusOK, "account-code", head{Title: "One-time code", Rail: "settings"}, p)
}

// accountOf reads the account of a request.
func (s *Server) accountOf(r *http.Request) (account.Account, error) {
	return s.Gate.Account(r.Context(), record.AccountID(r.PathValue("account")))
}

func (s *Server) showAccount(w http.ResponseWriter, r *http.Request, v *visitor) error {
	return s.accountPage(w, r, v, http.StatusOK, "")
}

func (s *Server) accountPage(w http.ResponseWriter, r *http.Request, v *visitor, status int, trouble string) error {
	a, err := s.accountOf(r)
	if err != nil {
		return err
	}
	p := accountPage{Account: a, Roles: account.EveryRole(), Demo: s.Gate.Mode().Demo, Trouble: trouble, Own: a.ID == v.account.ID}
	return s.render(w, v, status, "account", head{Title: a.ShownName, Rail: "settings"}, p)
}

// accountChanged goes on after a change of an account, or shows what forbade it.
func (s *Server) accountChanged(w http.ResponseWriter, r *http.Request, v *visitor, err error) error {
	if err != nil {
		if statusOf(err) == http.StatusInternalServerError {
			return err
		}
		return s.accountPage(w, r, v, statusOf(err), err.Error())
	}
	http.Redirect(w, r, "/accounts/"+r.PathValue("account"), http.StatusSeeOther)
	return nil
}

func (s *Server) setRoles(w http.ResponseWriter, r *http.Request, v *visitor) error {
	a, err := s.accountOf(r)
	if err != nil {
		return err
	}
	roles, err := rolesOf(r)
	if err == nil {
		err = s.Gate.SetRoles(r.Context(), v.account.Actor(v.remote), a.ID, roles, r.PostFormValue("reason"))
	}
	return s.accountChanged(w, r, v, err)
}

func (s *Server) setActive(w http.ResponseWriter, r *http.Request, v *visitor) error {
	a, err := s.accountOf(r)
	if err != nil {
		return err
	}
	err = s.Gate.SetActive(r.Context(), v.account.Actor(v.remote), a.ID, r.PostFormValue("active") == "yes", r.PostFormValue("reason"))
	return s.accountChanged(w, r, v, err)
}

// recoverAccount makes a one-time code for a person who cannot come in any more.
func (s *Server) recoverAccount(w http.ResponseWriter, r *http.Request, v *visitor) error {
	a, err := s.accountOf(r)
	if err != nil {
		return err
	}
	code, err := s.Gate.Recover(r.Context(), v.account.Actor(v.remote), a.ID, r.PostFormValue("factor-lost") == "yes", r.PostFormValue("reason"))
	if err != nil {
		return s.accountChanged(w, r, v, err)
	}
	return s.showCode(w, v, a, code)
}

func (s *Server) unblockAccount(w http.ResponseWriter, r *http.Request, v *visitor) error {
	a, err := s.accountOf(r)
	if err != nil {
		return err
	}
	return s.accountChanged(w, r, v, s.Gate.Unblock(r.Context(), v.account.Actor(v.remote), a.ID, r.PostFormValue("reason")))
}

func (s *Server) showAccountHistory(w http.ResponseWriter, r *http.Request, v *visitor) error {
	id := record.AccountID(r.PathValue("account"))
	events, err := s.Gate.History(r.Context(), v.account.Actor(v.remote), id)
	if err != nil {
		return err
	}
	name := string(id)
	if a, err := s.accountOf(r); err == nil {
		name = a.ShownName
	}
	return s.historyPage(w, r, v, events, name)
}

// historyPage lists what happened about an account, the newest first.
type historyPage struct {
	Of     string
	Events []eventLine
	More   bool
}

// eventLine is one entry of the account history.
type eventLine struct{ At, By, Place, What, Before, After, Reason string }

// mostEvents is how many entries of the account history one page shows.
const mostEvents = 200

func (s *Server) historyPage(w http.ResponseWriter, r *http.Request, v *visitor, events []account.Event, of string) error {
	people, err := s.colleagues(r.Context())
	if err != nil {
		return err
	}
	p := historyPage{Of: of, More: len(events) > mostEvents}
	for _, e := range slices.Backward(events) {
		if len(p.Events) == mostEvents {
			break
		}
		p.Events = append(p.Events, eventLine{momentWords(e.At), people.name(e.By.AccountID), string(e.By.Place), e.What, e.Before, e.After, e.Reason})
	}
	return s.render(w, v, http.StatusOK, "account-history", head{Title: "Account history", Rail: "settings"}, p)
}
