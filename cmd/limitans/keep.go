package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/intake"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/internal/work"
)

type keepCommand struct {
	placeFlags
	whoFlags
	File          string  `arg:"" help:"Scan, film or document: one file. Slices in a folder are packed into one zip first."`
	What          string  `default:"scan" placeholder:"SORT" help:"scan, film, or the sort of a document: consent, letter, theatre_sheet, mixing_sheet, leaflet, implant_card, picture, other. Default: scan."`
	Eye           string  `placeholder:"ID" help:"Identifier of the eye."`
	Number        string  `placeholder:"NUMBER" help:"The unit's number of the person; with --side."`
	Side          string  `placeholder:"SIDE" help:"Side as the form tells it: right or left."`
	Taken         string  `placeholder:"DATE" help:"Day on which it was made, or unknown. Default: as the file says."`
	Scale         *string `placeholder:"DEPTH,LATERAL,SLICE" help:"Micrometres per sample of a scan, for example 3.87,5.77,31. Leave an axis empty when it is not known."`
	Flip          bool    `help:"Turn the scan over if it is found upside down."`
	TypeSide      string  `placeholder:"SIDE" help:"Settle sources that disagree about the side; with --reason."`
	ConfirmPerson bool    `help:"Stand by the person although the header of the file has another date of birth; with --reason."`
	Reason        string  `placeholder:"TEXT" help:"Why; it stands in the history."`
}

// Run keeps a file.
func (c keepCommand) Run(out *console) error {
	request, err := c.request(out)
	if err != nil {
		return err
	}
	p, err := c.open(out)
	if err != nil {
		return err
	}
	defer p.close()
	actor, err := c.actor(out, p.store, account.ImportScan)
	if err != nil {
		return err
	}
	row, err := c.findEye(out, p.store, request.FormSide)
	if err != nil {
		return undone{err}
	}
	request.EyeID = row.EyeID
	queue, err := intake.Queue(out.Context, p.store, nil, work.Options{})
	if err != nil {
		return undone{err}
	}
	content, err := intake.OpenFile(c.File, request.Kind)
	if err != nil {
		return undone{err}
	}
	defer content.Close()
	request.Content = content
	in := intake.Intake{Store: p.store, Vault: p.vault, Queue: queue, Program: version(), Now: out.Now}
	kept, err := in.Keep(out.Context, actor, request)
	if err != nil {
		return undone{withFlags(err)}
	}
	c.print(out, kept, row)
	return nil
}

// request checks what the flags say before anything is opened.
func (c keepCommand) request(out *console) (r intake.Request, err error) {
	r = intake.Request{Name: c.File, Flip: c.Flip, ConfirmPerson: c.ConfirmPerson, Reason: c.Reason, CameFrom: "command line"}
	switch c.What {
	case "scan":
		r.Kind = record.KindScan
	case "film":
		r.Kind = record.KindFilm
	default:
		r.Kind, r.Sort = record.KindDocument, record.DocumentSort(c.What)
		if !slices.Contains(documentSorts, r.Sort) {
			return r, &fault.Error{Code: fault.Invalid, Where: "--what", What: fmt.Sprintf("%q is not known", c.What), Expected: "scan, film or the sort of a document"}
		}
	}
	if (c.Eye == "") == (c.Number == "") {
		return r, &fault.Error{Code: fault.Invalid, Where: "--eye, --number", What: "one of the two is needed", Expected: "--eye ID, or --number NUMBER with --side SIDE"}
	}
	if r.FormSide, err = parseSide("--side", c.Side); err != nil {
		return r, err
	}
	if c.Number != "" && r.FormSide == eye.SideUnknown {
		return r, &fault.Error{Code: fault.Invalid, Where: "--side", What: "it is not told, and a person has two eyes", Expected: "right or left"}
	}
	r.FormText = c.Side
	if r.TypedSide, err = parseSide("--type-side", c.TypeSide); err != nil {
		return r, err
	}
	if (r.TypedSide != eye.SideUnknown || c.ConfirmPerson) && strings.TrimSpace(c.Reason) == "" {
		return r, &fault.Error{Code: fault.Invalid, Where: "--reason", What: "what is settled by hand needs a reason"}
	}
	if c.Scale != nil {
		if r.Scale, err = parseScale(*c.Scale); err != nil {
			return r, err
		}
	}
	r.Taken, err = parseDay("--taken", c.Taken, out)
	return r, err
}

var documentSorts = []record.DocumentSort{
	record.DocumentConsent, record.DocumentLetter, record.DocumentTheatreSheet, record.DocumentMixingSheet,
	record.DocumentLeaflet, record.DocumentImplantCard, record.DocumentPicture, record.DocumentOther,
}

// parseSide reads the side of a flag; an empty text is unknown.
func parseSide(flag, text string) (eye.Laterality, error) {
	if text == "" {
		return eye.SideUnknown, nil
	}
	side, err := eye.ParseLaterality(text)
	if err == nil && side == eye.SideUnknown {
		err = &fault.Error{Code: fault.Invalid, What: "names no side", Expected: "right or left"}
	}
	return side, atFlag(err, flag)
}

