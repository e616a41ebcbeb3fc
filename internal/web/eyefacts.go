package web

import (
	"errors"
	"fmt"
	"net/http"

	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

// eyeFacts is the page of what belongs to the eye itself: its length and what is
// wrong with it.
type eyeFacts struct {
	Eye       eyeHead
	Lengths   []lengthLine
	Diagnoses []factRow
	Usable    string
	V         entryValues
	Methods   []option
	Media     []option
	Answers   []option
	Codes     []option
	Found     foundView
	MayWrite  bool
}

// lengthLine is one measurement of the length.
type lengthLine struct{ Length, How, On, Remark string }

// sectionOfEye tells in which part of the form a field stands.
func sectionOfEye(where string) string {
	switch field := fieldOf(where); field {
	case "axial_lengths":
		return "length"
	case "diagnoses":
		return "diagnosis"
	}
	return "form"
}

func (s *Server) eyeFactsPage(w http.ResponseWriter, v *visitor, status int, c *store.Course, values entryValues, found []record.Finding) error {
	p := eyeFacts{
		Eye: headOf(c, ""), V: values, MayWrite: v.may(account.WritePatient),
		Methods: optionsOf[record.BiometryMethod]("not told"), Media: optionsOf[record.Medium]("not told"), Answers: optionsOf[record.Answer]("not told"),
		Codes: optionsOf[record.DiagnosisCode]("none"), Found: viewFindings(values, found, nil, sectionOfEye),
	}
	for _, a := range c.Eye.AxialLengths {
		line := lengthLine{Length: fmt.Sprintf("%g mm", a.LengthMM), How: codeWords(string(a.Method)), On: dayWords(a.On)}
		if a.MediumThen != "" {
			line.Remark = "eye filled with " + mediumWords(a.MediumThen)
		}
		if a.SpeedCorrected != "" {
			line.Remark += ", speed of sound corrected: " + codeWords(string(a.SpeedCorrected))
		}
		p.Lengths = append(p.Lengths, line)
	}
	if use, ok, why := record.UsableAxialLength(c.Eye); ok {
		p.Usable = fmt.Sprintf("Sums use %g mm, by %s, of %s.", use.LengthMM, codeWords(string(use.Method)), dayWords(use.On))
	} else {
		p.Usable = "Sums have no length to use: " + why + "."
	}
	for _, d := range c.Eye.Diagnoses {
		p.Diagnoses = append(p.Diagnoses, factRow{codeWords(string(d.Code)), "since " + dayWords(d.Since), string(d.Note)})
	}
	return s.render(w, v, status, "eye-facts", head{Title: "Length and diagnoses", Rail: "eyes"}, p)
}

func (s *Server) showEyeFacts(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	values := entryValues{map[string][]string{"version": {versionText(c.Eye.Version)}}}
	return s.eyeFactsPage(w, v, http.StatusOK, c, values, nil)
}

// addEyeFacts adds a length or a diagnosis.
func (s *Server) addEyeFacts(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	values, err := formOf(r)
	if err != nil {
		return err
	}
	before := &record.Eye{}
	if err := s.madeFrom(r.Context(), c.Eye, values.Get("version"), before); err != nil {
		return err
	}
	e := &entryReader{values: values, today: record.DayOf(s.Now())}
	changed := *before
	if length := e.number("length", "axial_lengths"); length != nil {
		changed.AxialLengths = append(changed.AxialLengths[:len(changed.AxialLengths):len(changed.AxialLengths)], record.AxialLength{
			LengthMM: *length, Method: record.BiometryMethod(e.text("method")), MediumThen: record.Medium(e.text("medium")),
			SpeedCorrected: record.Answer(e.text("speed")), Staphyloma: record.Answer(e.text("staphyloma")), On: e.date("on", "axial_lengths", record.OrderUndecided),
		})
	}
	if code := e.text("diagnosis"); code != "" {
		changed.Diagnoses = append(changed.Diagnoses[:len(changed.Diagnoses):len(changed.Diagnoses)], record.Diagnosis{
			Code: record.DiagnosisCode(code), Since: e.date("since", "diagnoses", record.OrderUndecided), Note: record.FreeText(e.text("remark")),
		})
	}
	if len(changed.AxialLengths) == len(before.AxialLengths) && len(changed.Diagnoses) == len(before.Diagnoses) && len(e.found) == 0 {
		e.stop("form", "nothing was entered", "enter a length or a diagnosis")
	}
	found := append(e.found, record.Check(&changed, record.Around{Today: e.today, Before: before})...)
	for i := range found { // an eye keeps no reasons beside it
		found[i].Overridable = false
	}
	if !settled(values, found, nil) {
		return s.eyeFactsPage(w, v, http.StatusUnprocessableEntity, c, values, found)
	}
	err = s.Store.Write(r.Context(), v.actor(), func(tx *store.Tx) error {
		_, err := tx.Put(r.Context(), &changed, "")
		return err
	})
	var refused *store.Refused
	if errors.As(err, &refused) {
		return s.eyeFactsPage(w, v, http.StatusUnprocessableEntity, c, values, refused.Stops)
	}
	return s.stored(w, r, err, "/eyes/"+string(c.Eye.ID)+"/facts")
}
