package store_test

import (
	"testing"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// Old gas that nobody saw out is left out of the due list only when asked, and
// how much of it is told; oil, an agreed day to come and a day that is told too
// roughly to be certainly earlier stay.
func TestOldGasIsLeftOutAndCounted(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		eyes := map[string]*record.Eye{}
		for _, name := range []string{"old", "older", "new", "rough", "agreed", "missed", "oil"} {
			_, _, eyes[name] = m.storedEye(s, "Amaryllis "+name, "U-"+name)
		}
		for name, on := range map[string]string{"old": "2024-01-10", "older": "2023-05", "new": "2026-01-10", "rough": "2025", "agreed": "2024-01-10", "missed": "2024-01-10"} {
			put(t, s, m.operation(eyes[name], on, gasIn(t)))
		}
		put(t, s, m.operation(eyes["oil"], "2023-01-10", oilIn(t, "L-1")))
		for name, dueBy := range map[string]string{"agreed": "2026-04-01", "missed": "2024-02-01"} {
			visit := m.visit(eyes[name], "2024-01-12")
			visit.DueBy, visit.DueFor = day(t, dueBy), record.DueGasCheck
			put(t, s, visit)
		}
		list := func(q store.DueQuery) (map[record.ID]record.DueFor, int64) {
			t.Helper()
			found := map[record.ID]record.DueFor{}
			q.Page = store.Page{Limit: 2} // over several pages
			for {
				page, err := s.Due(background, q)
				if err != nil {
					t.Fatal(err)
				}
				for _, r := range page.Rows {
					if r.Reason == record.DueGasCheck || r.Reason == record.DueOilRemoval {
						found[r.EyeID] = r.Reason
					}
				}
				if page.Next == "" {
					return found, page.Hidden
				}
				q.Page.After = page.Next
			}
		}
		if all, hidden := list(store.DueQuery{}); len(all) != 7 || hidden != 0 {
			t.Errorf("not asked: %v, %d hidden", all, hidden)
		}
		kept, hidden := list(store.DueQuery{GasSince: "2025-06-01"})
		for name, want := range map[string]bool{"old": false, "older": false, "missed": false, "new": true, "rough": true, "agreed": true, "oil": true} {
			if _, is := kept[eyes[name].ID]; is != want {
				t.Errorf("%s is listed: %v", name, is)
			}
		}
		if hidden != 3 {
			t.Errorf("%d are told to be hidden", hidden)
		}
		if _, hidden := list(store.DueQuery{GasSince: "2025-06-01", Reasons: []record.DueFor{record.DueOilRemoval}}); hidden != 0 {
			t.Errorf("%d of another reason", hidden)
		}
		if _, hidden := list(store.DueQuery{GasSince: "2025-06-01", Until: "2024-01-01"}); hidden != 2 {
			t.Errorf("%d without a day or until then", hidden) // the missed one is due later
		}
		for _, bad := range []string{"2025", "2025-06", "yesterday", "2025-02-30"} {
			if _, err := s.Due(background, store.DueQuery{GasSince: bad}); fault.CodeOf(err) != fault.Invalid {
				t.Errorf("%s: %v", bad, err)
			}
		}
	})
}
