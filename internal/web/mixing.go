package web

import (
	"bytes"
	"context"
	"encoding/json"
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
)

func (s *Server) mixingRoutes() []route {
	return []route{
		{"GET", "/eyes/{eye}/mixing", seesEye(), s.showMixing},
		{"POST", "/eyes/{eye}/mixing", needs(account.ReadClinical, account.ReadIdentity, account.WriteOperation), s.signMixing},
		{"GET", "/eyes/{eye}/mixing/{sheet}", seesEye(), s.showMixingSheet},
		{"POST", "/eyes/{eye}/mixing/{sheet}", needs(account.ReadClinical, account.ReadIdentity, account.WriteOperation), s.checkMixing},
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
}

// mixingSheetPage is one sheet that was begun.
type mixingSheetPage struct {
	Eye     eyeHead
	ID      record.ID
	Mixing  bench.Mixing
	Sheet   *bench.Sheet
	MayRead bool // another account than the maker's, and nobody checked yet
	Own     bool
	Trouble string
	Typed   url.Values
	At      string
	Checked string
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
	fields, err := bench.Read(question, get)
	p.Fields = fields
	for _, d := range c.Documents {
		if d.Sort == record.DocumentMixingSheet && d.EyeID == c.Eye.ID && !d.Struck() && d.File.MediaType == mixingMedia {
			p.Sheets = append(p.Sheets, mixingLine{d.ID, dayWords(d.On), string(d.Title), d.Signed != nil})
		}
	}
	status := http.StatusOK
	switch {
	case r.FormValue("ask") == "":
		for i := range p.Fields {
			p.Fields[i].Trouble = ""
		}
	case err != nil:
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

// mixingMedia is the type of the file that holds a sheet.
const mixingMedia = "application/json"

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
	m, err := bench.NewMixing(*question, sideWords(c.Eye.Side), r.FormValue("lot"), r.FormValue("expiry"), s.signer(v))
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
	http.Redirect(w, r, "/eyes/"+string(c.Eye.ID)+"/mixing/"+string(d.ID), http.StatusSeeOther)
	return nil
}

func (s *Server) signer(v *visitor) bench.Signer {
	return bench.Signer{Account: string(v.account.ID), Name: v.account.ShownName, At: s.Now()}
}

// keepMixing puts a sheet into the vault.
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

// mixingOf reads a sheet of an eye.
func (s *Server) mixingOf(r *http.Request, c *store.Course) (*record.Document, bench.Mixing, error) {
	none := &fault.Error{Code: fault.NotFound, Where: "mixing sheet", What: "there is no such sheet of this eye"}
	for _, d := range c.Documents {
		if string(d.ID) != r.PathValue("sheet") || d.EyeID != c.Eye.ID || d.Sort != record.DocumentMixingSheet || d.File.MediaType != mixingMedia {
			continue
		}
		hash, err := vault.ParseHash(d.File.SHA256)
		if err != nil || s.Vault == nil {
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
	return nil, bench.Mixing{}, none
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
	own := m.Maker.Account == string(v.account.ID)
	p := mixingSheetPage{
		Eye: headOf(c, "bubble"), ID: d.ID, Mixing: m, Own: own, Trouble: trouble, Typed: r.PostForm, At: momentWords(m.Maker.At),
		MayRead: !own && m.Checker == nil && v.may(account.WriteOperation),
	}
	if m.Checker != nil {
		p.Checked = momentWords(m.Checker.At)
	}
	if !p.MayRead {
		p.Sheet = plan.Answer().Sheet
	}
	return s.render(w, v, status, "mixing-sheet", head{Title: "Mixing sheet", Rail: "eyes", Wide: true}, p)
}

// checkMixing compares what the second person typed and signs.
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
	m, err = m.Check(bench.MixingCheck{Gas: r.PostFormValue("gas"), Percent: r.PostFormValue("percent"), GasML: gas, TotalML: total}, s.signer(v))
	if err != nil {
		if code := fault.CodeOf(err); code == fault.Conflict || code == fault.Invalid {
			return s.mixingSheet(w, r, v, c, http.StatusConflict, err.Error())
		}
		return err
	}
	if d.File, err = s.keepMixing(r.Context(), m); err != nil {
		return err
	}
	d.Title += record.FreeText(", read by " + v.account.ShownName)
	d.Signed = &record.Signature{By: v.actor(), At: s.Now()}
	if err := s.Store.Write(r.Context(), v.actor(), func(tx *store.Tx) error {
		_, err := tx.Put(r.Context(), d, "mixture read by a second person")
		return err
	}); err != nil {
		return err
	}
	http.Redirect(w, r, "/eyes/"+string(c.Eye.ID)+"/mixing/"+string(d.ID), http.StatusSeeOther)
	return nil
}
