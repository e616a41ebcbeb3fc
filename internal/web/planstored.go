package web

import (
	"net/http"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

// storedPlanPage is one version of a plan as it was kept.
type storedPlanPage struct {
	Eye        eyeHead
	Plan       *record.Plan
	Chosen     record.PlanOption
	Kept       planBlob
	ReplacedBy *record.Plan
	SignedBy   string
	MaySign    bool
	MayWrite   bool
	Here       string
}

// storedPlan finds a plan of the eye of the address.
func (s *Server) storedPlan(r *http.Request) (*store.Course, *record.Plan, error) {
	c, err := s.course(r)
	if err != nil {
		return nil, nil, err
	}
	for _, p := range c.Plans {
		if string(p.ID) == r.PathValue("plan") {
			return c, p, nil
		}
	}
	return nil, nil, &fault.Error{Code: fault.NotFound, Where: "plan", What: "this eye has no such plan", Mend: "open the Plan station of the eye"}
}

// showStoredPlan shows one version; once signed it never changes.
func (s *Server) showStoredPlan(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, plan, err := s.storedPlan(r)
	if err != nil {
		return err
	}
	p := storedPlanPage{Eye: headOf(c, "plan"), Plan: plan, Here: "/eyes/" + string(c.Eye.ID) + "/plan/" + string(plan.ID), MayWrite: v.may(account.WritePlan)}
	for _, o := range plan.Options {
		if o.Code == plan.Chosen {
			p.Chosen = o
		}
	}
	for _, other := range c.Plans {
		if other.Replaces == plan.ID {
			p.ReplacedBy = other
		}
	}
	if p.Kept, err = keptOf(plan); err != nil {
		return err
	}
	if plan.Frozen() {
		p.SignedBy = s.nameOf(r, plan.Signed.By.AccountID)
	}
	p.MaySign = v.may(account.SignPlan) && !plan.Frozen() && p.ReplacedBy == nil && plan.Chosen != ""
	return s.render(w, v, http.StatusOK, "plan-stored", head{Title: p.Eye.Name, Rail: "eyes"}, p)
}

// nameOf is the shown name of an account; its identifier where there is none.
func (s *Server) nameOf(r *http.Request, id record.AccountID) string {
	a, err := s.Gate.Account(r.Context(), id)
	if err != nil {
		return string(id)
	}
	return a.ShownName
}

// signPlan freezes a plan with the visitor's name.
func (s *Server) signPlan(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, plan, err := s.storedPlan(r)
	if err != nil {
		return err
	}
	if plan.Frozen() {
		return &fault.Error{Code: fault.Conflict, Where: "plan", What: "is signed already", Mend: "make a new version to change it"}
	}
	signed := *plan
	signed.Signed = &record.Signature{By: v.actor(), At: s.Now().UTC()}
	err = s.Store.Write(r.Context(), v.actor(), func(tx *store.Tx) error {
		_, err := tx.Put(r.Context(), &signed, "signed")
		return err
	})
	if err != nil {
		return err
	}
	http.Redirect(w, r, "/eyes/"+string(c.Eye.ID)+"/plan/"+string(plan.ID), http.StatusSeeOther)
	return nil
}
