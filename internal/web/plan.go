package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"sync"
	"time"

	"limitans/decide"
	"limitans/estimate"
	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/planning"
	"limitans/internal/record"
	"limitans/internal/store"
)

func (s *Server) planRoutes() []route {
	return []route{
		{"GET", "/eyes/{eye}/plan", seesEye(), s.showPlan},
		{"POST", "/eyes/{eye}/plan", needs(account.WritePlan, account.ReadIdentity), s.storePlan},
		{"GET", "/eyes/{eye}/plan/{plan}", seesEye(), s.showStoredPlan},
		{"POST", "/eyes/{eye}/plan/{plan}/sign", needs(account.SignPlan, account.ReadIdentity), s.signPlan},
	}
}

// planPage is the Plan station: what is known, the options, the choice.
type planPage struct {
	Eye      eyeHead
	Here     string
	Fields   []findingField // told
	Asked    []findingField // not told, and rows of the table ask for it
	More     []findingField
	Decision *decide.Decision
	Lines    []optionLine
	Trouble  string // why there are no options
	Own      *planning.Series
	OwnAt    time.Time
	Current  *record.Plan // the newest version, if any
	Versions []*record.Plan
	MayWrite bool
	Form     planForm
	Reasons  []choice
	// Refused are stops of the record about what was sent; Colleagues may agree to
	// pass one.
	Refused    []refusedPlan
	Colleagues []option
}

// Scaled reports whether any option has a share to draw.
func (p planPage) Scaled() bool { return slices.ContainsFunc(p.Lines, optionLine.Drawn) }

// Order says how options are ordered.
func (planPage) Order() string { return decide.OrderRule }

// optionLine is one option with its intervals on the common scale of 0 to 100.
type optionLine struct {
	decide.Option
	First     bool
	Published *bar
	OwnBar    *bar
	Weighed   *bar
	Sight     planning.Sight // own acuities; the zero value while nothing is counted
}

// Drawn reports whether the row has anything on the scale.
func (l optionLine) Drawn() bool { return l.Option.Published.Expected.Known() || l.OwnBar != nil }

// bar is an interval on the scale of 0 to 100 %.
type bar struct{ Low, At, High, Width float64 }

func barOf(e estimate.Estimate) *bar {
	if !e.Known() {
		return nil
	}
	return &bar{100 * e.Low, 100 * e.Value, 100 * e.High, 100 * (e.High - e.Low)}
}

// Words is an interval in per cent.
func (b *bar) Words() string {
	return fmt.Sprintf("%.0f %% (95 %%: %.0f to %.0f)", b.At, b.Low, b.High)
}

// ownCache keeps the unit's own results, which are counted from the whole record.
type ownCache struct {
	mu     sync.Mutex
	series *planning.Series
	at     time.Time
	busy   bool
}

// ownKept is how long a count of the own results serves.
const ownKept = time.Hour

// ownSeries is the last count, and starts a new one when that is old. The first
// page after a start may come before the count.
func (s *Server) ownSeries() (*planning.Series, time.Time) {
	now := s.Now()
	series, at, old := s.own.last(now)
	if old {
		go func() {
			ctx, cancel := context.WithTimeout(context.Background(), ownLimit)
			defer cancel()
			if err := s.own.count(ctx, s.Store, now); err != nil {
				s.Log.Error("own results not counted", "error", err)
			}
		}()
	}
	return series, at
}

// ownLimit is how long counting may take.
const ownLimit = 2 * time.Minute

// last gives the last count, and whether another one is wanted.
func (c *ownCache) last(now time.Time) (series *planning.Series, at time.Time, old bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.series, c.at, !c.busy && (c.series == nil || now.Sub(c.at) > ownKept)
}

// count counts anew unless somebody does already.
func (c *ownCache) count(ctx context.Context, from *store.Store, now time.Time) error {
	c.mu.Lock()
	busy := c.busy
	c.busy = true
	c.mu.Unlock()
	if busy {
		return nil
	}
	series, err := planning.OwnSeries(ctx, from, record.DayOf(now))
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.busy = false; err == nil {
		c.series, c.at = series, now
	}
	return err
}

