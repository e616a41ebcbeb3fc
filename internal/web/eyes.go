package web

import (
	"net/http"
	"strings"

	"limitans/internal/record"
	"limitans/internal/store"
)

func (s *Server) eyesRoutes() []route {
	return []route{
		{"GET", "/eyes", seesEye(), s.listEyes},
		{"GET", "/eyes/found", seesEye(), s.findEyes},
	}
}

// maxSearch is how long a search may be, in bytes.
const maxSearch = 200

// eyesPage is a stretch of the list of eyes.
type eyesPage struct {
	Search  string
	Filter  string // what is in the eye, or why it is due; empty: all
	Filters []eyeFilter
	Rows    []eyeLine
	Next    string
}

// eyeLine is one eye of the list.
type eyeLine struct {
	EyeID      record.ID
	Name, Side string
	UnitNumber string
	Born       string
	Remark     string // why it stands in a filtered list
}

// eyeFilter is one way to shorten the list.
type eyeFilter struct{ Code, Words string }

// eyeFilters in the order of the page: what is in the eye, then why it is due.
var eyeFilters = []eyeFilter{
	{"", "All eyes"},
	{"gas", "Gas in the eye"},
	{"oil", "Oil in the eye"},
	{"heavy-liquid", "Heavy liquid in the eye"},
	{"review", "Due for review"},
	{"unsigned-plan", "Plan not signed"},
}

func (s *Server) listEyes(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p := eyesPage{Search: shorten(r.FormValue("q")), Filter: r.FormValue("show"), Filters: eyeFilters}
	if err := s.eyeLines(r, &p); err != nil {
		return err
	}
	// A search that finds one eye goes there.
	if len(p.Rows) == 1 && p.Search != "" && r.FormValue("after") == "" && p.Filter == "" {
		http.Redirect(w, r, "/eyes/"+string(p.Rows[0].EyeID), http.StatusSeeOther)
		return nil
	}
	return s.render(w, v, http.StatusOK, "eyes", head{Title: "Eyes", Rail: "eyes"}, p)
}

// foundRows is how many eyes appear below the search while somebody types.
const foundRows = 8

// findEyes answers the search while somebody types: the list alone.
func (s *Server) findEyes(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p := eyesPage{Search: shorten(r.FormValue("q"))}
	if strings.TrimSpace(p.Search) != "" {
		found, err := s.Store.Eyes(r.Context(), p.Search, store.Page{Limit: foundRows})
		if err != nil {
			return err
		}
		p.Rows = linesOf(found.Rows)
		p.Next = found.Next
	}
	return s.renderPart(w, v, http.StatusOK, "eyes", "found", head{}, p)
}

// eyeLines reads the stretch that the page asks for.
func (s *Server) eyeLines(r *http.Request, p *eyesPage) error {
	page := store.Page{After: r.FormValue("after")}
	media := map[string][]record.Medium{
		"gas": {record.MediumGas, record.MediumAir}, "oil": {record.MediumOil, record.MediumHeavyOil}, "heavy-liquid": {record.MediumHeavyLiquid},
	}
	reasons := map[string]record.DueFor{"review": record.DueReview, "unsigned-plan": store.DueUnsignedPlan}
	if wanted, is := media[p.Filter]; is && p.Search == "" {
		rows, next, err := s.Store.InEyes(r.Context(), page, wanted...)
		for _, row := range rows {
			p.Rows = append(p.Rows, ownedLine(row.Owner, mediumWords(row.Content.Medium)+" since "+dayWords(row.Content.Since)))
		}
		p.Next = next
		return err
	}
	if reason, is := reasons[p.Filter]; is && p.Search == "" {
		due, err := s.Store.Due(r.Context(), store.DueQuery{Reasons: []record.DueFor{reason}, Page: page})
		for _, row := range due.Rows {
			p.Rows = append(p.Rows, ownedLine(row.Owner, dayWords(row.On)))
		}
		p.Next = due.Next
		return err
	}
	p.Filter = ""
	found, err := s.Store.Eyes(r.Context(), p.Search, page)
	p.Rows, p.Next = linesOf(found.Rows), found.Next
	return err
}

func linesOf(rows []store.EyeRow) []eyeLine {
	var out []eyeLine
	for _, row := range rows {
		out = append(out, eyeLine{row.EyeID, row.Name, sideWords(row.Side), row.UnitNumber, dayWords(row.BirthDate), ""})
	}
	return out
}

func ownedLine(o store.Owner, remark string) eyeLine {
	return eyeLine{EyeID: o.EyeID, Name: o.Name, Side: sideWords(o.Side), UnitNumber: o.UnitNumber, Remark: remark}
}

// shorten keeps a search to what can be a name or a number.
func shorten(text string) string {
	if len(text) > maxSearch {
		return strings.ToValidUTF8(text[:maxSearch], "")
	}
	return text
}
