package web

import (
	"context"
	"net/http"
	"strings"
	"testing"

	"limitans/internal/account"
	"limitans/internal/record"
)

// TestPatientIsEntered enters a patient whose name is in another script, with a
// birth date that has two readings, then the same again, which is noticed; merges
// the two and takes it back.
func TestPatientIsEntered(t *testing.T) {
	b := newBench(t, 0)
	nurse := b.as(account.Clinic)
	typed := fields("name-0-text", "सीता शर्मा", "name-1-text", "Sita Sharma", "birth", "03/04/1950", "number", "0007", "right", "yes")
	asked := nurse.send(nurse.get("/people/new"), "/people", typed)
	if asked.status != http.StatusUnprocessableEntity || !strings.Contains(asked.body, "Which day is it?") || !strings.Contains(asked.body, "3 Apr 1950") {
		t.Fatalf("the birth date is not asked about: %d %s", asked.status, text(asked.body))
	}
	typed.Set("birth-choice", "1950-04-03")
	shown := nurse.send(asked, "/people", typed)
	if shown.status != http.StatusSeeOther {
		shown = nurse.send(shown, "/people", typed)
	}
	to := shown.header.Get("Location")
	if shown.status != http.StatusSeeOther || !strings.HasPrefix(to, "/people/") {
		t.Fatalf("not stored: %d %s", shown.status, text(shown.body))
	}
	e, err := b.store.Get(context.Background(), record.KindPerson, record.ID(to[len("/people/"):]))
	must(t, err)
	p := e.(*record.Person)
	if p.BirthDate.ISO() != "1950-04-03" || p.BirthDate.Raw != "03/04/1950" || p.UnitNumber != "0007" || len(p.Names) != 2 {
		t.Errorf("stored as %+v", p)
	}
	eyes, err := b.store.EyesOfPerson(context.Background(), p.ID)
	must(t, err)
	if len(eyes) != 1 {
		t.Errorf("%d eyes", len(eyes))
	}
	again := fields("name-0-text", "Sita Sharma", "birth", "1950-04-03", "number", "7", "left", "yes", "right", "")
	found := nurse.send(nurse.get("/people/new"), "/people", again)
	if found.status != http.StatusUnprocessableEntity || !strings.Contains(found.body, "Is it one of these?") || !strings.Contains(found.body, "same birth date") {
		t.Fatalf("the same person is not noticed: %d %s", found.status, text(found.body))
	}
	twice := nurse.send(found, "/people", again)
	if twice.status != http.StatusSeeOther {
		t.Fatalf("not stored although none of these: %d %s", twice.status, text(twice.body))
	}
	page := nurse.get(twice.header.Get("Location"))
	if !strings.Contains(page.body, "May be the same person") {
		t.Errorf("the page does not propose the other: %s", text(page.body))
	}
	other := twice.header.Get("Location")
	if got := nurse.post(other+"/merge", fields("with", string(p.ID), "keep", "other", "reason", "")); got.status != http.StatusUnprocessableEntity {
		t.Errorf("merged without a reason: %d", got.status)
	}
	merged := nurse.post(other+"/merge", fields("with", string(p.ID), "keep", "other", "reason", "same papers"))
	if merged.status != http.StatusSeeOther || merged.header.Get("Location") != to {
		t.Fatalf("not merged: %d %s", merged.status, text(merged.body))
	}
	if eyes, err = b.store.EyesOfPerson(context.Background(), p.ID); err != nil || len(eyes) != 2 {
		t.Errorf("%d eyes after the merge (%v)", len(eyes), err)
	}
	merge, err := b.store.MergesOf(context.Background(), p.ID)
	must(t, err)
	if got := nurse.post(to+"/unmerge", fields("merge", string(merge[0].ID), "reason", "other mother")); got.status != http.StatusSeeOther {
		t.Errorf("not undone: %d %s", got.status, text(got.body))
	}
	edit := nurse.get(to + "/edit")
	typed = fields("name-0-text", "सीता शर्मा", "birth", "1950-04-03", "number", "0007", "sex", "female", "home", "1350")
	if got := nurse.send(edit, to, typed); got.status != http.StatusSeeOther {
		if got = nurse.send(got, to, typed); got.status != http.StatusSeeOther {
			t.Errorf("not changed: %d %s", got.status, text(got.body))
		}
	}
}

