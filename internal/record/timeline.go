package record

import (
	"fmt"
	"slices"

	"limitans/acuity"
)

// Values returns what an entry counts as: what was understood, or the reading a
// person chose; with the role a person gave where the text tells none.
func (a AcuityEntry) Values() []acuity.Entry {
	out := slices.Clone(a.Understood)
	if a.Chosen != nil {
		e := acuity.Entry{
			Raw: string(a.Raw), Kind: a.Chosen.Kind, LogMAR: a.Chosen.LogMAR, Letters: a.Chosen.Letters,
			Scheme: a.Chosen.Scheme, Role: acuity.RoleUnknown, Note: "chosen by a person: " + a.Chosen.As,
		}
		for _, u := range a.Understood {
			if u.Role != "" && u.Role != acuity.RoleUnknown {
				e.Role = u.Role
			}
		}
		out = []acuity.Entry{e}
	}
	for i := range out {
		if (out[i].Role == "" || out[i].Role == acuity.RoleUnknown) && a.Role != "" {
			out[i].Role = a.Role
		}
	}
	return out
}

// ThroughGas reports a value taken through gas or air: true, but no result.
func (a AcuityEntry) ThroughGas() bool { return a.Through == MediumGas || a.Through == MediumAir }

// AcuityPoint is one value on the time line of an eye.
type AcuityPoint struct {
	VisitID ID
	On      Date
	Entry   acuity.Entry
	Raw     FreeText
	Through Medium
	// Counts: the value may be a baseline or a result. WhyNot says why it may not.
	Counts bool
	WhyNot string
}

// AcuityPoints returns every acuity value of the visits in order of time, those
// that count and those that do not. Near values, questions and unusable entries do
// not count; neither does a value taken through gas or air.
func AcuityPoints(visits []*Visit) []AcuityPoint {
	var out []AcuityPoint
	for _, v := range standing(visits) {
		for _, a := range v.Acuities {
			for _, e := range a.Values() {
				p := AcuityPoint{VisitID: v.ID, On: v.On, Entry: e, Raw: a.Raw, Through: a.Through, Counts: true}
				_, ranked := acuity.OrderKey(e)
				switch {
				case a.ThroughGas():
					p.Counts, p.WhyNot = false, "taken through "+string(a.Through)
				case !ranked:
					p.Counts, p.WhyNot = false, string(e.Kind)
				case !v.On.Known():
					p.Counts, p.WhyNot = false, "the day is not known"
				}
				out = append(out, p)
			}
		}
	}
	return out
}

// roleRank is the order in which roles of one visit are taken: best corrected
// first. The role that was taken stands in the point; nothing is called corrected
// that was not.
func roleRank(r acuity.Role) int {
	switch r {
	case acuity.Corrected:
		return 3
	case acuity.Pinhole:
		return 2
	case acuity.Uncorrected:
		return 0
	}
	return 1
}

// better reports whether b is to be taken rather than a when both are of one day.
// Within one role the first written stays.
func better(a, b AcuityPoint) bool { return roleRank(b.Entry.Role) > roleRank(a.Entry.Role) }

// Baseline returns the acuity before an operation: the last value that counts,
// taken on its day or before, of that day the corrected one before pinhole, unknown
// and uncorrected. A value of the operation's own day counts as taken before it;
// through gas none counts. ok is false when there is none; why then says it.
func Baseline(visits []*Visit, operation Date) (p AcuityPoint, ok bool, why string) {
	if !operation.Known() {
		return AcuityPoint{}, false, "the day of the operation is not known"
	}
	for _, q := range AcuityPoints(visits) {
		if !q.Counts || !notAfter(q.On, operation) {
			continue
		}
		if !ok || q.On.Compare(p.On) > 0 || q.On.Compare(p.On) == 0 && better(p, q) {
			p, ok = q, true
		}
	}
	if !ok {
		return AcuityPoint{}, false, "no acuity that counts before the operation"
	}
	return p, true, ""
}

// notAfter reports whether every day a may be lies on or before every day b may be.
func notAfter(a, b Date) bool {
	if a.Relative != b.Relative {
		return false
	}
	_, last, okA := a.span()
	first, _, okB := b.span()
	return okA && okB && last <= first
}

// LatestAcuity returns the last value that counts and is not certainly after
// asOf; a day that is not told means no limit.
func LatestAcuity(visits []*Visit, asOf Date) (p AcuityPoint, ok bool) {
	for _, q := range AcuityPoints(visits) {
		if !q.Counts || asOf.CertainlyBefore(q.On) {
			continue
		}
		if !ok || q.On.Compare(p.On) > 0 || q.On.Compare(p.On) == 0 && better(p, q) {
			p, ok = q, true
		}
	}
	return p, ok
}