// parseDay reads the day of a flag; an empty text is not told.
func parseDay(flag, text string, out *console) (record.Date, error) {
	if text == "" {
		return record.Date{}, nil
	}
	read, err := record.ParseDate(text, record.DateOptions{Today: record.DayOf(out.Now())})
	if err != nil {
		return record.Date{}, atFlag(err, flag)
	}
	switch read.Kind {
	case record.DateKnown, record.DatePartly, record.DateMissing:
		return read.Date, nil
	}
	f := &fault.Error{Code: fault.Invalid, Where: flag, What: fmt.Sprintf("%q: %s", text, read.Note), Expected: "a day as 2026-11-24, or unknown"}
	for _, d := range read.Readings {
		f.Mend += " " + d.ISO() + "?"
	}
	return record.Date{}, f
}

// findEye finds the eye by its identifier, or by the number of its person.
func (c keepCommand) findEye(out *console, s *store.Store, side eye.Laterality) (store.EyeRow, error) {
	if c.Eye != "" {
		course, err := s.Course(out.Context, record.ID(c.Eye), false)
		if err != nil {
			return store.EyeRow{}, atFlag(err, "--eye "+c.Eye)
		}
		row := store.EyeRow{EyeID: course.Eye.ID, Side: course.Eye.Side}
		if len(course.Persons) > 0 {
			row.UnitNumber = course.Persons[0].UnitNumber
		}
		return row, nil
	}
	var found []store.EyeRow
	for page := (store.Page{Limit: store.MaxPage}); ; {
		list, err := s.Eyes(out.Context, c.Number, page)
		if err != nil {
			return store.EyeRow{}, err
		}
		for _, row := range list.Rows {
			if row.UnitNumber == c.Number && row.Side == side {
				found = append(found, row)
			}
		}
		if page.After = list.Next; page.After == "" {
			break
		}
	}
	switch len(found) {
	case 0:
		return store.EyeRow{}, &fault.Error{Code: fault.NotFound, Where: "--number " + c.Number, What: "nobody with this number has a " + sideWord(side) + " eye in the record", Mend: "write the number as it stands in the record, leading zeros included"}
	case 1:
		return found[0], nil
	}
	f := &fault.Error{Code: fault.Conflict, Where: "--number " + c.Number, What: fmt.Sprintf("%d %s eyes have it", len(found), sideWord(side)), Mend: "find out whose it is and give one of them with --eye:"}
	for _, row := range found {
		f.Mend += " " + string(row.EyeID)
	}
	return store.EyeRow{}, f
}

func sideWord(side eye.Laterality) string { return strings.ToLower(side.String()) }

// withFlags names the flags that help where the record stops a file.
func withFlags(err error) error {
	f, is := err.(*fault.Error)
	if !is {
		return err
	}
	named := *f
	switch {
	case strings.Contains(f.Mend, "type the side"):
		named.Mend += " (--type-side SIDE --reason TEXT)"
	case strings.Contains(f.Mend, "confirm the person"):
		named.Mend += " (--confirm-person --reason TEXT)"
	case f.Where == "day":
		named.Mend += " (--taken DATE, --taken unknown)"
	}
	return &named
}

// print says what was kept, without the person's name.
func (c keepCommand) print(out *console, kept intake.Kept, row store.EyeRow) {
	what := kindWord(kept.Kind)
	if kept.Already {
		fmt.Fprintf(out.Stdout, "Was kept before: this very %s is %s\n", what, kept.ID)
	} else {
		fmt.Fprintf(out.Stdout, "Kept: %s %s\n", what, kept.ID)
	}
	day := kept.Taken.ISO()
	if day == "" {
		day = "day unknown"
	}
	fmt.Fprintf(out.Stdout, "  eye      %s, %s, number %s\n", sideWord(kept.Side), row.EyeID, row.UnitNumber)
	fmt.Fprintf(out.Stdout, "  made     %s\n", day)
	fmt.Fprintf(out.Stdout, "  file     %s, %s, SHA-256 %s\n", filepath.Base(c.File), mib(kept.File.Bytes), kept.File.SHA256)
	for _, n := range kept.Notes {
		fmt.Fprintf(out.Stdout, "  note     %s\n", n)
	}
	switch {
	case kept.Measured:
		fmt.Fprintln(out.Stdout, "  measured already by this version")
	case kept.JobAlready:
		fmt.Fprintf(out.Stdout, "  measured by job %d, which was asked for before\n", kept.JobID)
	case kept.JobID != 0:
		fmt.Fprintf(out.Stdout, "  measured by job %d, once limitans worker runs\n", kept.JobID)
	}
}

// kindWord is the record's word for a kind.
func kindWord(kind record.Kind) string {
	for _, k := range record.Kinds() {
		if k.Kind == kind {
			return k.Name
		}
	}
	return string(kind)
}