// TestLengthOfAnEyeIsEntered adds a length; one by sound in oil is stopped.
func TestLengthOfAnEyeIsEntered(t *testing.T) {
	b := newBench(t, 0)
	nurse := b.as(account.Clinic)
	row := b.firstEye()
	at := "/eyes/" + string(row.EyeID) + "/facts"
	if got := nurse.send(nurse.get(at), at, fields("length", "33.8", "method", "ultrasound", "medium", "oil")); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, "falsely long") {
		t.Errorf("sound in oil: %d %s", got.status, text(got.body))
	}
	if got := nurse.send(nurse.get(at), at, fields("length", "२४.५", "method", "light", "medium", "fluid")); got.status != http.StatusUnprocessableEntity {
		t.Errorf("not read as a number, and stored: %d", got.status)
	}
	if got := nurse.send(nurse.get(at), at, fields("length", "24,5", "method", "light", "medium", "fluid", "on", "2026-11-20")); got.status != http.StatusSeeOther {
		t.Fatalf("not stored: %d %s", got.status, text(got.body))
	}
	e, err := b.store.Get(context.Background(), record.KindEye, row.EyeID)
	must(t, err)
	all := e.(*record.Eye).AxialLengths
	if len(all) == 0 || all[len(all)-1].LengthMM != 24.5 {
		t.Errorf("stored as %+v", all)
	}
	if got := nurse.get(at); !strings.Contains(got.body, "24.5 mm") {
		t.Error("the page does not show it")
	}
}

// TestAllergiesAreEntered: what must not be used is entered with the person, is never
// guessed, and stands where the plan and the theatre sheet take it from.
func TestAllergiesAreEntered(t *testing.T) {
	b := newBench(t, 0)
	nurse := b.as(account.Clinic)
	typed := fields("name-0-text", "Ida Probe", "birth", "1950-04-03", "number", "0815", "right", "yes",
		"allergy-0-substance", "trypan blue", "allergy-0-reaction", "swelling of the lids", "no-allergies", "yes",
		"identifier-0-value", "99-1", "identifier-0-system", "Harbour hospital")
	send := func(to string, shown answer) answer {
		got := nurse.send(shown, to, typed)
		if got.status != http.StatusSeeOther {
			got = nurse.send(got, to, typed)
		}
		return got
	}
	if got := send("/people", nurse.get("/people/new")); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, "asked, none") {
		t.Fatalf("none and one at once: %d %s", got.status, text(got.body))
	}
	typed.Del("no-allergies")
	typed.Set("allergy-1-reaction", "rash")
	if got := send("/people", nurse.get("/people/new")); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, "enter the substance") {
		t.Fatalf("a reaction without its cause: %d %s", got.status, text(got.body))
	}
	typed.Del("allergy-1-reaction")
	typed.Del("identifier-0-system")
	if got := send("/people", nurse.get("/people/new")); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, "who gave it") {
		t.Fatalf("a number of nobody: %d %s", got.status, text(got.body))
	}
	typed.Set("identifier-0-system", "Harbour hospital")
	stored := send("/people", nurse.get("/people/new"))
	if stored.status != http.StatusSeeOther {
		t.Fatalf("not stored: %d %s", stored.status, text(stored.body))
	}
	at := stored.header.Get("Location")
	for _, page := range []string{at, at + "/edit"} {
		got := nurse.get(page)
		for _, wanted := range []string{"trypan blue", "swelling of the lids", "Harbour hospital", "99-1"} {
			if !strings.Contains(got.body, wanted) {
				t.Errorf("%s does not show %q", page, wanted)
			}
		}
	}
	e, err := b.store.Get(context.Background(), record.KindPerson, record.ID(at[len("/people/"):]))
	must(t, err)
	eyes, err := b.store.EyesOfPerson(context.Background(), e.Identity().ID)
	must(t, err)
	plan := b.as(account.Surgeon).get("/eyes/" + string(eyes[0].EyeID) + "/plan?condition=full_thickness_hole&mld=350")
	if plan.status != http.StatusOK || !strings.Contains(strings.ToLower(plan.body), "trypan") {
		t.Errorf("the plan does not know: %d", plan.status)
	}
}
