package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/goccy/go-yaml"

	"limitans/estimate"
	"limitans/fault"
	"limitans/internal/bench"
	"limitans/internal/paper"
	"limitans/internal/record"
	"limitans/stain"
)

// planFile is a plan as a person writes it, for the theatre sheet and the kit
// list. What can be computed is computed from it: findings from the scan, the
// recipe from gas and syringe, the dye from its label.
type planFile struct {
	Patient struct {
		Name      string `yaml:"name"`
		OtherName string `yaml:"other_name"`
		Born      string `yaml:"born"`
		Number    string `yaml:"number"`
	} `yaml:"patient"`
	Eye       string `yaml:"eye"`
	Surgery   string `yaml:"surgery"`
	Unit      string `yaml:"unit"`
	Surgeon   string `yaml:"surgeon"`
	Allergies string `yaml:"allergies"`
	Version   struct {
		Number     int    `yaml:"number"`
		SignedBy   string `yaml:"signed_by"`
		SignedOn   string `yaml:"signed_on"`
		ReplacedBy int    `yaml:"replaced_by"`
		ReplacedOn string `yaml:"replaced_on"`
	} `yaml:"version"`
	Scan        *planScan    `yaml:"scan"`
	AxialLength *float64     `yaml:"axial_length"`
	Facts       []planFact   `yaml:"facts"`
	Findings    []planFigure `yaml:"findings"`
	Option      string       `yaml:"option"`
	Reasons     []string     `yaml:"reasons"`
	Expected    []planFigure `yaml:"expected"`
	Steps       []string     `yaml:"steps"`
	Dye         *planDye     `yaml:"dye"`
	Gas         *planGas     `yaml:"gas"`
	Agents      []planAgent  `yaml:"agents"`
	Quantities  []planFigure `yaml:"quantities"`
	BackUp      []string     `yaml:"back_up"`
	Checks      []planCheck  `yaml:"checks"`
	Cautions    []string     `yaml:"cautions"`
	Kit         []planGroup  `yaml:"kit"`
}

type (
	planScan struct {
		Path  string `yaml:"path"`
		Scale string `yaml:"scale"`
	}
	planFact struct {
		Label string `yaml:"label"`
		Text  string `yaml:"text"`
	}
	planDye struct {
		Name     string `yaml:"name"`
		Strength string `yaml:"strength"`
		Vehicle  string `yaml:"vehicle"`
	}
	planGas struct {
		Gas       string  `yaml:"gas"`
		Percent   string  `yaml:"percent"`
		SyringeML float64 `yaml:"syringe_ml"`
		LineML    float64 `yaml:"line_ml"`
	}
	planAgent struct {
		Name     string `yaml:"name"`
		Quantity string `yaml:"quantity"`
		Note     string `yaml:"note"`
	}
	planCheck struct {
		Ask string `yaml:"ask"`
		Say string `yaml:"say"`
	}
	planGroup struct {
		Title string     `yaml:"title"`
		Items []planItem `yaml:"items"`
	}
	planItem struct {
		Name     string `yaml:"name"`
		Quantity string `yaml:"quantity"`
		Note     string `yaml:"note"`
		Traced   bool   `yaml:"traced"`
		Spare    bool   `yaml:"spare"`
	}
)

// planFigure is a number with its interval; exact is for what has none.
type planFigure struct {
	Label    string   `yaml:"label"`
	Value    *float64 `yaml:"value"`
	Low      *float64 `yaml:"low"`
	High     *float64 `yaml:"high"`
	Exact    bool     `yaml:"exact"`
	Decimals int      `yaml:"decimals"`
	Unit     string   `yaml:"unit"`
	Source   string   `yaml:"source"`
}

