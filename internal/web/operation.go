package web

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

func (s *Server) operationRoutes() []route {
	writes := needs(account.ReadClinical, account.ReadIdentity, account.WriteOperation)
	return []route{
		{"POST", "/eyes/{eye}/operations", writes, s.addOperation},
		{"GET", "/eyes/{eye}/operations/new", writes, s.newOperation},
		{"GET", "/eyes/{eye}/operations/{operation}", seesEye(), s.showOperation},
		{"POST", "/eyes/{eye}/operations/{operation}", writes, s.changeOperation},
		{"GET", "/eyes/{eye}/operations/{operation}/edit", writes, s.editOperation},
		{"POST", "/eyes/{eye}/operations/{operation}/sign", writes, s.signOperation},
		{"POST", "/eyes/{eye}/operations/{operation}/strike", needs(account.ReadClinical, account.ReadIdentity, account.StrikeOut), s.strikeOperation},
	}
}

// operationForm is the page on which an operation is entered or changed.
type operationForm struct {
	Eye      eyeHead
	New      bool
	To, Back string
	V        entryValues

	Procedures, Indications, People, Anaesthesias, Lenses, Answers []option
	Membranes, PeelStates, Flaps, Postures, Methods                []option
	Classes, Actions, Gases, Dyes, Techniques                      []option
	Events                                                         []option
	Peels, Ports, Agents                                           []int
	Found                                                          foundView
	InEye                                                          []string
	Open                                                           []record.Finding // what a signature will ask for
	PlanOn                                                         string
}

// sectionOfOperation tells in which part of the form a field stands.
func sectionOfOperation(where string) string {
	switch field := fieldOf(where); field {
	case "on", "started_at", "ended_at", "side", "side_checks", "procedure", "indication":
		return "what"
	case "surgeon", "supervisor", "anaesthesia":
		return "people"
	case "peels", "flap":
		return "peels"
	case "agents", "iridectomy", "trapped_air_looked_for", "heavy_liquid_rinsed":
		return "agents"
	case "ports", "start_pressure", "end_pressure", "air_pressure_mmhg", "infusion_site", "periphery_checked", "retinotomy_degrees", "lens_before", "lens_after":
		return "end"
	case "events":
		return "events"
	}
	return "form"
}

func (s *Server) operationForm(ctx context.Context, c *store.Course, values entryValues, found []record.Finding, o, before *record.Operation) (*operationForm, error) {
	people, err := s.colleagues(ctx)
	if err != nil {
		return nil, err
	}
	named := []record.AccountID{o.Surgeon, o.Supervisor}
	for _, a := range o.Agents {
		named = append(named, a.MixedBy, a.CheckedBy)
	}
	p := &operationForm{
		Eye: headOf(c, "visits"), V: values, New: before.Version == 0, People: people.with(named...),
		Procedures: optionsOf[record.Procedure]("choose"), Indications: optionsOf[record.DiagnosisCode]("not told"),
		Anaesthesias: optionsOf[record.Anaesthesia]("not told"), Lenses: optionsOf[record.LensState]("not told"),
		Answers: optionsOf[record.Answer]("not told"), Membranes: optionsOf[record.Membrane]("none"), PeelStates: optionsOf[record.PeelState]("not told"),
		Flaps: optionsOf[record.FlapType]("none"), Postures: optionsOf[record.Posture]("not told"), Methods: optionsOf[record.PressureMethod]("not told"),
		Classes: optionsOf[record.AgentClass]("none"), Actions: optionsOf[record.AgentAction]("not told"), Gases: optionsOf[record.Gas]("no gas"),
		Dyes: optionsOf[record.Dye]("no dye"), Techniques: optionsOf[record.GasTechnique]("not told"), Events: optionsOf[record.EventCode]("")[1:],
		Peels: values.rows("peel", "membrane", peelRows), Ports: values.rows("port", "site", portRows), Agents: values.rows("agent", "class", agentRows),
		Open: record.OpenFields(o),
	}
	p.To = "/eyes/" + string(c.Eye.ID) + "/operations"
	p.Back = "/eyes/" + string(c.Eye.ID) + "/visits"
	if !p.New {
		p.To += "/" + string(before.ID)
		p.Back = p.To
	}
	p.Found = viewFindings(values, found, o.Overrides, sectionOfOperation)
	p.Found.Colleagues = people.Options
	for _, in := range record.StateOf(c.Course, record.DayOf(s.Now())).InEye {
		p.InEye = append(p.InEye, contentWords(in))
	}
	return p, nil
}

