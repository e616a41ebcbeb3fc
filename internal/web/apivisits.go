package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"

	"limitans/acuity"
	"limitans/eye"
	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

func (s *Server) visitsAPI() []endpoint {
	writes := needs(account.ReadClinical, account.ReadIdentity, account.WriteVisit)
	return []endpoint{
		gives("Visits", "eyes/{eye}/visits", seesEye(), "The visits of an eye, in the order of their days.", nil, s.apiVisits),
		gives("Visits", "eyes/{eye}/visits/{visit}", seesEye(), "One visit.", nil, s.apiVisit),
		takes("POST", "Visits", "eyes/{eye}/visits", writes, "Enters a visit. Acuity is given as written; what it was understood as is in the answer.", http.StatusCreated, s.apiEnterVisit),
		takes("PUT", "Visits", "eyes/{eye}/visits/{visit}", writes, "Changes a visit: the body replaces what it held. A change that was made from an older version is kept beside the other and answered with a conflict.", http.StatusOK, s.apiChangeVisit),
	}
}

// apiVisits are the visits of an eye.
type apiVisits struct {
	Visits []*record.Visit `json:"visits"`
}

func (s *Server) apiVisits(r *http.Request, _ *visitor) (apiVisits, error) {
	c, err := s.course(r)
	if err != nil {
		return apiVisits{}, err
	}
	return apiVisits{listOf(c.Visits)}, nil
}

func (s *Server) apiVisit(r *http.Request, _ *visitor) (*record.Visit, error) {
	return nounOfEye[*record.Visit](s, r, record.KindVisit, "visit")
}

// apiVisitEntry is a visit as a program enters it.
type apiVisitEntry struct {
	// Version that the change was made from; left out for a new visit.
	Version         int64                  `json:"version,omitempty"`
	On              record.Date            `json:"on"`
	At              record.Clock           `json:"at,omitempty"`
	Elsewhere       bool                   `json:"elsewhere,omitempty"` // the findings were told by another unit
	Acuities        []apiAcuity            `json:"acuities,omitempty"`
	Pressures       []record.Pressure      `json:"pressures,omitempty"`
	Lens            record.LensState       `json:"lens,omitempty"`
	Closure         *apiClosure            `json:"closure,omitempty"`
	Bubble          []record.BubbleReading `json:"bubble,omitempty"`
	MediaSeen       []record.MediumSeen    `json:"media_seen,omitempty"`
	Medication      []record.Medication    `json:"medication,omitempty"`
	Complications   []record.Complication  `json:"complications,omitempty"`
	NoComplications bool                   `json:"no_complications,omitempty"` // asked, none
	Missing         []record.MissingValue  `json:"missing,omitempty"`          // values that are not there, and why
	DueBy           record.Date            `json:"due_by,omitzero"`            // day by which the eye must be seen again
	DueFor          record.DueFor          `json:"due_for,omitempty"`
	Note            record.FreeText        `json:"note,omitempty"`
	// Overrides pass stops that may be passed with a typed reason.
	Overrides []apiOverride `json:"overrides,omitempty"`
	// Seen are the codes of the questions and warnings that a person was shown;
	// while one is missing nothing is stored.
	Seen []record.FindingCode `json:"seen,omitempty"`
	// Reason of a change, for the history.
	Reason string `json:"reason,omitempty"`
}

// apiAcuity is acuity as written.
type apiAcuity struct {
	Raw record.FreeText `json:"raw"` // as written, 6/9-2
	// Choice is the reading that a person chose of a text with several, in the
	// words of its "as".
	Choice  string        `json:"choice,omitempty"`
	Role    acuity.Role   `json:"role,omitempty"`
	Through record.Medium `json:"through,omitempty"` // what filled the eye then
}

// apiClosure says how the hole stands.
type apiClosure struct {
	Class  record.ClosureClass `json:"class"`
	Source record.ClosureFrom  `json:"source,omitempty"`
	ScanID record.ID           `json:"scan_id,omitempty"`
	Note   record.FreeText     `json:"note,omitempty"`
}

// apiOverride passes a stop.
type apiOverride struct {
	Code      record.FindingCode `json:"code"`
	Reason    record.FreeText    `json:"reason"` // typed by the person who passes it
	TypedSide eye.Laterality     `json:"typed_side,omitempty"`
	SecondBy  record.AccountID   `json:"second_by,omitempty"` // a second person, where the rule asks for one
}

// apiStored is what was stored.
type apiStored struct {
	Visit *record.Visit `json:"visit"`
	// Findings that do not forbid to store.
	Findings []record.Finding `json:"findings"`
}

func (s *Server) apiEnterVisit(r *http.Request, v *visitor, in apiVisitEntry) (apiStored, error) {
	if in.Version != 0 {
		return apiStored{}, &fault.Error{Code: fault.Invalid, Where: "version", What: "a new visit has none", Mend: "leave it out"}
	}
	c, err := s.course(r)
	if err != nil {
		return apiStored{}, err
	}
	return s.storeVisit(r.Context(), v, c, &record.Visit{PatientID: c.Eye.PatientID, EyeID: c.Eye.ID, SeenBy: v.account.ID}, in)
}

func (s *Server) apiChangeVisit(r *http.Request, v *visitor, in apiVisitEntry) (apiStored, error) {
	before, err := s.apiVisit(r, v)
	if err != nil {
		return apiStored{}, err
	}
	if in.Version < 1 {
		return apiStored{}, &fault.Error{Code: fault.Invalid, Where: "version", What: "is missing", Expected: "the version that the change was made from", Mend: "read the visit first"}
	}
	c, err := s.course(r)
	if err != nil {
		return apiStored{}, err
	}
	return s.storeVisit(r.Context(), v, c, before, in)
}