// figure refuses a number that stands alone.
func (f planFigure) figure() (paper.Figure, error) {
	bad := func(what, expected string) (paper.Figure, error) {
		return paper.Figure{}, &fault.Error{Code: fault.Invalid, Where: fmt.Sprintf("figure %q", f.Label), What: what, Expected: expected}
	}
	out := paper.Figure{Label: f.Label, Decimals: f.Decimals, Unit: f.Unit, Source: f.Source, Exact: f.Exact}
	switch {
	case strings.TrimSpace(f.Label) == "":
		return bad("has no label", "label, value, low and high")
	case f.Decimals < 0 || f.Decimals > 6:
		return bad(fmt.Sprintf("%d decimals cannot be", f.Decimals), "0 to 6")
	case f.Value == nil:
		return bad("has no value", "value, low and high")
	case f.Exact:
		out.Estimate = estimate.Estimate{Value: *f.Value, Low: *f.Value, High: *f.Value, Basis: f.Source}
		return out, nil
	case f.Low == nil || f.High == nil:
		return bad("has no interval", "low and high, or exact: true")
	case !(*f.Low <= *f.Value && *f.Value <= *f.High):
		return bad(fmt.Sprintf("%g does not lie between %g and %g", *f.Value, *f.Low, *f.High), "low, value and high in this order")
	}
	out.Estimate = estimate.Estimate{Value: *f.Value, Low: *f.Low, High: *f.High, Basis: f.Source}
	return out, nil
}

func paperFigures(from []planFigure) ([]paper.Figure, error) {
	var out []paper.Figure
	for _, f := range from {
		figure, err := f.figure()
		if err != nil {
			return nil, err
		}
		out = append(out, figure)
	}
	return out, nil
}

// mostPlanFile bounds a plan file.
const mostPlanFile = 1 << 20

// readBounded reads a file of at most some bytes.
func readBounded(path string, most int64) ([]byte, error) {
	file, err := os.Open(path)
	if err != nil {
		if at, is := err.(*os.PathError); is {
			err = at.Err
		}
		return nil, &fault.Error{Code: fault.NotFound, Where: path, What: "cannot be read: " + err.Error(), Cause: err}
	}
	defer file.Close()
	data, err := io.ReadAll(io.LimitReader(file, most+1))
	if err != nil {
		return nil, &fault.Error{Code: fault.NotFound, Where: path, What: "cannot be read: " + err.Error(), Cause: err}
	}
	if int64(len(data)) > most {
		return nil, &fault.Error{Code: fault.TooLarge, Where: path, What: fmt.Sprintf("has more than %d bytes", most)}
	}
	return data, nil
}

// readPlan reads a plan file; a key that is not known is refused, because it may
// be a hazard that was misspelt.
func readPlan(path string) (planFile, error) {
	var p planFile
	data, err := readBounded(path, mostPlanFile)
	if err != nil {
		return p, err
	}
	if err := yaml.UnmarshalWithOptions(data, &p, yaml.Strict()); err != nil {
		first, _, _ := strings.Cut(yaml.FormatError(err, false, false), "\n")
		return p, &fault.Error{Code: fault.Malformed, Where: path, What: "is no plan: " + first, Expected: "the keys of a plan file, see limitans sheet theatre --help"}
	}
	return p, nil
}

// common is who and which eye; the flags' checks are used for it.
func (p planFile) common(out *console, o outFlags) (paper.Common, paper.Version, error) {
	var v paper.Version
	made, err := o.moment(out)
	if err != nil {
		return paper.Common{}, v, err
	}
	person := personFlags{Name: p.Patient.Name, OtherName: p.Patient.OtherName, Born: p.Patient.Born, Number: p.Patient.Number, Eye: p.Eye, Surgery: p.Surgery, Unit: p.Unit}
	c, err := person.common(made)
	if err != nil {
		return c, v, withoutDashes(err)
	}
	v = paper.Version{Number: p.Version.Number, SignedBy: p.Version.SignedBy, ReplacedBy: p.Version.ReplacedBy}
	for _, d := range []struct {
		key, text string
		to        *record.Date
	}{{"signed_on", p.Version.SignedOn, &v.SignedOn}, {"replaced_on", p.Version.ReplacedOn, &v.ReplacedOn}} {
		if *d.to, err = record.DateFromISO(d.text); err != nil {
			return c, v, &fault.Error{Code: fault.Invalid, Where: d.key, What: fmt.Sprintf("%q is no date", d.text), Expected: "2026-11-24", Cause: err}
		}
	}
	return c, v, nil
}

