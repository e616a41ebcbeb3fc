package follow

import (
	"context"

	"limitans/internal/record"
	"limitans/internal/store"
)

// Review is what waits for a person.
type Review struct {
	Eyes       int // looked at
	Contests   []store.Contest
	Findings   []EyeFinding
	Duplicates []Pair
}

// EyeFinding is one finding about one eye and who it belongs to.
type EyeFinding struct {
	Eye     store.EyeRow
	Finding record.Finding
}

// Pair is two persons that may be one.
type Pair struct {
	record.Duplicate
	First, Second *record.Person
}

// Stops counts the findings that are stops.
func (r *Review) Stops() int {
	n := 0
	for _, f := range r.Findings {
		if f.Finding.Severity == record.Stop {
			n++
		}
	}
	return n
}

// LookAt looks at one stretch of the eyes, for who goes through a large record in
// small steps: the findings of these eyes alone, and where the next stretch
// begins; empty after the last. Errors: those of the record.
func LookAt(ctx context.Context, s *store.Store, today record.Date, page store.Page) (r *Review, next string, err error) {
	r = &Review{}
	next, err = r.stretch(ctx, s, today, page, map[record.ID]*record.Person{}, map[record.ID]record.ID{})
	return r, next, err
}

// stretch looks at the eyes of one page.
func (r *Review) stretch(ctx context.Context, s *store.Store, today record.Date, page store.Page, persons map[record.ID]*record.Person, readAs map[record.ID]record.ID) (string, error) {
	rows, err := s.Eyes(ctx, "", page)
	if err != nil {
		return "", err
	}
	for _, row := range rows.Rows {
		if err := r.look(ctx, s, row, today, persons); err != nil {
			return "", err
		}
		readAs[row.PersonID] = row.ReadAs
	}
	return rows.Next, nil
}

// Look goes through the record as it stands today. Errors: those of the record.
func Look(ctx context.Context, s *store.Store, today record.Date) (*Review, error) {
	r := &Review{}
	persons := map[record.ID]*record.Person{}
	readAs := map[record.ID]record.ID{}
	page := store.Page{Limit: store.MaxPage}
	for {
		next, err := r.stretch(ctx, s, today, page, persons, readAs)
		if err != nil {
			return nil, err
		}
		if next == "" {
			break
		}
		page.After = next
	}
	var err error
	if r.Contests, err = s.OpenContests(ctx, "", ""); err != nil {
		return nil, err
	}
	r.pair(persons, readAs)
	return r, nil
}

// look checks one eye and keeps its persons for comparing.
func (r *Review) look(ctx context.Context, s *store.Store, row store.EyeRow, today record.Date, persons map[record.ID]*record.Person) error {
	course, err := s.Course(ctx, row.EyeID, false)
	if err != nil {
		return err
	}
	around := record.Around{Today: today, Eye: course.Eye, Batches: course.Batches}
	for _, p := range course.Persons {
		persons[p.ID] = p
		around.BirthDate, around.DiedOn = p.BirthDate, p.DiedOn
	}
	found := record.CheckCourse(course.Course, around)
	// Told with one of the two eyes only.
	if both := append([]*record.Eye{course.Eye}, course.Fellow...); leads(course.Eye, course.Fellow) {
		found = append(found, record.CheckEyes(both)...)
	}
	for _, f := range found {
		r.Findings = append(r.Findings, EyeFinding{row, f})
	}
	r.Eyes++
	return nil
}

// leads reports whether an eye is the first of its patient.
func leads(e *record.Eye, fellows []*record.Eye) bool {
	for _, f := range fellows {
		if f.ID < e.ID {
			return false
		}
	}
	return true
}

// pair proposes duplicates among the persons; those who were merged are one
// already.
func (r *Review) pair(persons map[record.ID]*record.Person, readAs map[record.ID]record.ID) {
	all := make([]*record.Person, 0, len(persons))
	for _, p := range persons {
		all = append(all, p)
	}
	merged := func(a, b record.ID) bool { return readAs[a] != "" && readAs[a] == readAs[b] }
	for _, d := range record.ProposeDuplicates(all, merged) {
		r.Duplicates = append(r.Duplicates, Pair{d, persons[d.A], persons[d.B]})
	}
}
