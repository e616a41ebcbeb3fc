package web

import (
	"context"
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"testing"

	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

// TestOperationFormKeepsWhatItWasMadeFrom writes every operation of the clinic into
// the form and reads it back.
func TestOperationFormKeepsWhatItWasMadeFrom(t *testing.T) {
	b := newBench(t, 0)
	n := 0
	page, err := b.store.Eyes(context.Background(), "", store.Page{Limit: store.MaxPage})
	must(t, err)
	for _, row := range page.Rows {
		c, err := b.store.Course(context.Background(), row.EyeID, true)
		must(t, err)
		for _, o := range c.Operations {
			n++
			o.Version = max(o.Version, 1)
			e := &entryReader{values: operationValues(o), today: record.DayOf(now)}
			again := e.readOperation(o)
			found := slices.DeleteFunc(e.found, func(f record.Finding) bool { return f.Severity != record.Stop })
			before, err := json.Marshal(o)
			must(t, err)
			after, err := json.Marshal(again)
			must(t, err)
			if string(before) != string(after) || len(found) > 0 {
				t.Fatalf("%v\n%s\nread back as\n%s", found, before, after)
			}
		}
	}
	if n == 0 {
		t.Fatal("the clinic has no operation")
	}
}

// TestOperationIsEntered enters an operation without script, with a stop that is
// passed with a reason and a second person, and tells the eye's bubble from it.
func TestOperationIsEntered(t *testing.T) {
	b := newBench(t, 0)
	surgeon := b.as(account.Surgeon)
	b.as(account.Theatre) // makes the account of the second person
	row := b.firstEye()
	at := "/eyes/" + string(row.EyeID) + "/operations"
	people, err := b.server.Gate.Colleagues(context.Background())
	must(t, err)
	var second string
	for _, one := range people {
		if one.Roles.Allow(account.WriteOperation) && !one.Roles.Allow(account.SignPlan) {
			second = string(one.ID)
		}
	}
	typed := fields(
		"on", "2026-11-20", "side", strings.ToLower(sideWords(row.Side)), "procedure", "vitrectomy", "anaesthesia", "block", "no-events", "yes",
		"agent-0-class", "gas", "agent-0-action", "placed", "agent-0-gas", "C3F8", "agent-0-percent", "20", "agent-0-lot", "G-1",
	)
	wrong := fields("on", "2026-11-20", "side", map[string]string{"Right": "left", "Left": "right"}[sideWords(row.Side)], "procedure", "vitrectomy")
	if got := surgeon.send(surgeon.get(at+"/new"), at, wrong); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, "the eye in the record is the") {
		t.Fatalf("the other side: %d %s", got.status, text(got.body))
	}
	stopped := surgeon.send(surgeon.get(at+"/new"), at, typed)
	if stopped.status != http.StatusUnprocessableEntity || !strings.Contains(stopped.body, "above the non-expansile 14 %") || !strings.Contains(stopped.body, "Second person who agrees") {
		t.Fatalf("20 %% C3F8: %d %s", stopped.status, text(stopped.body))
	}
	typed.Set("reason-gas_above_non_expansile", "small bubble on purpose")
	if got := surgeon.send(stopped, at, typed); got.status != http.StatusUnprocessableEntity {
		t.Fatalf("passed without a second person: %d", got.status)
	}
	typed.Set("second-gas_above_non_expansile", second)
	stored := surgeon.send(stopped, at, typed)
	if stored.status != http.StatusSeeOther {
		t.Fatalf("not stored: %d %s", stored.status, text(stored.body))
	}
	to := stored.header.Get("Location")
	e, err := b.store.Get(context.Background(), record.KindOperation, record.ID(to[len(at)+1:]))
	must(t, err)
	if o := e.(*record.Operation); len(o.Overrides) != 1 || o.Overrides[0].Reason != "small bubble on purpose" || string(o.Overrides[0].SecondBy) != second || *o.Agents[0].Percent != 20 {
		t.Errorf("stored as %+v", o)
	}
	got := surgeon.get(to)
	if got.status != http.StatusOK || !strings.Contains(got.body, "small bubble on purpose") || !strings.Contains(got.body, "the ports is open") {
		t.Errorf("the page of the operation: %d %s", got.status, text(got.body))
	}
	if got := surgeon.post(to+"/sign", fields("version", "1")); got.status != http.StatusUnprocessableEntity {
		t.Errorf("an incomplete record was signed: %d", got.status)
	}
	course, err := b.store.Course(context.Background(), row.EyeID, false)
	must(t, err)
	if len(course.InEye) == 0 || course.InEye[0].Medium != record.MediumGas {
		t.Errorf("in the eye: %+v", course.InEye)
	}
	more := typed
	more.Set("more", "agent")
	if got := surgeon.send(stopped, at, more); got.status != http.StatusOK || !strings.Contains(got.body, "agent-2-class") {
		t.Errorf("no further row: %d", got.status)
	}
	if got := surgeon.post(to+"/strike", fields("version", "1", "reason", "other eye")); got.status != http.StatusSeeOther {
		t.Errorf("not struck out: %d", got.status)
	}
}
