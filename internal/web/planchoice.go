package web

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"limitans/decide"
	"limitans/estimate"
	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// planForm is the choice as it is typed.
type planForm struct {
	Chosen, Reason, ReasonText, OwnWords string
	Gauge, Dye, Filling, Percent, Fill   string
	Anaesthesia, Posture, PostureDays    string
	WithLens, Note                       string
}

func planFormOf(form url.Values) planForm {
	get := func(name string) string { return strings.TrimSpace(form.Get(name)) }
	return planForm{
		Chosen: get("chosen"), Reason: get("reason"), ReasonText: get("reason_text"), OwnWords: get("own_words"),
		Gauge: get("plan_gauge"), Dye: get("dye"), Filling: get("filling"), Percent: get("percent"), Fill: get("fill"),
		Anaesthesia: get("anaesthesia"), Posture: get("posture"), PostureDays: get("posture_days"), WithLens: get("with_lens"), Note: get("note"),
	}
}

// ownOption is the code of an option that the surgeon wrote.
const ownOption = "own"

// planReasons are those for another option than the first.
var planReasons = []choice{
	{"", "choose"},
	{string(record.ReasonExperience), "own experience"},
	{string(record.ReasonEquipment), "not available here"},
	{string(record.ReasonPatient), "wish of the patient"},
	{string(record.ReasonPosture), "posture is not possible"},
	{string(record.ReasonTravel), "travel or height"},
	{string(record.ReasonAllergy), "allergy"},
	{string(record.ReasonFellowEye), "the fellow eye"},
	{string(record.ReasonEarlier), "earlier surgery"},
	{string(record.ReasonOther), "other, in words"},
}

// planSchema names the form of what a plan keeps of its options and findings.
const planSchema = "limitans.plan"

// planBlob is what a plan keeps so that it can be shown again as it was decided.
type planBlob struct {
	Findings decide.Findings `json:"findings"`
	Order    string          `json:"order"`
	Steps    []string        `json:"steps"`
	Warnings []string        `json:"warnings"`
	Needs    decide.Needs    `json:"needs"`
	Program  string          `json:"program"`
	At       time.Time       `json:"at"`
}

// planFrom makes the plan of the record from the page.
func (s *Server) planFrom(c *store.Course, p *planPage, v *visitor) (*record.Plan, error) {
	d, f := p.Decision, p.Form
	plan := &record.Plan{Revision: 1}
	if now := p.Current; now != nil && !now.Frozen() {
		copied := *now
		plan = &copied
	} else if now != nil {
		plan.Revision, plan.Replaces = now.Revision+1, now.ID
	}
	plan.PatientID, plan.EyeID, plan.Side = c.Eye.PatientID, c.Eye.ID, c.Eye.Side
	plan.MadeOn, plan.MadeBy = record.DayOf(s.Now()), v.account.ID
	plan.Options = nil
	for _, o := range d.Options {
		one := record.PlanOption{Code: o.Code, Name: o.Name, Why: texts(o.Reasons), WhyNot: texts(o.Against)}
		if o.Closure.Known() {
			closure := o.Closure
			one.ExpectedClosure = &closure
		}
		plan.Options = append(plan.Options, one)
	}
	plan.Chosen = f.Chosen
	if f.Chosen == ownOption {
		if f.OwnWords == "" {
			return nil, &fault.Error{Code: fault.Invalid, Where: "Another way", What: "is empty", Expected: "what is to be done, in a line"}
		}
		plan.Options = append(plan.Options, record.PlanOption{Code: ownOption, Name: f.OwnWords})
	}
	plan.ReasonsAgainstFirst = nil
	if f.Reason != "" && f.Chosen != d.Options[0].Code {
		plan.ReasonsAgainstFirst = []record.PlanReason{{Code: record.ReasonCode(f.Reason), Text: record.FreeText(f.ReasonText)}}
	}
	blob := planBlob{Findings: d.Findings, Order: decide.OrderRule, Warnings: texts(d.Warnings), Program: s.Program, At: s.Now().UTC()}
	if chosen, is := d.Option(f.Chosen); is {
		blob.Steps, blob.Needs = texts(chosen.Steps), chosen.Needs
	}
	data, err := json.Marshal(blob)
	if err != nil {
		return nil, err
	}
	plan.Sheet = &record.Blob{Schema: planSchema, Version: 1, Data: data}
	return plan, f.fill(plan)
}

// fill puts the typed details into a plan.
func (f planForm) fill(plan *record.Plan) error {
	number := func(where, text string) (*float64, error) {
		if text == "" {
			return nil, nil
		}
		n, err := strconv.ParseFloat(strings.ReplaceAll(text, ",", "."), 64)
		if err != nil {
			return nil, &fault.Error{Code: fault.Invalid, Where: where, What: strconv.Quote(text) + " is no number", Expected: "a number"}
		}
		return &n, nil
	}
	var err error
	plan.Tamponade = record.Tamponade{}
	medium := map[string]record.Medium{"air": record.MediumAir, "sf6": record.MediumGas, "c2f6": record.MediumGas, "c3f8": record.MediumGas, "oil": record.MediumOil, "heavy-liquid": record.MediumHeavyLiquid, "none": record.MediumFluid, "": ""}
	class := map[string]record.AgentClass{"sf6": record.AgentGas, "c2f6": record.AgentGas, "c3f8": record.AgentGas, "oil": record.AgentOil, "heavy-liquid": record.AgentHeavyLiquid}
	gas := map[string]record.Gas{"sf6": record.SF6, "c2f6": record.C2F6, "c3f8": record.C3F8}
	plan.MediumPlanned, plan.Tamponade.Class, plan.Tamponade.Gas = medium[f.Filling], class[f.Filling], gas[f.Filling]
	if plan.Tamponade.Percent, err = number("percent of gas", f.Percent); err != nil {
		return err
	}
	if plan.Tamponade.FillPercent, err = number("fill", f.Fill); err != nil {
		return err
	}
	if plan.PostureDays, err = number("days of posture", f.PostureDays); err != nil {
		return err
	}
	gauge, err := number("gauge", f.Gauge)
	if err != nil {
		return err
	}
	plan.GaugeG = 0
	if gauge != nil {
		plan.GaugeG = int(*gauge)
	}
	plan.Dye, plan.Anaesthesia, plan.Posture = record.Dye(f.Dye), record.Anaesthesia(f.Anaesthesia), record.Posture(f.Posture)
	plan.WithLens, plan.Note = record.Answer(f.WithLens), record.FreeText(f.Note)
	return nil
}