// AcuityInWindow returns the value nearest to targetDays after an operation among
// those from fromDays to toDays (inclusive), with its day; ok is false when the
// window holds none, which is missing and stays so. Of two equally near days the
// later one is taken (ours, no source).
func AcuityInWindow(visits []*Visit, operation Date, targetDays, fromDays, toDays int) (p AcuityPoint, day int, ok bool) {
	distance := func(d int) int { return max(d-targetDays, targetDays-d) }
	for _, q := range AcuityPoints(visits) {
		d, known := operation.DaysUntil(q.On)
		if !q.Counts || !known || d < fromDays || d > toDays {
			continue
		}
		nearer := distance(d) < distance(day) || distance(d) == distance(day) && d > day
		if !ok || nearer || d == day && better(p, q) {
			p, day, ok = q, d, true
		}
	}
	return p, day, ok
}

// ClosureClassInfo is one class of closure with its source.
type ClosureClassInfo struct {
	Class  ClosureClass
	Words  string
	Closed Answer // Unclear where the class alone does not tell
	Source string
}

// ClosureClasses returns the classes of closure with what each means. The scheme of
// two types and that of edges are kept beside each other and never translated.
func ClosureClasses() []ClosureClassInfo {
	const (
		kang  = "Kang et al., Br J Ophthalmol 2003;87:1015 (abstract)"
		edges = "edges flat or elevated, hole closed or open; common practice, no source"
	)
	return []ClosureClassInfo{
		{KangType1, "type 1: closed without a defect of the neurosensory retina", Yes, kang},
		{KangType2, "type 2: edges attached, a defect of the neurosensory retina remains", No, kang},
		{ClosedNoDefect, "closed without a defect", Yes, kang},
		{ClosedWithDefect, "edges attached, with a defect (bare epithelium)", No, kang},
		{FlatClosed, "flat closed", Yes, edges},
		{FlatOpen, "flat open: edges on the epithelium, epithelium bare; not closed", No, edges},
		{ElevatedClosed, "closed over elevated edges or fluid", Yes, edges},
		{ElevatedOpen, "elevated open", No, edges},
		{Reopened, "reopened after it had closed", No, edges},
		{ClosureUnread, "cannot be read", Unclear, edges},
	}
}

// State is what is known of an eye on a day.
type State struct {
	AsOf          Date
	First, Last   *Operation // first operation that opened the eye, and the last procedure
	Baseline      *AcuityPoint
	NoBaseline    string // why there is none
	Latest        *AcuityPoint
	Lens          LensState
	LensOn        Date
	Closure       *Closure
	ClosureOn     Date
	Pressure      *Pressure
	PressureOn    Date
	InEye         []Content
	LastSeen      Date // last visit
	DueBy         Date // of the last visit that agreed one
	DueFor        DueFor
	UsableAxial   *AxialLength
	NoUsableAxial string
	Questions     []string // what a person must settle, in words
}

// StateOf derives the state of an eye from its course; it changes nothing.
func StateOf(c Course, asOf Date) State {
	s := State{AsOf: asOf}
	var operations []*Operation
	for _, o := range standing(c.Operations) {
		if !asOf.CertainlyBefore(o.On) {
			operations = append(operations, o)
			s.Last = o
			if o.LensAfter != "" {
				s.Lens, s.LensOn = o.LensAfter, o.On
			}
			if o.EndPressure != nil && o.EndPressure.MmHg != nil {
				s.Pressure, s.PressureOn = o.EndPressure, o.On
			}
		}
	}
	s.First = FirstOperation(operations)
	s.NoBaseline = "no operation"
	if s.First != nil {
		p, ok, why := Baseline(c.Visits, s.First.On)
		s.NoBaseline = why
		if ok {
			s.Baseline = &p
		}
	}
	if p, ok := LatestAcuity(c.Visits, asOf); ok {
		s.Latest = &p
	}
	s.visits(c.Visits)
	s.InEye = InEye(operations, c.Visits, asOf)
	if c.Eye != nil {
		a, ok, why := UsableAxialLength(c.Eye)
		s.NoUsableAxial = why
		if ok {
			s.UsableAxial = &a
		}
	}
	for _, in := range s.InEye {
		if in.State == ContentUnclear {
			s.Questions = append(s.Questions, fmt.Sprintf("%s: unclear whether it is still in the eye", in.Medium))
		}
	}
	return s
}

// visits takes the last value of each kind. On the day of an operation the lens is
// that at its end, the pressure that of the clinic.
func (s *State) visits(all []*Visit) {
	for _, v := range standing(all) {
		if s.AsOf.CertainlyBefore(v.On) {
			continue
		}
		s.LastSeen = v.On
		if v.Lens != "" && s.LensOn.Compare(v.On) < 0 || v.Lens != "" && s.Lens == "" {
			s.Lens, s.LensOn = v.Lens, v.On
		}
		if v.Closure != nil {
			s.Closure, s.ClosureOn = v.Closure, v.On
		}
		for i := range v.Pressures {
			if p := &v.Pressures[i]; p.MmHg != nil && (s.Pressure == nil || s.PressureOn.Compare(v.On) <= 0) {
				s.Pressure, s.PressureOn = p, v.On
			}
		}
		if v.DueBy.Known() || v.DueFor != "" {
			s.DueBy, s.DueFor = v.DueBy, v.DueFor
		}
	}
}
