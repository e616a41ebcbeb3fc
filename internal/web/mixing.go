package web

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/bench"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/internal/vault"
	"limitans/tamponade"
)

func (s *Server) mixingRoutes() []route {
	return []route{
		{"GET", "/eyes/{eye}/mixing", seesEye(), s.showMixing},
		{"POST", "/eyes/{eye}/mixing", needs(account.ReadClinical, account.ReadIdentity, account.WriteOperation), s.signMixing},
		{"GET", "/eyes/{eye}/mixing/{sheet}", seesEye(), s.showMixingSheet},
		{"POST", "/eyes/{eye}/mixing/{sheet}", needs(account.ReadClinical, account.ReadIdentity, account.WriteOperation), s.checkMixing},
		{"POST", "/eyes/{eye}/mixing/{sheet}/strike", needs(account.ReadClinical, account.ReadIdentity, account.StrikeOut), s.strikeMixing},
	}
}

// mixingPage makes the recipe of one eye, and shows the sheets there are.
type mixingPage struct {
	Eye     eyeHead
	Fields  []bench.Field
	Trouble string
	Sheet   *bench.Sheet
	MaySign bool
	// Written are the fields as they were sent, to be signed as they were seen.
	Written []option
	Sheets  []mixingLine
	Name    string
}

// mixingLine is one sheet of the eye.
type mixingLine struct {
	ID     record.ID
	On     string
	Title  string
	Signed bool
	Struck bool
}

// mixingSheetPage is one sheet that was begun.
type mixingSheetPage struct {
	Eye       eyeHead
	ID        record.ID
	Version   int64
	Mixing    bench.Mixing
	Sheet     *bench.Sheet
	MayRead   bool // another account than the maker's, and nobody checked yet
	MayStrike bool
	Own       bool
	Trouble   string
	Typed     url.Values
	By, At    string   // who mixed
	Checker   string   // who read, empty while nobody has
	Checked   string   // when
	Label     []string // for the syringe, once both stand for it
	Struck    string   // by whom, when and why
}

// mixingWritten is what the record tells of a mixture: the last plan's gas and share,
// and the length of the eye.
func mixingWritten(c *store.Course, today record.Date) map[string]string {
	out := map[string]string{}
	for _, p := range slices.Backward(c.Plans) {
		if p.Struck() || p.Tamponade.Gas == "" {
			continue
		}
		out["gas"] = string(bytes.ToLower([]byte(p.Tamponade.Gas)))
		if p.Tamponade.Percent != nil {
			out["percent"] = strconv.FormatFloat(*p.Tamponade.Percent, 'f', -1, 64) + "%"
		}
		break
	}
	if a := record.StateOf(c.Course, today).UsableAxial; a != nil {
		out["axial-length"] = strconv.FormatFloat(a.LengthMM, 'f', -1, 64)
	}
	return out
}

// showMixing shows form, recipe and the sheets that were begun.
func (s *Server) showMixing(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	p := mixingPage{Eye: headOf(c, "bubble"), MaySign: v.may(account.WriteOperation), Name: v.account.ShownName}
	written := mixingWritten(c, record.DayOf(s.Now()))
	get := func(name string) string {
		if r.FormValue("ask") != "" {
			return r.FormValue(name)
		}
		return written[name]
	}
	question := new(bench.Mix)
	fields, asked := bench.Read(question, get)
	p.Fields = fields
	all, err := s.Store.Course(r.Context(), c.Eye.ID, true)
	if err != nil {
		return err
	}
	for _, d := range all.Documents {
		if isMixing(d, c.Eye) {
			p.Sheets = append(p.Sheets, mixingLine{d.ID, dayWords(d.On), string(d.Title), d.Signed != nil, d.Struck()})
		}
	}
	status := http.StatusOK
	switch {
	case r.FormValue("ask") == "":
		for i := range p.Fields {
			p.Fields[i].Trouble = ""
		}
	case asked != nil:
		status = http.StatusUnprocessableEntity
	default:
		answer, err := question.Answer()
		if err != nil {
			if !bench.Blame(p.Fields, err) {
				p.Trouble = err.Error()
			}
			status = http.StatusUnprocessableEntity
			break
		}
		p.Sheet, p.MaySign = answer.Sheet, p.MaySign && answer.Stopped == ""
		for _, f := range p.Fields {
			p.Written = append(p.Written, option{f.Name, f.Value})
		}
	}
	return s.render(w, v, status, "mixing", head{Title: "Mixing sheet", Rail: "eyes", Wide: true}, p)
}