func (s *Server) renderOperationForm(w http.ResponseWriter, v *visitor, status int, p *operationForm) error {
	title := "Enter operation"
	if !p.New {
		title = "Change operation"
	}
	return s.render(w, v, status, "operation-form", head{Title: title, Rail: "eyes", Scripts: []string{"visit.js"}}, p)
}

// newOperation shows a form with what is known of the eye and its plan.
func (s *Server) newOperation(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	id, err := record.NewID(s.Now(), rand.Reader)
	if err != nil {
		return err
	}
	o := &record.Operation{Base: record.Base{ID: id}, PatientID: c.Eye.PatientID, EyeID: c.Eye.ID, On: record.DayOf(s.Now())}
	o.LensBefore = record.StateOf(c.Course, o.On).Lens
	if v.account.Roles.Allow(account.SignPlan) {
		o.Surgeon = v.account.ID
	}
	if n := len(c.Eye.Diagnoses); n > 0 {
		o.Indication = c.Eye.Diagnoses[n-1].Code
	}
	values := operationValues(o)
	p, err := s.operationForm(r.Context(), c, values, nil, o, o)
	if err != nil {
		return err
	}
	return s.renderOperationForm(w, v, http.StatusOK, p)
}

// operationOf reads an eye and one of its operations, struck out or not.
func (s *Server) operationOf(r *http.Request) (*store.Course, *record.Operation, error) {
	c, err := s.course(r)
	if err != nil {
		return nil, nil, err
	}
	none := &fault.Error{Code: fault.NotFound, Where: "operation", What: "this eye has no such operation", Mend: "go back to its course"}
	id := record.ID(r.PathValue("operation"))
	if id.Check() != nil {
		return nil, nil, none
	}
	e, err := s.Store.Get(r.Context(), record.KindOperation, id)
	if err != nil {
		return nil, nil, err
	}
	o := e.(*record.Operation)
	if o.EyeID != c.Eye.ID {
		return nil, nil, none
	}
	return c, o, nil
}

func (s *Server) editOperation(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, o, err := s.operationOf(r)
	if err != nil {
		return err
	}
	var found []record.Finding
	if o.Signed != nil {
		found = []record.Finding{{Severity: record.Stop, Code: record.CodeFrozen, What: "it was signed and must not change", Mend: "strike it out with a reason and enter it anew"}}
	}
	p, err := s.operationForm(r.Context(), c, operationValues(o), found, o, o)
	if err != nil {
		return err
	}
	return s.renderOperationForm(w, v, http.StatusOK, p)
}

func (s *Server) addOperation(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	values, err := formOf(r)
	if err != nil {
		return err
	}
	id := record.ID(values.Get("id"))
	if err := id.Check(); err != nil {
		return err
	}
	before := &record.Operation{Base: record.Base{ID: id}, PatientID: c.Eye.PatientID, EyeID: c.Eye.ID}
	return s.keepOperation(w, r, v, c, values, before)
}

func (s *Server) changeOperation(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, o, err := s.operationOf(r)
	if err != nil {
		return err
	}
	values, err := formOf(r)
	if err != nil {
		return err
	}
	before := &record.Operation{}
	if err := s.madeFrom(r.Context(), o, values.Get("version"), before); err != nil {
		return err
	}
	return s.keepOperation(w, r, v, c, values, before)
}

// madeFrom reads the version of a noun from which a form was made.
func (s *Server) madeFrom(ctx context.Context, now record.Entity, version string, into record.Entity) error {
	where := string(now.Kind())
	n, err := strconv.ParseInt(version, 10, 64)
	if err != nil || n < 1 || n > now.Identity().Version {
		return &fault.Error{Code: fault.Invalid, Where: where, What: "the form does not tell from which version it was made", Mend: "open it again"}
	}
	all, err := s.Store.History(ctx, now.Kind(), now.Identity().ID)
	if err != nil {
		return err
	}
	for _, entry := range all {
		if entry.Version == n {
			if err := json.Unmarshal([]byte(entry.After), into); err != nil {
				return &fault.Error{Code: fault.Malformed, Where: where, What: "an earlier version cannot be read", Mend: "run the verification", Cause: err}
			}
			return nil
		}
	}
	return &fault.Error{Code: fault.NotFound, Where: where, What: "the version that the form was made from is not in the history", Mend: "run the verification"}
}

