package web

import (
	"fmt"
	"net/http"
	"slices"

	"limitans/fault"
	"limitans/internal/account"
)

// handle answers one request of a visitor. What it returns is answered by
// [Server.fail].
type handle func(w http.ResponseWriter, r *http.Request, v *visitor) error

// route is one address with the rule of who may come.
type route struct {
	method, path string
	rule         rule
	handle       handle
}

// pattern is the route as the standard multiplexer wants it.
func (r route) pattern() string { return r.method + " " + r.path }

// rule says who may use a route. The zero rule is none and refused by New.
type rule struct {
	kind ruleKind
	acts []account.Act
}

type ruleKind int

const (
	noRule ruleKind = iota
	openToAll
	signedIn
	needsActs
)

// open lets everybody in, signed in or not.
func open() rule { return rule{kind: openToAll} }

// anyone lets everybody in who is signed in.
func anyone() rule { return rule{kind: signedIn} }

// needs lets those in who may do all of these acts.
func needs(acts ...account.Act) rule { return rule{kind: needsActs, acts: acts} }

// allows reports whether an account may use the route.
func (r rule) allows(a *account.Account) bool {
	switch r.kind {
	case openToAll:
		return true
	case signedIn:
		return a != nil && a.Active
	case needsActs:
		return a != nil && !slices.ContainsFunc(r.acts, func(act account.Act) bool { return !a.Allows(act) })
	}
	return false
}

// check refuses a route that says too little.
func (r route) check() error {
	if r.rule.kind == noRule || r.rule.kind == needsActs && len(r.rule.acts) == 0 || r.handle == nil || r.method == "" {
		return &fault.Error{Code: fault.Internal, Where: "routes", What: fmt.Sprintf("%s has no rule", r.pattern())}
	}
	return nil
}

// The rules that most pages of an eye have.
func seesEye() rule { return needs(account.ReadClinical, account.ReadIdentity) }

// allRoutes is the table of all addresses. Each noun lists its own.
func (s *Server) allRoutes() []route {
	return slices.Concat(
		s.assetRoutes(),
		s.signInRoutes(),
		s.todayRoutes(),
		s.eyesRoutes(),
		s.eyeRoutes(),
		s.scanRoutes(),
		s.planRoutes(),
		s.visitsRoutes(),
		s.benchRoutes(), s.benchBubbleRoutes(),
		s.bubbleRoutes(),
		s.registersRoutes(),
		s.mixingRoutes(),
		s.papersRoutes(),
		s.contestRoutes(),
		s.peopleRoutes(),
		s.accountRoutes(),
		s.operationRoutes(),
		s.apiPageRoutes(),
		s.caseRoutes(),
		s.aboutRoutes(),
		s.settingsRoutes(),
		s.unitRoutes(),
	)
}