// mixingMedia is the type of the file that holds a recipe.
const mixingMedia = "application/json"

// isMixing reports a sheet of an eye that is signed in the program.
func isMixing(d *record.Document, of *record.Eye) bool {
	return d.Sort == record.DocumentMixingSheet && d.EyeID == of.ID && d.Mixing != nil
}

// signMixing keeps the sheet that the first person stands for.
func (s *Server) signMixing(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	question := new(bench.Mix)
	if _, err := bench.Read(question, r.FormValue); err != nil {
		return err
	}
	m, err := bench.NewMixing(*question, sideWords(c.Eye.Side), r.FormValue("lot"), r.FormValue("expiry"))
	if err != nil {
		return err
	}
	plan, err := question.Plan()
	if err != nil {
		return err
	}
	d := &record.Document{
		PatientID: c.Eye.PatientID, EyeID: c.Eye.ID, Sort: record.DocumentMixingSheet, On: record.DayOf(s.Now()),
		Title: record.FreeText(plan.Sheet.Mixture.String() + ", mixed by " + v.account.ShownName),
	}
	d.Mixing = &record.Mixing{Maker: record.Signature{By: v.actor(), At: s.Now()}}
	if d.Mixing.Asked, err = m.Facts(); err != nil {
		return err
	}
	if d.File, err = s.keepMixing(r.Context(), m); err != nil {
		return err
	}
	err = s.Store.Write(r.Context(), v.actor(), func(tx *store.Tx) error {
		var err error
		if d.ID, err = tx.NewID(); err != nil {
			return err
		}
		_, err = tx.Put(r.Context(), d, "mixing sheet begun")
		return err
	})
	if err != nil {
		return err
	}
	http.Redirect(w, r, mixingPath(c, d), http.StatusSeeOther)
	return nil
}

// keepMixing puts a recipe into the vault.
func (s *Server) keepMixing(ctx context.Context, m bench.Mixing) (record.FileRef, error) {
	if s.Vault == nil {
		return record.FileRef{}, &fault.Error{Code: fault.Unsupported, Where: "mixing sheet", What: "cannot be kept: this server has no place for files"}
	}
	data, err := json.Marshal(m)
	if err != nil {
		return record.FileRef{}, err
	}
	kept, err := s.Vault.Put(ctx, bytes.NewReader(data), nil)
	return record.FileRef{SHA256: kept.Hash.String(), Bytes: kept.Size, MediaType: mixingMedia}, err
}

// mostMixing is more than a sheet takes up.
const mostMixing = 1 << 20

// mixingOf reads a sheet of an eye, struck out or not.
func (s *Server) mixingOf(r *http.Request, c *store.Course) (*record.Document, bench.Mixing, error) {
	none := &fault.Error{Code: fault.NotFound, Where: "mixing sheet", What: "there is no such sheet of this eye"}
	id := record.ID(r.PathValue("sheet"))
	if id.Check() != nil {
		return nil, bench.Mixing{}, none
	}
	e, err := s.Store.Get(r.Context(), record.KindDocument, id)
	if err != nil {
		return nil, bench.Mixing{}, err
	}
	d := e.(*record.Document)
	hash, err := vault.ParseHash(d.File.SHA256)
	if err != nil || s.Vault == nil || !isMixing(d, c.Eye) {
		return nil, bench.Mixing{}, none
	}
	content, err := s.Vault.Get(r.Context(), hash)
	if err != nil {
		return nil, bench.Mixing{}, err
	}
	defer content.Close()
	data, err := io.ReadAll(io.LimitReader(content, mostMixing))
	if err != nil {
		return nil, bench.Mixing{}, err
	}
	m, err := bench.ReadMixing(data)
	return d, m, err
}

func (s *Server) showMixingSheet(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	return s.mixingSheet(w, r, v, c, http.StatusOK, "")
}