// showPlan shows the options for the eye as it is known, with what the visitor
// answered in the address.
func (s *Server) showPlan(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	if err := r.ParseForm(); err != nil {
		return &fault.Error{Code: fault.Malformed, Where: "form", What: "cannot be read", Cause: err}
	}
	p, err := s.planPage(c, r.Form, v)
	if err != nil {
		return err
	}
	return s.renderPlan(w, v, http.StatusOK, p)
}

func (s *Server) renderPlan(w http.ResponseWriter, v *visitor, status int, p *planPage) error {
	return s.render(w, v, status, "plan", head{Title: p.Eye.Name, Rail: "eyes"}, p)
}

// planPage works out everything the station shows.
func (s *Server) planPage(c *store.Course, form url.Values, v *visitor) (*planPage, error) {
	p := &planPage{
		Eye: headOf(c, "plan"), MayWrite: v.may(account.WritePlan), Reasons: planReasons,
		Versions: c.Plans, Current: newestPlan(c.Plans), Form: planFormOf(form),
	}
	p.Here = "/eyes/" + string(c.Eye.ID) + "/plan"
	known, told := planning.FindingsOf(c.Course, c.Patient, record.DayOf(s.Now()))
	findings, err := readFindings(form, known)
	if err != nil {
		p.Trouble = failureOf(err).Where + ": " + failureOf(err).What
		findings = known
	}
	var asked []decide.Question
	if findings.Condition != "" && p.Trouble == "" {
		p.Own, p.OwnAt = s.ownSeries()
		d, err := planning.Decide(findings, p.Own)
		if err != nil {
			p.Trouble = err.Error()
		} else {
			p.Decision, p.Lines, asked = &d, linesOfOptions(d, findings, p.Own), d.Open
		}
	}
	fields, err := filledFields(findings, told, asked)
	if err != nil {
		return nil, err
	}
	for _, f := range fields {
		told := f.From != "" || form.Get(f.JSON) != "" && form.Get(f.JSON) != "0"
		switch {
		case told || f.Key == "condition":
			p.Fields = append(p.Fields, f)
		case f.Asked:
			p.Asked = append(p.Asked, f)
		default:
			p.More = append(p.More, f)
		}
	}
	return p, nil
}

func linesOfOptions(d decide.Decision, f decide.Findings, own *planning.Series) []optionLine {
	var lines []optionLine
	for i, o := range d.Options {
		line := optionLine{Option: o, First: i == 0, Weighed: barOf(o.Closure), Published: barOf(o.Published.Expected)}
		if o.Own.Eyes > 0 {
			line.OwnBar = barOf(o.Own.Share)
		}
		if own != nil {
			line.Sight = own.Sight(f, o.Code)
		}
		lines = append(lines, line)
	}
	return lines
}

// newestPlan is the version that no other replaces.
func newestPlan(all []*record.Plan) *record.Plan {
	for _, p := range slices.Backward(all) {
		if !slices.ContainsFunc(all, func(other *record.Plan) bool { return other.Replaces == p.ID }) {
			return p
		}
	}
	return nil
}

// storePlan keeps a choice: a new plan, a change of one that is not signed, or a
// new version of one that is.
func (s *Server) storePlan(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	if err := r.ParseForm(); err != nil {
		return &fault.Error{Code: fault.Malformed, Where: "form", What: "cannot be read", Cause: err}
	}
	p, err := s.planPage(c, r.Form, v)
	if err != nil {
		return err
	}
	if p.Decision == nil {
		return s.renderPlan(w, v, http.StatusUnprocessableEntity, p)
	}
	plan, err := s.planFrom(c, p, v)
	if err != nil {
		p.Trouble = err.Error()
		return s.renderPlan(w, v, http.StatusUnprocessableEntity, p)
	}
	passStops(plan, r.Form, v, s.Now())
	err = s.Store.Write(r.Context(), v.actor(), func(tx *store.Tx) error {
		if plan.ID == "" {
			var err error
			if plan.ID, err = tx.NewID(); err != nil {
				return err
			}
		}
		_, err := tx.Put(r.Context(), plan, "")
		return err
	})
	var refused *store.Refused
	if errors.As(err, &refused) {
		if err := s.refusePlan(r, p, refused.Stops, v); err != nil {
			return err
		}
		return s.renderPlan(w, v, http.StatusUnprocessableEntity, p)
	}
	if err != nil {
		return err
	}
	http.Redirect(w, r, p.Here+"/"+string(plan.ID), http.StatusSeeOther)
	return nil
}