// texts are the sentences alone.
func texts(all []decide.Sentence) []string {
	var out []string
	for _, s := range all {
		out = append(out, s.Text)
	}
	return out
}

// refusedPlan is a stop of the record about a plan, with what was typed to pass it.
type refusedPlan struct {
	findingView
	Reason, Second string
}

// refusePlan tells why a plan was not stored, and who else may agree to pass a stop.
func (s *Server) refusePlan(r *http.Request, p *planPage, stops []record.Finding, v *visitor) error {
	people, err := s.colleagues(r.Context())
	if err != nil {
		return err
	}
	p.Colleagues = slices.DeleteFunc(people.Options, func(o option) bool { return o.Value == string(v.account.ID) })
	for _, stop := range stops {
		one := refusedPlan{findingView: findingView{Finding: stop}, Reason: r.Form.Get("pass_" + string(stop.Code)), Second: r.Form.Get("second_" + string(stop.Code))}
		for _, rule := range record.Rules() {
			if rule.Code == stop.Code {
				one.Rule = rule
			}
		}
		p.Refused = append(p.Refused, one)
	}
	return nil
}

// passStops takes the reasons with which a person passes stops of the record.
func passStops(plan *record.Plan, form url.Values, v *visitor, now time.Time) {
	plan.Overrides = nil
	for name, values := range form {
		code, is := strings.CutPrefix(name, "pass_")
		if reason := strings.TrimSpace(values[0]); is && reason != "" {
			plan.Overrides = append(plan.Overrides, record.Override{
				Code: record.FindingCode(code), Reason: record.FreeText(reason), By: v.actor(), At: now.UTC(),
				SecondBy: record.AccountID(strings.TrimSpace(form.Get("second_" + code))),
			})
		}
	}
}

// The choices of the plan in words.
var (
	dyeChoices = []choice{
		{"", "not told"},
		{string(record.BrilliantBlueG), "brilliant blue G"},
		{string(record.TrypanBlue), "trypan blue"},
		{string(record.IndocyanineGreen), "indocyanine green"},
		{string(record.Triamcinolone), "triamcinolone"},
	}
	fillingChoices = []choice{
		{"", "not told"}, {"none", "nothing"}, {"air", "air"}, {"sf6", "SF6"}, {"c2f6", "C2F6"}, {"c3f8", "C3F8"}, {"oil", "silicone oil"}, {"heavy-liquid", "heavy liquid"},
	}
	anaesthesiaChoices = []choice{
		{"", "not told"},
		{string(record.AnaesthesiaBlock), "block"},
		{string(record.AnaesthesiaSedation), "block with sedation"},
		{string(record.AnaesthesiaTopical), "drops"},
		{string(record.AnaesthesiaGeneral), "general"},
	}
	postureChoices = []choice{
		{"", "not told"},
		{string(record.PostureFree), "free"},
		{string(record.PostureNotSupine), "not on the back"},
		{string(record.PostureFaceDown), "face down"},
		{string(record.PostureUpright), "upright"},
		{string(record.PostureRightSide), "on the right side"},
		{string(record.PostureLeftSide), "on the left side"},
	}
)

// sizesWords names a part of the size scale.
func sizesWords(above, upTo float64) string {
	switch {
	case math.IsInf(upTo, 1) || upTo == 0:
		return fmt.Sprintf("above %.0f µm", above)
	case above <= 0:
		return fmt.Sprintf("up to %.0f µm", upTo)
	}
	return fmt.Sprintf("above %.0f up to %.0f µm", above, upTo)
}

// percentWords writes a share as whole per cent, without calling the nearly
// certain certain.
func percentWords(share float64) string {
	switch p := math.Round(100 * share); {
	case share > 0 && p == 0:
		return "below 1 %"
	case share < 1 && p == 100:
		return "above 99 %"
	default:
		return fmt.Sprintf("%.0f %%", p)
	}
}

// estimatePercent writes a share with its interval.
func estimatePercent(e estimate.Estimate) string {
	if !e.Known() {
		return "no number: " + e.Basis
	}
	return fmt.Sprintf("%.0f %% (95 %%: %.0f to %.0f)", 100*e.Value, 100*e.Low, 100*e.High)
}

// estimateValue writes a value with its interval.
func estimateValue(e estimate.Estimate, decimals int) string {
	return strings.ReplaceAll(estimateWords(&e, decimals, ""), "-", "−")
}

// signedLogMAR writes a change of acuity.
func signedLogMAR(x float64) string {
	return strings.ReplaceAll(strconv.FormatFloat(x, 'f', 2, 64), "-", "−")
}