// withoutDashes names a key of the file instead of a flag.
func withoutDashes(err error) error {
	if f, is := err.(*fault.Error); is {
		return atFlag(err, strings.ReplaceAll(strings.TrimLeft(f.Where, "-"), "-", "_"))
	}
	return err
}

// theatreSheetCommand prints the theatre sheet.
type theatreSheetCommand struct {
	Plan string `arg:"" help:"Plan file, YAML."`
	outFlags
}

// Help is printed below the flags.
func (theatreSheetCommand) Help() string {
	return "Keys of the plan file: patient (name, other_name, born, number), eye, surgery, unit, surgeon, allergies, " +
		"version (number, signed_by, signed_on, replaced_by, replaced_on), scan (path, scale), axial_length, facts (label, text), " +
		"findings (label, value, low, high, unit, decimals, source; or exact: true), option, reasons, expected (as findings), steps, " +
		"dye (name, strength, vehicle), gas (gas, percent, syringe_ml, line_ml), agents (name, quantity, note), quantities (as findings), " +
		"back_up, checks (ask, say), cautions, kit (title, items with name, quantity, note, traced, spare). " +
		"A gas or dye with a stop prints the stop, and the command ends with exit code 3."
}

// Run prints the sheet.
func (c theatreSheetCommand) Run(out *console) error {
	if _, err := c.check(); err != nil {
		return err
	}
	p, err := readPlan(c.Plan)
	if err != nil {
		return undone{err}
	}
	t, stops, err := p.theatre(out, c.outFlags, filepath.Dir(c.Plan))
	if err != nil {
		return undone{atFile(err, c.Plan)}
	}
	if err := c.write(out, t); err != nil {
		return undone{atFile(err, c.Plan)}
	}
	if len(stops) > 0 {
		return stopped{fmt.Errorf("stopped: %s", strings.Join(stops, "; "))}
	}
	return nil
}

// theatre computes what the plan asks for and fills the sheet. stops says what
// must not be used as it stands.
func (p planFile) theatre(out *console, o outFlags, folder string) (t paper.Theatre, stops []string, err error) {
	if t.Common, t.Version, err = p.common(out, o); err != nil {
		return t, nil, err
	}
	t.Surgeon, t.Allergies, t.Option, t.Reasons, t.Steps, t.BackUp, t.Cautions = p.Surgeon, p.Allergies, p.Option, p.Reasons, p.Steps, p.BackUp, p.Cautions
	for _, f := range p.Facts {
		t.Facts = append(t.Facts, paper.Fact(f))
	}
	if p.Scan != nil {
		if err := p.measured(out, &t, folder); err != nil {
			return t, nil, err
		}
	}
	for _, part := range []struct {
		from []planFigure
		to   *[]paper.Figure
	}{{p.Findings, &t.Findings}, {p.Expected, &t.Expected}, {p.Quantities, &t.Quantities}} {
		figures, err := paperFigures(part.from)
		if err != nil {
			return t, nil, err
		}
		*part.to = append(*part.to, figures...)
	}
	dye, stops, err := p.dye(&t, stops)
	if err != nil {
		return t, nil, err
	}
	gas, stops, err := p.gas(&t, stops)
	if err != nil {
		return t, nil, err
	}
	for _, a := range p.Agents {
		t.Agents = append(t.Agents, paper.Agent(a))
	}
	t.Checks = paper.StopChecks(t.Common, gas, dye)
	for _, check := range p.Checks {
		t.Checks = append(t.Checks, paper.Check(check))
	}
	return t, stops, nil
}

