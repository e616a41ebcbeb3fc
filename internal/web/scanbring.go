package web

import (
	"errors"
	"io"
	"mime/multipart"
	"net/http"
	"strings"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/intake"
	"limitans/internal/record"
)

// maxFieldBytes of one field that comes with a file.
const maxFieldBytes = 4 << 10

// bringScan takes a file in. The fields come before the file, which is read as
// it arrives and never whole into memory.
func (s *Server) bringScan(w http.ResponseWriter, r *http.Request, v *visitor) error {
	in, err := s.intake()
	if err != nil {
		return err
	}
	parts, err := r.MultipartReader()
	if err != nil {
		return &fault.Error{Code: fault.Malformed, Where: "form", What: "it brings no file", Expected: "a form with a file", Cause: err}
	}
	sent, file, err := fieldsBefore(parts)
	if err != nil {
		return err
	}
	var kept intake.Kept
	request, err := requestOf(sent, record.DayOf(s.Now()))
	if err == nil {
		request.EyeID, request.Name, request.Content = record.ID(r.PathValue("eye")), file.FileName(), file
		request.CameFrom = record.FreeText("page from " + v.remote)
		kept, err = in.Keep(r.Context(), v.actor(), request)
	}
	if err != nil {
		return s.notBrought(w, r, v, sent, err)
	}
	to := "/eyes/" + string(request.EyeID) + "/scan/" + string(kept.ID)
	if strings.Contains(r.Header.Get("Accept"), "application/json") {
		writeJSON(w, http.StatusOK, map[string]any{"to": to, "notes": kept.Notes, "already": kept.Already})
		return nil
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

// fieldsBefore reads the fields of a form up to its file.
func fieldsBefore(parts *multipart.Reader) (sent map[string]string, file *multipart.Part, err error) {
	sent = map[string]string{}
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return nil, nil, &fault.Error{Code: fault.Invalid, Where: "file", What: "none was sent", Expected: "one file"}
		}
		if err != nil {
			return nil, nil, broken(err)
		}
		if part.FormName() == "file" {
			if part.FileName() == "" {
				return nil, nil, &fault.Error{Code: fault.Invalid, Where: "file", What: "none was chosen", Expected: "one file"}
			}
			return sent, part, nil
		}
		value, err := io.ReadAll(io.LimitReader(part, maxFieldBytes+1))
		if err != nil {
			return nil, nil, broken(err)
		}
		if len(value) > maxFieldBytes || len(sent) > 40 {
			return nil, nil, &fault.Error{Code: fault.TooLarge, Where: part.FormName(), What: "the text is too long", Expected: "less than 4 KiB"}
		}
		sent[part.FormName()] = strings.TrimSpace(string(value))
	}
}

// broken tells a form that is too large from one that does not end.
func broken(err error) error {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return err
	}
	return &fault.Error{Code: fault.Malformed, Where: "form", What: "it did not come whole", Mend: "send it again", Cause: err}
}

// requestOf checks what came with the file.
func requestOf(sent map[string]string, today record.Date) (intake.Request, error) {
	r := intake.Request{Kind: record.KindScan, Reason: sent["reason"], ConfirmPerson: sent["confirm-person"] != "", Flip: sent["flip"] != ""}
	if sent["typed-side"] != "" {
		side, err := eye.ParseLaterality(sent["typed-side"])
		if err != nil || side == eye.SideUnknown {
			return r, &fault.Error{Code: fault.Invalid, Where: "side", What: "is no side", Expected: "right or left", Cause: err}
		}
		r.TypedSide = side
	}
	if (r.TypedSide != eye.SideUnknown || r.ConfirmPerson) && r.Reason == "" {
		return r, &fault.Error{Code: fault.Invalid, Where: "reason", What: "what is settled by hand needs a reason", Mend: "type why"}
	}
	for _, axis := range []struct {
		name string
		into **float64
	}{{"depth", &r.Scale.DepthUM}, {"lateral", &r.Scale.LateralUM}, {"slice", &r.Scale.SliceUM}} {
		um, err := positive(sent[axis.name], "scale, "+axis.name)
		if err != nil {
			return r, err
		}
		*axis.into = um
	}
	if sent["taken"] == "" {
		return r, nil
	}
	read, err := record.ParseDate(sent["taken"], record.DateOptions{Today: today})
	if err != nil {
		return r, err
	}
	switch read.Kind {
	case record.DateKnown, record.DatePartly, record.DateMissing:
		r.Taken = read.Date
		return r, nil
	}
	f := &fault.Error{Code: fault.Invalid, Where: "day", What: read.Note, Expected: "a day as 24 Nov 2026, or unknown"}
	for _, d := range read.Readings {
		f.Mend += " " + d.String() + "?"
	}
	return r, f
}

// notBrought answers for a file that was not kept: a program gets the fault, a
// person the form again with what it was sent with. Browsers do not fill in a
// file again; the script keeps it, without script it is chosen once more.
func (s *Server) notBrought(w http.ResponseWriter, r *http.Request, v *visitor, sent map[string]string, err error) error {
	f := failureOf(err)
	if f.Status == http.StatusInternalServerError {
		return err
	}
	// Stops of the record are worded by intake for the file at hand.
	var worded *fault.Error
	if errors.As(err, &worded) {
		f.Code, f.Where, f.What, f.Expected, f.Mend = string(worded.Code), worded.Where, worded.What, worded.Expected, worded.Mend
		if worded.Code == fault.Conflict {
			f.Status = http.StatusConflict
		}
	}
	p := scansPage{Sent: sent, Refused: &f, Side: asksSide(err), Person: strings.Contains(f.Mend, "confirm the person")}
	if strings.Contains(r.Header.Get("Accept"), "application/json") {
		writeJSON(w, f.Status, map[string]any{"error": f, "side": p.Side, "person": p.Person})
		return nil
	}
	c, courseErr := s.course(r)
	if courseErr != nil {
		return courseErr
	}
	return s.scansPage(w, r, v, f.Status, c, p)
}

// asksSide reports a stop that a typed side can settle.
func asksSide(err error) bool {
	var stop *fault.Error
	return errors.As(err, &stop) && strings.Contains(stop.Mend, "type the side")
}
