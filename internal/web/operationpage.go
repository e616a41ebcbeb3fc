package web

import (
	"fmt"
	"net/http"
	"strings"

	"limitans/internal/account"
	"limitans/internal/record"
)

// operationPage is one operation to be read.
type operationPage struct {
	Eye       eyeHead
	Operation *record.Operation
	Rows      []factRow
	Steps     []string
	Open      []record.Finding
	Found     []findingView
	Contests  []record.ID
	SignedBy  string
	SignedAt  string
	StruckBy  string
	StruckAt  string
	Struck    string
	MayEdit   bool
	MayStrike bool
}

// showOperation is one operation.
func (s *Server) showOperation(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, o, err := s.operationOf(r)
	if err != nil {
		return err
	}
	people, err := s.colleagues(r.Context())
	if err != nil {
		return err
	}
	p := operationPage{Eye: headOf(c, "visits"), Operation: o, Rows: operationRows(o, people)}
	for _, step := range o.Steps {
		text := codeWords(string(step.Code))
		if step.ElapsedS != nil {
			text = fmt.Sprintf("%d min %02d s: %s", int(*step.ElapsedS)/60, int(*step.ElapsedS)%60, text)
		}
		if step.Note != "" {
			text += ", " + string(step.Note)
		}
		p.Steps = append(p.Steps, text)
	}
	around := aroundOf(c, record.DayOf(s.Now()))
	for _, list := range viewFindings(entryValues{}, record.Check(o, around), o.Overrides, func(string) string { return "" }).Sections {
		p.Found = list
	}
	for _, contest := range c.Contests {
		if contest.Entity == o.ID {
			p.Contests = append(p.Contests, contest.ID)
		}
	}
	if o.Signed != nil {
		p.SignedBy, p.SignedAt = people.name(o.Signed.By.AccountID), momentWords(o.Signed.At)
	} else {
		p.Open = record.OpenFields(o)
	}
	if struck := o.StruckOut; struck != nil {
		p.StruckBy, p.StruckAt, p.Struck = people.name(struck.By.AccountID), momentWords(struck.At), string(struck.Reason)
	}
	p.MayEdit = o.Signed == nil && !o.Struck() && v.may(account.WriteOperation)
	p.MayStrike = !o.Struck() && v.may(account.StrikeOut)
	return s.render(w, v, http.StatusOK, "operation", head{Title: "Operation", Rail: "eyes"}, p)
}

// operationRows writes the facts of an operation.
func operationRows(o *record.Operation, people colleagues) []factRow {
	var rows []factRow
	add := func(name, value, note string) {
		if value != "" {
			rows = append(rows, factRow{name, value, note})
		}
	}
	word := func(name string, code any) { add(name, codeWords(fmt.Sprint(code)), "") }
	number := func(name string, x *float64, unit string) {
		if x != nil {
			add(name, fmt.Sprintf("%g %s", *x, unit), "")
		}
	}
	word("Procedure", o.Procedure)
	add("Side", sideWords(o.Side), "")
	add("Time", strings.Trim(string(o.StartedAt)+" to "+string(o.EndedAt), " to"), "")
	word("For", o.Indication)
	add("Surgeon", people.name(o.Surgeon), "")
	add("Supervisor", people.name(o.Supervisor), "")
	for _, a := range o.Assistants {
		add("At the table", people.name(a.Account), codeWords(string(a.Part)))
	}
	word("Anaesthesia", o.Anaesthesia)
	word("Lens before", o.LensBefore)
	word("Lens after", o.LensAfter)
	word("Iridectomy open", o.Iridectomy)
	for _, peel := range o.Peels {
		text := codeWords(string(peel.Membrane)) + ": " + codeWords(string(peel.State))
		if peel.DiscDiameters != nil {
			text += fmt.Sprintf(", %g disc diameters", *peel.DiscDiameters)
		}
		if peel.AreaMM2 != nil {
			text += ", " + estimateWords(peel.AreaMM2, 1, "mm²")
		}
		add("Membrane", text, string(peel.Note))
	}
	if o.Flap != nil {
		add("Flap or graft", codeWords(string(o.Flap.Type)), strings.TrimPrefix(string(o.Flap.Note)+", in place: "+codeWords(string(o.Flap.Placed)), ", "))
	}
	for _, a := range o.Agents {
		who := ""
		if a.MixedBy != "" || a.CheckedBy != "" {
			who = "mixed by " + people.name(a.MixedBy) + ", checked by " + people.name(a.CheckedBy)
		}
		if a.SeenEmpty != "" {
			who = strings.TrimPrefix(who+", seen empty: "+codeWords(string(a.SeenEmpty)), ", ")
		}
		add("In and out", agentShown(a), strings.TrimSpace(who+" "+string(a.Note)))
	}
	for _, port := range o.Ports {
		add("Port", portShown(port), "sutured: "+codeWords(string(port.Sutured)))
	}
	if o.EndPressure != nil {
		add("Pressure at the end", pressureShown(*o.EndPressure), "")
	}
	number("Air pressure", o.AirPressureMmHg, "mmHg")
	number("Retinotomy", o.RetinotomyDegrees, "°")
	word("Periphery searched", o.PeripheryChecked)
	word("Trapped air looked for", o.TrappedAirLookedFor)
	word("Heavy liquid rinsed", o.HeavyLiquidRinsed)
	for _, e := range o.Events {
		add("Event", codeWords(string(e.Code)), string(e.Note))
	}
	if o.NoEvents {
		add("Events", "asked, none", "")
	}
	word("Posture", o.Posture)
	add("Note", string(o.Note), "")
	for _, one := range o.Overrides {
		second := ""
		if one.SecondBy != "" {
			second = " (with " + people.name(one.SecondBy) + ")"
		}
		add("Stop passed", codeWords(string(one.Code)), string(one.Reason)+second)
	}
	return rows
}

// portShown writes where a port was and how wide.
func portShown(p record.Port) string {
	text := fmt.Sprintf("%d gauge", p.GaugeG)
	if p.Site != 0 {
		text = fmt.Sprintf("%g o'clock, ", float64(p.Site)) + text
	}
	return text
}