// keepOperation reads the form, shows it again while something is open, and
// stores it.
func (s *Server) keepOperation(w http.ResponseWriter, r *http.Request, v *visitor, c *store.Course, values entryValues, before *record.Operation) error {
	e := &entryReader{values: values, today: record.DayOf(s.Now())}
	o := e.readOperation(before)
	around := aroundOf(c, e.today)
	if before.Version > 0 {
		around.Before = before
	}
	found := saidOnce(append(e.found, record.Check(o, around)...))
	o.Overrides = s.overridesFrom(values, found, before.Overrides, v)
	again := func(status int, found []record.Finding) error {
		p, err := s.operationForm(r.Context(), c, values, found, o, before)
		if err != nil {
			return err
		}
		return s.renderOperationForm(w, v, status, p)
	}
	if sort := values.Get("more"); sort != "" { // another row, without script
		field := map[string]string{"agent": "class", "peel": "membrane", "port": "site"}[sort]
		least := map[string]int{"agent": agentRows, "peel": peelRows, "port": portRows}[sort]
		if n := len(values.rows(sort, field, least)); field != "" && n < mostRows {
			values.Set(row(sort, n, field), "")
		}
		values.Del("more")
		return again(http.StatusOK, e.found)
	}
	if !settled(values, found, o.Overrides) {
		return again(http.StatusUnprocessableEntity, found)
	}
	err := s.Store.Write(r.Context(), v.actor(), func(tx *store.Tx) error {
		_, err := tx.Put(r.Context(), o, e.text("why"))
		return err
	})
	var refused *store.Refused
	if errors.As(err, &refused) {
		return again(http.StatusUnprocessableEntity, refused.Stops)
	}
	return s.stored(w, r, err, "/eyes/"+string(c.Eye.ID)+"/operations/"+string(o.ID))
}

// signOperation signs an operation whose record is complete.
func (s *Server) signOperation(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, o, err := s.operationOf(r)
	if err != nil {
		return err
	}
	signed := &record.Operation{}
	if err := s.madeFrom(r.Context(), o, r.PostFormValue("version"), signed); err != nil {
		return err
	}
	signed.Signed = &record.Signature{By: v.actor(), At: s.Now().UTC()}
	err = s.Store.Write(r.Context(), v.actor(), func(tx *store.Tx) error {
		_, err := tx.Put(r.Context(), signed, "signed")
		return err
	})
	return s.stored(w, r, err, "/eyes/"+string(c.Eye.ID)+"/operations/"+string(o.ID))
}

func (s *Server) strikeOperation(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, o, err := s.operationOf(r)
	if err != nil {
		return err
	}
	return s.strike(w, r, v, o, "/eyes/"+string(c.Eye.ID)+"/operations/"+string(o.ID))
}

// agentShown writes one agent of an operation.
func agentShown(a record.AgentUse) string {
	parts := []string{codeWords(string(a.Class))}
	if a.Gas != "" || a.GasText != "" {
		parts = append(parts, strings.TrimSpace(string(a.Gas)+" "+string(a.GasText)))
	}
	if a.Dye != "" {
		parts = append(parts, codeWords(string(a.Dye)))
	}
	if a.Product != "" {
		parts = append(parts, a.Product)
	}
	number := func(x *float64, unit string) {
		if x != nil {
			parts = append(parts, fmt.Sprintf("%g %s", *x, unit))
		}
	}
	number(a.Percent, "%")
	number(a.MilligramsPerML, "mg/mL")
	number(a.ViscosityCSt, "cSt")
	number(a.AmountML, "mL")
	number(a.Seconds, "s")
	parts = append(parts, codeWords(string(a.Action)))
	if a.Lot != "" {
		parts = append(parts, "lot "+a.Lot)
	}
	if a.Expiry.Known() {
		parts = append(parts, "use by "+dayWords(a.Expiry))
	}
	return strings.Join(parts, ", ")
}