// storeVisit checks a visit as the page does and stores it.
func (s *Server) storeVisit(ctx context.Context, v *visitor, c *store.Course, before *record.Visit, in apiVisitEntry) (apiStored, error) {
	visit, err := in.over(before, v.account.ID)
	if err != nil {
		return apiStored{}, err
	}
	for _, o := range in.Overrides {
		visit.Overrides = append(visit.Overrides, record.Override{
			Code: o.Code, Reason: o.Reason, By: v.actor(), At: s.Now().UTC(), TypedSide: o.TypedSide, SecondBy: o.SecondBy,
		})
	}
	around := record.Around{Today: record.DayOf(s.Now()), Eye: c.Eye}
	if len(c.Persons) > 0 {
		around.BirthDate, around.DiedOn = c.Persons[0].BirthDate, c.Persons[0].DiedOn
	}
	if before.ID != "" {
		around.Before = before
	}
	found := record.Check(visit, around)
	if before.ID == "" { // the store gives the identifier
		found = slices.DeleteFunc(found, func(f record.Finding) bool { return f.Code == record.CodeReference && f.Where == "id" })
	}
	if open := in.open(found, visit.Overrides); len(open) > 0 {
		return apiStored{}, &foundOpen{open}
	}
	err = s.Store.Write(ctx, v.actor(), func(tx *store.Tx) error {
		if visit.ID == "" {
			if visit.ID, err = tx.NewID(); err != nil {
				return err
			}
		}
		stored, err := tx.Put(ctx, visit, in.Reason)
		visit.Version = stored.Version
		return err
	})
	return apiStored{visit, listOf(found)}, err
}

// open are the stops that nothing passes and the questions and warnings that nobody
// has seen.
func (in apiVisitEntry) open(found []record.Finding, overrides []record.Override) []record.Finding {
	open := record.Unresolved(found, overrides)
	for _, f := range found {
		if f.Severity != record.Stop && !slices.Contains(in.Seen, f.Code) {
			open = append(open, f)
		}
	}
	return open
}

// foundOpen is the refusal of a noun because of what was found.
type foundOpen struct{ findings []record.Finding }

// Error says the first finding.
func (f *foundOpen) Error() string {
	first := f.findings[0]
	text := string(first.Code) + ": " + first.What
	if first.Where != "" {
		text = first.Where + ": " + text
	}
	if more := len(f.findings) - 1; more > 0 {
		text += fmt.Sprintf(" (and %d more)", more)
	}
	return text
}

// over puts what was sent over a visit, which is not changed.
func (in apiVisitEntry) over(before *record.Visit, by record.AccountID) (*record.Visit, error) {
	v := *before
	v.Version = in.Version
	v.On, v.At, v.Elsewhere, v.Pressures, v.Lens = in.On, in.At, in.Elsewhere, in.Pressures, in.Lens
	v.Bubble, v.MediaSeen, v.Medication, v.Complications = in.Bubble, in.MediaSeen, in.Medication, in.Complications
	v.NoComplications, v.Missing, v.DueBy, v.DueFor, v.Note = in.NoComplications, in.Missing, in.DueBy, in.DueFor, in.Note
	v.Overrides = slices.Clone(before.Overrides)
	v.Closure = nil
	if c := in.Closure; c != nil {
		v.Closure = &record.Closure{Class: c.Class, Source: c.Source, ScanID: c.ScanID, By: by, Note: c.Note}
		if before.Closure != nil && before.Closure.Class == c.Class {
			v.Closure.By = before.Closure.By
		}
	}
	v.Acuities = nil
	for i, a := range in.Acuities {
		read, err := a.read(before.Acuities, by, fmt.Sprintf("acuities[%d].choice", i))
		if err != nil {
			return nil, err
		}
		v.Acuities = append(v.Acuities, read)
	}
	return &v, nil
}

// read understands acuity as written; a text that stood there before stays as it
// was read then.
func (a apiAcuity) read(before []record.AcuityEntry, by record.AccountID, where string) (record.AcuityEntry, error) {
	out := record.AcuityEntry{Raw: a.Raw, Role: a.Role, Through: a.Through}
	if at := slices.IndexFunc(before, func(b record.AcuityEntry) bool { return b.Raw == a.Raw }); at >= 0 {
		out.Understood, out.Chosen, out.ChosenBy = before[at].Understood, before[at].Chosen, before[at].ChosenBy
	} else {
		out.Understood = acuity.Parse(string(a.Raw), acuity.Options{})
	}
	if a.Choice == "" || out.Chosen != nil && out.Chosen.As == a.Choice {
		return out, nil
	}
	// What is chosen counts instead of all that was understood, so a line with
	// several values cannot be settled by one of them.
	if len(out.Understood) == 1 {
		for _, r := range out.Understood[0].Readings {
			if r.As == a.Choice {
				out.Chosen, out.ChosenBy = &r, by
				return out, nil
			}
		}
	}
	return out, &fault.Error{
		Code: fault.Invalid, Where: where, What: fmt.Sprintf("%q is no reading of %q", a.Choice, string(a.Raw)),
		Expected: "the words of one of its readings", Mend: "ask what the text can mean first; write several values in entries of their own",
	}
}
