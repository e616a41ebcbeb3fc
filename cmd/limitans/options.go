package main

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"limitans/decide"
	"limitans/estimate"
	"limitans/fault"
	"limitans/internal/figure"
	"limitans/stats"
	"limitans/tamponade"
)

// optionsCommand lists ways to treat an eye. What it needs to know comes from
// flags, from a file of the same words, or from both.
type optionsCommand struct {
	Eye string `arg:"" optional:"" name:"EYE.yaml" help:"File with findings: the flags' names as keys, without dashes in front."`
	eyeFlags
	Own    []string `sep:"none" placeholder:"CODE:K:N" help:"Own series for an option: K of N eyes like this one with the outcome; once for each option."`
	Limit  []string `sep:"none" placeholder:"NAME:NUMBER" help:"An own limit instead of the table's, for example flap:630."`
	Detail []string `sep:"none" placeholder:"CODE" help:"Tell steps, needs and costs of this option too; the first is always told."`
	Figure string   `placeholder:"FILE" help:"Draw the options with their intervals into this file, FILE.svg. A file there is replaced."`
	JSON   bool     `name:"json" help:"Print a JSON document instead of text."`
}

// eyeFlags are the findings. Empty is not told.
type eyeFlags struct {
	Condition           string   `placeholder:"CONDITION" help:"hole, hole-with-detachment, epiretinal-membrane, traction, lamellar-hole, recurrent-detachment, subretinal-band or retained-heavy-liquid."`
	Cause               string   `placeholder:"CAUSE" help:"idiopathic, trauma, after-detachment or inflammation."`
	MLD                 string   `name:"mld" placeholder:"UM[:LOW:HIGH]" help:"Minimum linear diameter, µm, with its 95 % interval where it is known."`
	Largest             string   `placeholder:"UM[:LOW:HIGH]" help:"Larger diameter of an oval hole's smallest section, µm; the size class goes by it."`
	Base                string   `placeholder:"UM[:LOW:HIGH]" help:"Diameter at the pigment epithelium, µm."`
	DurationMonths      *float64 `placeholder:"MONTHS" help:"Months of symptoms."`
	ScanAgeDays         *float64 `placeholder:"DAYS" help:"Age of the scan that was measured."`
	AxialLength         *float64 `placeholder:"MM" help:"Axial length of the eye, mm."`
	SoundInOil          string   `placeholder:"ANSWER" help:"The length was taken by sound with oil in the eye: yes, no or unknown, as for all that follow without another word."`
	VitreousAttached    string   `placeholder:"ANSWER" help:"The vitreous still pulls at the fovea."`
	AttachmentUM        *float64 `name:"attachment-um" placeholder:"UM" help:"Width of that attachment, µm."`
	Membrane            string   `placeholder:"ANSWER" help:"An epiretinal membrane lies on the macula."`
	MembraneStage       int      `placeholder:"STAGE" help:"Its stage, 1 to 4."`
	Lamellar            string   `placeholder:"KIND" help:"lamellar, foveoschisis or pseudohole."`
	Symptoms            string   `placeholder:"ANSWER" help:"Symptoms that the patient wants treated."`
	Worsening           string   `placeholder:"ANSWER" help:"Acuity or tissue was lost between two visits."`
	AcuityLogMAR        *float64 `name:"acuity-logmar" placeholder:"LOGMAR" help:"Acuity before surgery."`
	EarlierSurgery      string   `placeholder:"RESULT" help:"none, failed, reopened or unknown."`
	OpenAs              string   `placeholder:"HOW" help:"How the hole stands open after surgery: flat or elevated."`
	MembraneLeft        string   `placeholder:"ANSWER" help:"Limiting membrane is left around the hole (retina map)."`
	MembraneFurther     string   `placeholder:"ANSWER" help:"Limiting membrane is to be had further away."`
	DaysSinceSurgery    *float64 `placeholder:"DAYS" help:"Days since the failed operation."`
	VeinOcclusion       string   `placeholder:"ANSWER" help:"Retinal vein occlusion."`
	MacularIschaemia    string   `placeholder:"ANSWER" help:"Macular ischaemia."`
	VitreousHaemorrhage string   `placeholder:"ANSWER" help:"Vitreous haemorrhage."`
	Detachment          string   `placeholder:"ANSWER" help:"The retina is detached."`
	Proliferation       string   `placeholder:"ANSWER" help:"Vitreoretinal proliferation of grade C or more."`
	BandLifts           string   `placeholder:"ANSWER" help:"The strand lifts the retina or crosses the macula."`
	DropUM              *float64 `name:"drop-um" placeholder:"UM" help:"Diameter of the drop under the retina, µm."`
	DropDistanceUM      *float64 `name:"drop-distance-um" placeholder:"UM" help:"Distance of its centre from the foveal centre, µm."`
	DropIsLiquid        string   `placeholder:"ANSWER" help:"The drop is held to be heavy liquid."`
	Lens                string   `placeholder:"LENS" help:"phakic, pseudophakic, aphakic or unknown."`
	IridectomyOpen      string   `placeholder:"ANSWER" help:"The iridectomy of an aphakic eye is open."`
	HydrophilicImplant  string   `placeholder:"ANSWER" help:"The implant is hydrophilic acrylic."`
	Glaucoma            string   `placeholder:"ANSWER" help:"Glaucoma or drops for it."`
	OnlyEye             string   `placeholder:"ANSWER" help:"It is the only seeing eye."`
	PaleFundus          string   `placeholder:"ANSWER" help:"Pale fundus, on which stain is hard to see."`
	Lattice             string   `placeholder:"ANSWER" help:"Lattice degeneration."`
	CanPosture          string   `placeholder:"ANSWER" help:"The patient can hold a posture."`
	ClotRisk            string   `placeholder:"ANSWER" help:"Raised risk of a clot."`
	FlightAhead         string   `placeholder:"ANSWER" help:"A flight is ahead."`
	ClimbAhead          string   `placeholder:"ANSWER" help:"A climb above where the patient has been living is ahead."`
	AnaestheticAhead    string   `placeholder:"ANSWER" help:"An anaesthetic or nitrous oxide is ahead."`
	Allergy             []string `placeholder:"AGENT" help:"Agent that must not be used: brilliant-blue, trypan-blue, indocyanine-green, iodine, steroid or another; once for each."`
	Gauge               int      `placeholder:"GAUGE" help:"Gauge that is meant to be used: 20, 23, 25 or 27."`
}

