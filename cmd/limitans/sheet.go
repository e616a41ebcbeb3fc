package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/bench"
	"limitans/internal/paper"
	"limitans/internal/record"
	"limitans/tamponade"
)

// sheetCommand prints the sheets that leave the screen.
type sheetCommand struct {
	Mixing  mixingSheetCommand  `cmd:"" help:"Mixing sheet: the recipe in large numbers, steps, signatures and label."`
	Leaflet leafletSheetCommand `cmd:"" help:"Leaflet for the patient: hazards, head position, and the line of the bubble day by day."`
	Card    cardSheetCommand    `cmd:"" help:"Wallet card and wristband for the patient."`
	Theatre theatreSheetCommand `cmd:"" help:"Theatre sheet from a plan file: findings, plan, agents, steps, stop-checks."`
	Kit     kitSheetCommand     `cmd:"" help:"Kit list from a plan file."`
}

// outFlags say where a sheet goes and on which paper.
type outFlags struct {
	Out     string `required:"" placeholder:"FILE" help:"File to write: FILE.pdf, or FILE.html for the print page, with sheet.css and sheet-fonts beside it. A file there is replaced."`
	Paper   string `default:"A4" placeholder:"SIZE" help:"Paper: A4 or Letter. Default: A4."`
	Printed string `placeholder:"TIME" help:"Time of printing, for example 2026-11-25T14:05. Default: now."`
}

// personFlags say who the sheet is for.
type personFlags struct {
	Name      string `required:"" placeholder:"NAME" help:"Name of the patient, as on the wristband."`
	OtherName string `placeholder:"NAME" help:"The name in a second script."`
	Born      string `placeholder:"YYYY-MM-DD" help:"Date of birth."`
	Number    string `placeholder:"TEXT" help:"Number of the patient."`
	Eye       string `required:"" placeholder:"SIDE" help:"Side of the eye: right or left."`
	Surgery   string `placeholder:"YYYY-MM-DD" help:"Day of the operation."`
	Unit      string `placeholder:"TEXT" help:"Hospital or clinic."`
}

// wordsFlag chooses the language of what the patient reads.
type wordsFlag struct {
	Words string `placeholder:"FILE" help:"Texts in another language, a file of the form of the English ones. Default: English."`
}

// fillingFlags say what is in the eye.
type fillingFlags struct {
	Gas     string  `required:"" placeholder:"AGENT" help:"What is in the eye: air, sf6, c2f6, c3f8 or oil."`
	Percent *string `placeholder:"SHARE" help:"Share of gas in air: 14, 14% or 0.14. Not for air and oil."`
}

// check refuses a file that cannot be meant, before anything is computed.
func (f outFlags) check() (paper.Size, error) {
	size, err := paper.ParseSize(f.Paper)
	if err != nil {
		return size, atFlag(err, "--paper")
	}
	switch strings.ToLower(filepath.Ext(f.Out)) {
	case ".pdf", ".html":
		return size, nil
	}
	return size, &fault.Error{Code: fault.Invalid, Where: "--out", What: fmt.Sprintf("%q names no format of a sheet", f.Out), Expected: "a name that ends in .pdf or .html"}
}

// moment is the time of printing.
func (f outFlags) moment(out *console) (time.Time, error) {
	if f.Printed == "" {
		return out.Now(), nil
	}
	for _, layout := range []string{"2006-01-02T15:04", time.DateOnly} {
		if t, err := time.Parse(layout, f.Printed); err == nil {
			return t, nil
		}
	}
	return time.Time{}, &fault.Error{Code: fault.Invalid, Where: "--printed", What: fmt.Sprintf("%q is no time", f.Printed), Expected: "2026-11-25T14:05 or 2026-11-25"}
}

// sheetInput is any input of package paper.
type sheetInput interface {
	Document() (*paper.Document, error)
}

// write makes the sheet and its file; nothing is left half written.
func (f outFlags) write(out *console, sheet sheetInput) error {
	size, err := f.check()
	if err != nil {
		return err
	}
	d, err := sheet.Document()
	if err != nil {
		return err
	}
	var data []byte
	asPage := strings.EqualFold(filepath.Ext(f.Out), ".html")
	if asPage {
		data, err = d.HTML(size, "sheet.css")
	} else {
		data, err = d.PDF(size)
	}
	if err != nil {
		return err
	}
	if asPage {
		if err := writeStyle(filepath.Dir(f.Out)); err != nil {
			return undone{err}
		}
	}
	if err := replaceFile(f.Out, data); err != nil {
		return undone{err}
	}
	_, err = fmt.Fprintf(out.Stdout, "%s\n", f.Out)
	return err
}