// mixingSheet shows a sheet; while nobody checked it, the second person sees the
// fields to type into and not the numbers to copy.
func (s *Server) mixingSheet(w http.ResponseWriter, r *http.Request, v *visitor, c *store.Course, status int, trouble string) error {
	d, m, err := s.mixingOf(r, c)
	if err != nil {
		return err
	}
	plan, err := m.Asked.Plan()
	if err != nil {
		return err
	}
	signed := d.Mixing
	own := signed.Maker.By.AccountID == v.account.ID
	p := mixingSheetPage{
		Eye: headOf(c, "bubble"), ID: d.ID, Version: d.Version, Mixing: m, Own: own, Trouble: trouble, Typed: r.PostForm,
		By: s.nameOf(r, signed.Maker.By.AccountID), At: momentWords(signed.Maker.At),
		MayRead:   !own && d.Signed == nil && !d.Struck() && v.may(account.WriteOperation),
		MayStrike: !d.Struck() && v.may(account.StrikeOut), Struck: s.struckWords(r, d),
	}
	if d.Signed != nil {
		p.Checker, p.Checked = s.nameOf(r, d.Signed.By.AccountID), momentWords(d.Signed.At)
		by, err := s.mixedBy(r, d, d.Signed.By.AccountID)
		if err != nil {
			return err
		}
		if p.Label, err = m.Label(*signed.Read, by, signed.Maker.At); err != nil {
			return err
		}
	}
	if !p.MayRead {
		p.Sheet = plan.Answer().Sheet
	}
	return s.render(w, v, status, "mixing-sheet", head{Title: "Mixing sheet", Rail: "eyes", Wide: true}, p)
}

// struckWords say who struck a sheet out, when and why; empty where nobody did.
func (s *Server) struckWords(r *http.Request, d *record.Document) string {
	if !d.Struck() {
		return ""
	}
	return s.nameOf(r, d.StruckOut.By.AccountID) + ", " + momentWords(d.StruckOut.At) + ": " + string(d.StruckOut.Reason)
}

// mixedBy are the two people of a sheet, told apart by their accounts. The fault is
// Conflict where they are one.
func (s *Server) mixedBy(r *http.Request, d *record.Document, second record.AccountID) (tamponade.Pair, error) {
	person := func(id record.AccountID) tamponade.Person {
		return tamponade.Person{Name: s.nameOf(r, id), Identifier: string(id)}
	}
	if second == d.Mixing.Maker.By.AccountID {
		return tamponade.Pair{}, &fault.Error{Code: fault.Conflict, Where: "second person", What: "is the one who mixed", Mend: "another person signs in and checks"}
	}
	return tamponade.NewPair(person(d.Mixing.Maker.By.AccountID), person(second))
}

// checkMixing compares what the second person typed and signs. The record refuses it
// from anyone else, see record.Mixing.
func (s *Server) checkMixing(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	d, m, err := s.mixingOf(r, c)
	if err != nil {
		return err
	}
	gas, err1 := strconv.ParseFloat(r.PostFormValue("gas-ml"), 64)
	total, err2 := strconv.ParseFloat(r.PostFormValue("total-ml"), 64)
	if err1 != nil || err2 != nil {
		return s.mixingSheet(w, r, v, c, http.StatusUnprocessableEntity, "The two volumes are needed, as they stand at the plunger.")
	}
	if d.Signed != nil {
		return s.mixingSheet(w, r, v, c, http.StatusConflict, "It was checked before; a new mixture needs a new sheet.")
	}
	by, err := s.mixedBy(r, d, v.account.ID)
	var read record.MixingFacts
	if err == nil {
		read, err = m.Check(bench.MixingCheck{Gas: r.PostFormValue("gas"), Percent: r.PostFormValue("percent"), GasML: gas, TotalML: total}, by)
	}
	if err == nil {
		d.Title += record.FreeText(", read by " + v.account.ShownName)
		d.Mixing.Read, d.Signed = &read, &record.Signature{By: v.actor(), At: s.Now()}
		err = s.Store.Write(r.Context(), v.actor(), func(tx *store.Tx) error {
			_, err := tx.Put(r.Context(), d, "mixture read by a second person")
			return err
		})
	}
	var contested *store.Contested
	if code := fault.CodeOf(err); !errors.As(err, &contested) && (code == fault.Conflict || code == fault.Invalid) {
		return s.mixingSheet(w, r, v, c, http.StatusConflict, err.Error())
	}
	return s.stored(w, r, err, mixingPath(c, d))
}

// mixingPath is where a sheet is shown.
func mixingPath(c *store.Course, d *record.Document) string {
	return "/eyes/" + string(c.Eye.ID) + "/mixing/" + string(d.ID)
}

// strikeMixing marks a sheet as mistaken; it stays legible and its paper says so.
func (s *Server) strikeMixing(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	d, _, err := s.mixingOf(r, c)
	if err != nil {
		return err
	}
	return s.strike(w, r, v, d, mixingPath(c, d))
}