// Help is printed below the flags.
func (optionsCommand) Help() string {
	return "What is not told stays unknown. The order of the options is no score: " + decide.OrderRule + "."
}

// Run prints the options.
func (c optionsCommand) Run(out *console) error {
	if c.Figure != "" && !strings.HasSuffix(strings.ToLower(c.Figure), ".svg") {
		return &fault.Error{Code: fault.Invalid, Where: "--figure", What: fmt.Sprintf("%q is no SVG file", c.Figure), Expected: "a name that ends in .svg"}
	}
	if c.Eye != "" {
		if err := c.readFile(c.Eye); err != nil {
			return undone{err}
		}
	}
	d, err := c.decide()
	if err != nil {
		if c.Eye != "" {
			return undone{atFile(err, c.Eye)}
		}
		return err
	}
	for _, code := range c.Detail {
		if _, offered := d.Option(code); !offered {
			return &fault.Error{Code: fault.Invalid, Where: "--detail", What: fmt.Sprintf("%q is not among the options for this eye", code)}
		}
	}
	if c.Figure != "" {
		if err := figure.WriteFile(c.Figure, figure.DrawOptions(optionsChart(d))); err != nil {
			return undone{err}
		}
	}
	if c.JSON {
		return writeIndented(out.Stdout, optionsJSON(d))
	}
	return optionsText(out.Stdout, d, c.Detail)
}

// decide reads the flags and asks the table.
func (c optionsCommand) decide() (decide.Decision, error) {
	f, err := c.findings()
	if err != nil {
		return decide.Decision{}, err
	}
	u, err := c.unit()
	if err != nil {
		return decide.Decision{}, err
	}
	d, err := decide.Decide(f, u)
	return d, findingFlag(err)
}