// writeStyle writes the stylesheet and its fonts beside a page.
func writeStyle(folder string) error {
	if err := replaceFile(filepath.Join(folder, "sheet.css"), paper.Stylesheet); err != nil {
		return err
	}
	fonts, err := paper.FontFiles()
	if err != nil {
		return err
	}
	under := filepath.Join(folder, "sheet-fonts")
	if err := os.MkdirAll(under, 0o755); err != nil {
		return &fault.Error{Code: fault.Invalid, Where: under, What: "cannot be made: " + err.Error(), Cause: err}
	}
	for name, data := range fonts {
		if err := replaceFile(filepath.Join(under, name), data); err != nil {
			return err
		}
	}
	return nil
}

// replaceFile writes a file beside its place and moves it there when it is whole.
func replaceFile(path string, data []byte) error {
	cannot := func(err error) error {
		if at, is := err.(*os.PathError); is {
			err = at.Err
		}
		return &fault.Error{Code: fault.Invalid, Where: path, What: "the sheet cannot be written: " + err.Error(), Mend: "choose a place that you may write to, with room on its disk", Cause: err}
	}
	scratch, err := os.CreateTemp(filepath.Dir(path), ".sheet-*")
	if err != nil {
		return cannot(err)
	}
	defer os.Remove(scratch.Name()) // not there any more when all went well
	_, err = scratch.Write(data)
	if closing := scratch.Close(); err == nil {
		err = closing
	}
	if err == nil {
		err = os.Rename(scratch.Name(), path)
	}
	if err != nil {
		return cannot(err)
	}
	return nil
}

// common reads the flags about the person.
func (f personFlags) common(made time.Time) (paper.Common, error) {
	c := paper.Common{Patient: paper.Patient{Name: f.Name, OtherName: f.OtherName, Identifier: f.Number}, Unit: f.Unit, Made: made}
	var err error
	if c.Side, err = eye.ParseLaterality(f.Eye); err != nil {
		return c, atFlag(err, "--eye")
	}
	for _, d := range []struct {
		flag, text string
		to         *record.Date
	}{{"--born", f.Born, &c.Patient.Born}, {"--surgery", f.Surgery, &c.Surgery}} {
		if *d.to, err = record.DateFromISO(d.text); err != nil {
			return c, &fault.Error{Code: fault.Invalid, Where: d.flag, What: fmt.Sprintf("%q is no date", d.text), Expected: "2026-11-26", Cause: err}
		}
	}
	return c, nil
}

// words reads the texts of another language.
func (f wordsFlag) words() (*paper.Words, error) {
	if f.Words == "" {
		return nil, nil
	}
	data, err := readBounded(f.Words, 1<<20)
	if err != nil {
		return nil, undone{err}
	}
	w, err := paper.ParseWords(data)
	if err != nil {
		return nil, undone{atFile(err, f.Words)}
	}
	return w, nil
}

// filling reads what is in the eye.
func (f fillingFlags) filling() (paper.Filling, error) {
	if strings.EqualFold(strings.TrimSpace(f.Gas), "oil") {
		if f.Percent != nil {
			return paper.Filling{}, &fault.Error{Code: fault.Invalid, Where: "--percent", What: "says nothing of oil"}
		}
		return paper.Filling{Oil: true}, nil
	}
	agent, err := tamponade.ParseAgent(f.Gas)
	if err != nil {
		return paper.Filling{}, atFlag(err, "--gas")
	}
	share := tamponade.Percent(100)
	switch {
	case f.Percent != nil:
		reading, err := tamponade.ParsePercent(*f.Percent)
		if err != nil {
			return paper.Filling{}, atFlag(err, "--percent")
		}
		share = reading.Percent
	case agent != tamponade.AgentAir:
		return paper.Filling{}, &fault.Error{Code: fault.Invalid, Where: "--percent", What: "is missing", Expected: "the share of gas in air, for example 14"}
	}
	m, err := tamponade.NewMixture(agent, share)
	return paper.Filling{Mixture: m}, atFlag(err, "--percent")
}

// mixingSheetCommand prints what limitans mix computes.
type mixingSheetCommand struct {
	bench.Mix
	personFlags
	Lot    string `placeholder:"TEXT" help:"Lot on the bottle."`
	Expiry string `placeholder:"TEXT" help:"Expiry on the bottle."`
	outFlags
}

// Help is printed below the flags.
func (mixingSheetCommand) Help() string {
	return "While a stop stands the sheet is written with the stop and without a recipe, and the command ends with exit code 3."
}

