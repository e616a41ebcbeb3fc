package web

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"limitans/fault"
	"limitans/internal/intake"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/oct/surface"
)

// scaleForm is the scale as it stands, and what is missing.
type scaleForm struct {
	Depth, Lateral, Slice string
	Missing               []string // axes in words
	Trust                 string
}

func scaleFormOf(noun *record.Scan) scaleForm {
	f := scaleForm{Trust: scaleTrustWords(noun)}
	for _, axis := range []struct {
		um   *float64
		into *string
		name string
	}{{noun.DepthUM, &f.Depth, "depth"}, {noun.LateralUM, &f.Lateral, "along the slice"}, {noun.SliceUM, &f.Slice, "between slices"}} {
		switch {
		case axis.um != nil:
			*axis.into = strconv.FormatFloat(*axis.um, 'g', 6, 64)
		case axis.name != "between slices" || noun.Slices > 1:
			f.Missing = append(f.Missing, axis.name)
		}
	}
	return f
}

// scaleScan takes a scale from a person, as micrometres per sample or from a
// bar of known length, and asks for the scan to be measured with it.
func (s *Server) scaleScan(w http.ResponseWriter, r *http.Request, v *visitor) error {
	noun, _, err := s.scanAndEye(r)
	if err != nil {
		return err
	}
	if noun.DepthUM, err = scaleValue(r, "depth", noun.DepthUM); err != nil {
		return err
	}
	if noun.LateralUM, err = scaleValue(r, "lateral", noun.LateralUM); err != nil {
		return err
	}
	if noun.SliceUM, err = scaleValue(r, "slice", noun.SliceUM); err != nil {
		return err
	}
	if noun.DepthUM == nil && noun.LateralUM == nil && noun.SliceUM == nil {
		return &fault.Error{Code: fault.Invalid, Where: "scale", What: "no axis was told", Expected: "micrometres per sample, or a bar with its length"}
	}
	noun.ScaleTrust = record.ScaleFromUser
	err = s.Store.Write(r.Context(), v.actor(), func(tx *store.Tx) error {
		_, err := tx.Put(r.Context(), noun, "scale told by a person")
		return err
	})
	if err != nil {
		return err
	}
	if err := s.askMeasure(r.Context(), noun.ID); err != nil {
		return err
	}
	http.Redirect(w, r, scanPath(noun), http.StatusSeeOther)
	return nil
}

// scaleValue reads one axis: micrometres per sample, else a bar of so many
// samples with its length. An empty field leaves the axis as it was.
func scaleValue(r *http.Request, axis string, was *float64) (*float64, error) {
	read := func(name string) (float64, bool, error) {
		x, err := positive(r.FormValue(name), "scale, "+axis)
		if x == nil || err != nil {
			return 0, false, err
		}
		return *x, true, nil
	}
	samples, hasBar, err := read(axis + "-bar-samples")
	if err != nil {
		return nil, err
	}
	length, hasLength, err := read(axis + "-bar-um")
	if err != nil {
		return nil, err
	}
	if hasBar && hasLength {
		um := length / samples
		return &um, nil
	}
	um, told, err := read(axis)
	switch {
	case err != nil:
		return nil, err
	case hasBar != hasLength:
		return nil, &fault.Error{Code: fault.Invalid, Where: "scale, " + axis, What: "the bar has no length, or the length no bar", Expected: "both, or neither"}
	case !told:
		return was, nil
	case was != nil && strconv.FormatFloat(*was, 'g', 6, 64) == strconv.FormatFloat(um, 'g', 6, 64):
		return was, nil // as it was shown, with all its digits
	}
	return &um, nil
}

// positive reads a positive number; nil for an empty field.
func positive(text, where string) (*float64, error) {
	if text = strings.TrimSpace(text); text == "" {
		return nil, nil
	}
	x, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) || x <= 0 {
		return nil, &fault.Error{Code: fault.Invalid, Where: where, What: fmt.Sprintf("%.30q is no positive number", text), Expected: "micrometres, for example 3.87"}
	}
	return &x, nil
}