// findings turns the flags into findings.
func (c optionsCommand) findings() (decide.Findings, error) {
	f := decide.Findings{
		Cause: decide.Cause(toldWord(c.Cause)), DurationMonths: c.DurationMonths, ScanAgeDays: c.ScanAgeDays, AxialLengthMM: c.AxialLength,
		AttachmentUM: c.AttachmentUM, MembraneStage: c.MembraneStage, Lamellar: decide.LamellarKind(toldWord(c.Lamellar)), AcuityLogMAR: c.AcuityLogMAR,
		EarlierSurgery: decide.Earlier(toldWord(c.EarlierSurgery)), OpenAs: decide.OpenAs(toldWord(c.OpenAs)), DaysSinceSurgery: c.DaysSinceSurgery,
		DropUM: c.DropUM, DropDistanceUM: c.DropDistanceUM, GaugeG: c.Gauge,
	}
	var err error
	if c.Condition == "" {
		return f, &fault.Error{Code: fault.Invalid, Where: "--condition", What: "is missing", Expected: "what the eye is to be treated for, for example hole"}
	}
	if f.Condition, err = decide.ParseCondition(c.Condition); err != nil {
		return f, atFlag(err, "--condition")
	}
	for flag, text := range map[string]string{"--mld": c.MLD, "--largest": c.Largest, "--base": c.Base} {
		to := map[string]**estimate.Estimate{"--mld": &f.MLDUM, "--largest": &f.LargestUM, "--base": &f.BaseUM}[flag]
		if *to, err = diameterFlag(flag, text); err != nil {
			return f, err
		}
	}
	if c.Lens != "" {
		if f.Lens, err = tamponade.ParseLens(c.Lens); err != nil {
			return f, atFlag(err, "--lens")
		}
	}
	for _, a := range c.Allergy {
		f.Allergies = append(f.Allergies, decide.Allergy(strings.ToLower(strings.TrimSpace(a))))
	}
	for _, a := range c.answers(&f) {
		if a.text == "" {
			continue
		}
		if *a.to, err = decide.ParseAnswer(a.text); err != nil {
			return f, atFlag(err, a.flag)
		}
	}
	return f, nil
}

// toldWord is a word, or nothing where it says unknown.
func toldWord(word string) string {
	word = strings.ToLower(strings.TrimSpace(word))
	if word == string(decide.Unknown) {
		return ""
	}
	return word
}

// answerFlag is a question with its answer as written.
type answerFlag struct {
	flag, text string
	to         *decide.Answer
}

func (c eyeFlags) answers(f *decide.Findings) []answerFlag {
	return []answerFlag{
		{"--sound-in-oil", c.SoundInOil, &f.BySoundInOil},
		{"--vitreous-attached", c.VitreousAttached, &f.VitreousAttached},
		{"--membrane", c.Membrane, &f.Membrane},
		{"--symptoms", c.Symptoms, &f.Symptoms},
		{"--worsening", c.Worsening, &f.Worsening},
		{"--membrane-left", c.MembraneLeft, &f.MembraneLeft},
		{"--membrane-further", c.MembraneFurther, &f.MembraneFurther},
		{"--vein-occlusion", c.VeinOcclusion, &f.VeinOcclusion},
		{"--macular-ischaemia", c.MacularIschaemia, &f.MacularIschaemia},
		{"--vitreous-haemorrhage", c.VitreousHaemorrhage, &f.VitreousHaemorrhage},
		{"--detachment", c.Detachment, &f.Detachment},
		{"--proliferation", c.Proliferation, &f.Proliferation},
		{"--band-lifts", c.BandLifts, &f.BandLifts},
		{"--drop-is-liquid", c.DropIsLiquid, &f.DropIsLiquid},
		{"--iridectomy-open", c.IridectomyOpen, &f.IridectomyOpen},
		{"--hydrophilic-implant", c.HydrophilicImplant, &f.Hydrophilic},
		{"--glaucoma", c.Glaucoma, &f.Glaucoma},
		{"--only-eye", c.OnlyEye, &f.OnlyEye},
		{"--pale-fundus", c.PaleFundus, &f.PaleFundus},
		{"--lattice", c.Lattice, &f.Lattice},
		{"--can-posture", c.CanPosture, &f.CanPosture},
		{"--clot-risk", c.ClotRisk, &f.ClotRisk},
		{"--flight-ahead", c.FlightAhead, &f.FlightAhead},
		{"--climb-ahead", c.ClimbAhead, &f.ClimbAhead},
		{"--anaesthetic-ahead", c.AnaestheticAhead, &f.AnaestheticAhead},
	}
}