// measured takes findings and slice from the scan.
func (p planFile) measured(out *console, t *paper.Theatre, folder string) error {
	flags := scanFlags{Path: p.Scan.Path, Eye: &p.Eye}
	if !filepath.IsAbs(flags.Path) {
		flags.Path = filepath.Join(folder, flags.Path)
	}
	if p.Scan.Scale != "" {
		flags.Scale = &p.Scan.Scale
	}
	if p.AxialLength != nil {
		text := fmt.Sprint(*p.AxialLength)
		flags.AxialLength = &text
	}
	result, err := measureScan(out, flags)
	if err != nil {
		return err
	}
	t.Findings, t.Slice, t.SliceWords = paper.FromScan(result)
	return nil
}

// dye prepares the dye and returns it as it is spoken.
func (p planFile) dye(t *paper.Theatre, stops []string) (string, []string, error) {
	if p.Dye == nil {
		return "", stops, nil
	}
	vehicle := p.Dye.Vehicle
	if vehicle == "" {
		vehicle = "unknown"
	}
	solution, err := stain.SolutionOf(vehicle)
	if err != nil {
		return "", stops, atFlag(err, "dye, vehicle")
	}
	prepared, err := stain.Prepare(stain.NewInput(solution, stain.Written{Name: p.Dye.Name, Strength: p.Dye.Strength}))
	if err != nil {
		return "", stops, atFlag(err, "dye")
	}
	if !prepared.Accepted() {
		stops = append(stops, "dye, "+string(prepared.Stops[0].Code))
	}
	agent := paper.FromDye(strings.TrimSpace(p.Dye.Name+" "+p.Dye.Strength), prepared)
	t.Agents = append(t.Agents, agent)
	return agent.Name, stops, nil
}

// gas makes the recipe, with flush and cavity, and returns the mixture as it is
// spoken.
func (p planFile) gas(t *paper.Theatre, stops []string) (string, []string, error) {
	if p.Gas == nil {
		return "", stops, nil
	}
	question := bench.Mix{
		Gas: p.Gas.Gas, SyringeML: p.Gas.SyringeML, LineML: p.Gas.LineML, AxialLength: p.AxialLength,
		Cavity: "air", Lens: "unknown", Fill: "85", Closure: "unknown",
	}
	if p.Gas.Percent != "" {
		question.Percent = &p.Gas.Percent
	}
	plan, err := question.Plan()
	if err != nil {
		return "", stops, withoutDashes(err)
	}
	if !plan.Sheet.Accepted() {
		stops = append(stops, "gas, "+plan.Answer().Stopped)
	}
	if cavity := plan.Sheet.CavityML; cavity.Known() {
		t.Quantities = append([]paper.Figure{{Label: "Cavity", Estimate: cavity, Decimals: 1, Unit: "mL", Source: "from the axial length"}}, t.Quantities...)
	}
	agent := paper.FromRecipe(plan.Sheet)
	t.Agents = append(t.Agents, agent)
	return agent.Name, stops, nil
}

// kitSheetCommand prints the kit list.
type kitSheetCommand struct {
	Plan string `arg:"" help:"Plan file, YAML."`
	outFlags
}

// Run prints the list.
func (c kitSheetCommand) Run(out *console) error {
	if _, err := c.check(); err != nil {
		return err
	}
	p, err := readPlan(c.Plan)
	if err != nil {
		return undone{err}
	}
	k := paper.Kit{}
	if k.Common, k.Version, err = p.common(out, c.outFlags); err != nil {
		return undone{atFile(err, c.Plan)}
	}
	for _, g := range p.Kit {
		group := paper.KitGroup{Title: g.Title}
		for _, i := range g.Items {
			group.Items = append(group.Items, paper.KitItem(i))
		}
		k.Groups = append(k.Groups, group)
	}
	if err := c.write(out, k); err != nil {
		return undone{atFile(err, c.Plan)}
	}
	return nil
}