// newFigures writes figures that take the place of others. Both stay.
func (s *Server) newFigures(ctx context.Context, v *visitor, f *record.HoleFigures, why string) error {
	return s.Store.Write(ctx, v.actor(), func(tx *store.Tx) error {
		var err error
		if f.ID, err = tx.NewID(); err != nil {
			return err
		}
		// The lock of the record is taken by the first change, so the look for
		// other figures holds until the commit.
		if _, err := tx.Put(ctx, f, why); err != nil {
			return err
		}
		replaced, err := alreadyReplaced(ctx, tx, f)
		if err == nil && replaced {
			err = &fault.Error{Code: fault.Conflict, Where: "figures", What: "somebody else has replaced them meanwhile", Mend: "look at the newer version and do it there"}
		}
		return err
	})
}

// alreadyReplaced reports other figures that replace the same ones.
func alreadyReplaced(ctx context.Context, tx *store.Tx, f *record.HoleFigures) (bool, error) {
	all, err := tx.FiguresOfScan(ctx, f.ScanID)
	return slices.ContainsFunc(all, func(other *record.HoleFigures) bool { return other.Supersedes == f.Supersedes && other.ID != f.ID }), err
}

// moveLines keeps moved lines with the figures measured on them. The figures
// before stay.
func (s *Server) moveLines(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	noun, err := scanOf(c, record.ID(r.PathValue("scan")))
	if err != nil {
		return err
	}
	before, err := figuresOf(c, noun.ID, record.ID(r.FormValue("figures")))
	if err != nil {
		return err
	}
	moves, err := surface.ParseMoves(r.FormValue("moves"))
	if err != nil {
		return err
	}
	if before == nil || len(moves) == 0 {
		return &fault.Error{Code: fault.Invalid, Where: "lines", What: "nothing was moved", Expected: "at least one move on a measured scan"}
	}
	on, err := s.takeScan(r.Context(), noun, c.Eye)
	if err != nil {
		return err
	}
	base, err := s.measured(r.Context(), on, c.Eye, before)
	if err != nil {
		return err
	}
	result, err := s.moved(r.Context(), on, c.Eye, before, base, moves)
	if err != nil {
		return err
	}
	f, err := intake.FiguresOf(result, noun, s.measuring(v.account.ID))
	if err != nil {
		return err
	}
	if f.Lines, err = intake.KeepLines(r.Context(), s.Vault, result); err != nil {
		return err
	}
	f.Source, f.Supersedes = record.FiguresCorrected, before.ID
	f.Note = record.FreeText(shorten(r.FormValue("reason")))
	if err := s.newFigures(r.Context(), v, f, "lines moved: "+surface.MovesText(moves[:min(len(moves), movesInHistory)])); err != nil {
		return err
	}
	http.Redirect(w, r, scanPath(noun)+"?slice="+strconv.Itoa(moves[len(moves)-1].Slice+1), http.StatusSeeOther)
	return nil
}

// movesInHistory is how many moves the reason in the history spells out; the
// lines themselves are kept whole.
const movesInHistory = 20

// signFigures stands by figures: a signed copy takes their place.
func (s *Server) signFigures(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	noun, err := scanOf(c, record.ID(r.PathValue("scan")))
	if err != nil {
		return err
	}
	before, err := figuresOf(c, noun.ID, record.ID(r.FormValue("figures")))
	if err != nil {
		return err
	}
	switch {
	case before == nil:
		return &fault.Error{Code: fault.NotFound, Where: "figures", What: "the scan was not measured", Mend: "measure it first"}
	case before.Signed != nil:
		return &fault.Error{Code: fault.Conflict, Where: "figures", What: "they are signed", Mend: "nothing is to be done"}
	case before != standing(c, noun.ID):
		return &fault.Error{Code: fault.Conflict, Where: "figures", What: "a newer version counts", Mend: "look at the newer version and sign that"}
	}
	f := *before
	f.Base, f.Supersedes, f.Signed = record.Base{}, before.ID, &record.Signature{By: v.actor(), At: s.Now()}
	if f.Source == record.FiguresAutomatic {
		f.Source = record.FiguresConfirmed
	}
	if err := s.newFigures(r.Context(), v, &f, "signed"); err != nil {
		return err
	}
	http.Redirect(w, r, scanPath(noun), http.StatusSeeOther)
	return nil
}