// Run prints the sheet.
func (c mixingSheetCommand) Run(out *console) error {
	if _, err := c.check(); err != nil {
		return err
	}
	made, err := c.moment(out)
	if err != nil {
		return err
	}
	common, err := c.common(made)
	if err != nil {
		return err
	}
	plan, err := c.Plan()
	if err != nil {
		return err
	}
	if err := c.write(out, paper.Mixing{Common: common, Sheet: plan.Sheet, First: c.First, Second: c.Second, Lot: c.Lot, Expiry: c.Expiry}); err != nil {
		return err
	}
	if !plan.Sheet.Accepted() {
		return stopped{fmt.Errorf("stopped: %s", plan.Answer().Stopped)}
	}
	return nil
}

// cardSheetCommand prints the card.
type cardSheetCommand struct {
	fillingFlags
	personFlags
	Phone string `placeholder:"TEXT" help:"Telephone for emergencies, day and night."`
	wordsFlag
	outFlags
}

// Run prints the card.
func (c cardSheetCommand) Run(out *console) error {
	filling, common, words, err := patientSheet(out, c.fillingFlags, c.personFlags, c.wordsFlag, c.outFlags)
	if err != nil {
		return err
	}
	return c.write(out, paper.Card{Common: common, Filling: filling, Phone: paper.Always(c.Phone), Words: words})
}

// patientSheet reads what the sheets for a patient share.
func patientSheet(out *console, f fillingFlags, p personFlags, w wordsFlag, o outFlags) (filling paper.Filling, common paper.Common, words *paper.Words, err error) {
	if _, err = o.check(); err != nil {
		return filling, common, words, err
	}
	made, err := o.moment(out)
	if err == nil {
		common, err = p.common(made)
	}
	if err == nil {
		filling, err = f.filling()
	}
	if err == nil {
		words, err = w.words()
	}
	return filling, common, words, err
}

// leafletSheetCommand prints the leaflet.
type leafletSheetCommand struct {
	fillingFlags
	AxialLength *float64 `placeholder:"MM" help:"Axial length of the eye, mm; without it the days of the bubble are not drawn."`
	Fill        string   `default:"85" placeholder:"SHARE" help:"Share of the cavity that the bubble takes up at the end of surgery. Default: 85."`
	Lens        string   `default:"unknown" enum:"phakic,aphakic,pseudophakic,unknown" help:"State of the lens: phakic, aphakic, pseudophakic or unknown. Default: unknown."`
	Seed        uint64   `default:"1" placeholder:"NUMBER" help:"Seed of the sampling. Default: 1."`
	Paths       int      `default:"2000" placeholder:"NUMBER" help:"Sampled courses. Default: 2000."`
	Posture     string   `placeholder:"POSTURE" help:"Head position: face_down, upright, right_side, left_side, not_on_the_back or free."`
	PostureDays int      `placeholder:"DAYS" help:"Days of that position."`
	Hours       int      `name:"posture-hours" placeholder:"HOURS" help:"Hours of it in each 24."`
	Visit       []string `sep:"none" placeholder:"YYYY-MM-DD=TEXT" help:"A visit with its time and place; may be given again."`
	Phone       string   `placeholder:"TEXT" help:"Telephone for emergencies, day and night."`
	personFlags
	wordsFlag
	outFlags
}

// Run prints the leaflet.
func (c leafletSheetCommand) Run(out *console) error {
	filling, common, words, err := patientSheet(out, c.fillingFlags, c.personFlags, c.wordsFlag, c.outFlags)
	if err != nil {
		return err
	}
	l := paper.Leaflet{
		Common: common, Filling: filling, Phone: paper.Always(c.Phone), Words: words,
		Posture: paper.HeadPosture{Posture: record.Posture(c.Posture), Days: c.PostureDays, HoursPerDay: c.Hours},
	}
	for _, text := range c.Visit {
		on, what, _ := strings.Cut(text, "=")
		day, err := record.DateFromISO(strings.TrimSpace(on))
		if err != nil || !day.Full() {
			return &fault.Error{Code: fault.Invalid, Where: "--visit", What: fmt.Sprintf("%q has no day", text), Expected: "2026-11-27=09:30, eye clinic"}
		}
		l.Visits = append(l.Visits, paper.Appointment{On: day, What: strings.TrimSpace(what)})
	}
	if c.AxialLength != nil && !filling.Oil {
		question := bench.Bubble{Gas: c.Gas, Percent: c.Percent, AxialLength: *c.AxialLength, Fill: c.Fill, Lens: c.Lens, Seed: c.Seed, Paths: c.Paths}
		answer, err := question.Predict()
		if err != nil {
			return err
		}
		if l.Days, l.GoneDay, err = paper.PredictSeen(answer.Bubble, c.Seed, c.Paths); err != nil {
			return err
		}
	}
	return c.write(out, l)
}