// diameterFlag reads "640" or "640:610:670".
func diameterFlag(flag, text string) (*estimate.Estimate, error) {
	if toldWord(text) == "" {
		return nil, nil
	}
	wrong := &fault.Error{Code: fault.Invalid, Where: flag, What: fmt.Sprintf("%q cannot be read", text), Expected: "micrometres, for example 640, or with its interval 640:610:670"}
	var n []float64
	for _, part := range strings.Split(text, ":") {
		v, err := strconv.ParseFloat(strings.TrimSpace(part), 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, wrong
		}
		n = append(n, v)
	}
	switch len(n) {
	case 1:
		e := decide.TypedDiameter(n[0])
		return &e, nil
	case 3:
		return &estimate.Estimate{Value: n[0], Low: n[1], High: n[2], Basis: "value and 95 % interval as typed"}, nil
	}
	return nil, wrong
}

// unit reads the own series and limits.
func (c optionsCommand) unit() (decide.Unit, error) {
	u := decide.Unit{Limits: map[string]float64{}}
	for _, text := range c.Own {
		parts := strings.Split(text, ":")
		wrong := &fault.Error{Code: fault.Invalid, Where: "--own", What: fmt.Sprintf("%q cannot be read", text), Expected: "CODE:K:N, for example inverted-flap:18:20"}
		if len(parts) != 3 {
			return u, wrong
		}
		k, err1 := strconv.Atoi(parts[1])
		n, err2 := strconv.Atoi(parts[2])
		if err1 != nil || err2 != nil {
			return u, wrong
		}
		u.Own = append(u.Own, decide.OwnResult{Code: parts[0], Counts: stats.Counts{Events: k, Trials: n}, What: "as typed"})
	}
	for _, text := range c.Limit {
		name, number, _ := strings.Cut(text, ":")
		v, err := strconv.ParseFloat(number, 64)
		if err != nil {
			return u, &fault.Error{Code: fault.Invalid, Where: "--limit", What: fmt.Sprintf("%q cannot be read", text), Expected: "NAME:NUMBER, for example flap:630"}
		}
		u.Limits[name] = v
	}
	return u, nil
}

// findingFlag names the flag behind a fault of a finding.
func findingFlag(err error) error {
	f, ok := err.(*fault.Error)
	if !ok {
		return err
	}
	flags := map[string]string{
		"duration": "--duration-months", "scan-age": "--scan-age-days", "axial": "--axial-length", "attachment": "--attachment-um",
		"acuity": "--acuity-logmar", "days-since": "--days-since-surgery", "drop": "--drop-um", "drop-distance": "--drop-distance-um",
		"mld": "--mld", "largest": "--largest", "base": "--base", "mld and base": "--mld and --base", "mld and largest": "--mld and --largest",
		"cause": "--cause", "lamellar": "--lamellar", "earlier": "--earlier-surgery", "open-as": "--open-as", "stage": "--membrane-stage", "gauge": "--gauge",
		"condition": "--condition", "detachment": "--detachment", "membrane": "--membrane", "membrane-left": "--membrane-left",
		"vitreous-attached": "--vitreous-attached", "hydrophilic": "--hydrophilic-implant", "own series": "--own",
	}
	if flag := flags[f.Where]; flag != "" {
		return atFlag(err, flag)
	}
	if strings.HasPrefix(f.Where, "limit ") {
		return atFlag(err, "--limit")
	}
	return err
}
