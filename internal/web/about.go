package web

import (
	"net/http"

	"limitans"
	"limitans/internal/caution"
)

func (s *Server) aboutRoutes() []route {
	return []route{
		{"GET", "/about", open(), s.showAbout},
		{"GET", "/about/notices", open(), s.showNotices},
		{"GET", "/keys", open(), s.showKeys},
	}
}

// aboutPage says what the program is and is not.
type aboutPage struct {
	Cautions []string
	Methods  []method
}

// method is one computation with where its assumptions and sources stand.
type method struct {
	Name, What, Package string
}

// methods are the computations that pages show, by the package that does them.
var methods = []method{
	{"Boundaries", "inner limiting membrane and pigment epithelium found in every slice by a path search on the gradients", "limitans/oct/surface"},
	{"Hole figures", "the hole as a region in three dimensions; smallest width over all meridians, base, opening, height, volume, each with its error", "limitans/oct/hole"},
	{"Thickness", "grid and map between the two boundaries", "limitans/oct/thickness"},
	{"Acuity", "acuity in any notation as logMAR and letters; low vision in a class of its own", "limitans/acuity"},
	{"Gas", "exchange of gases between the bubble and blood, pressure and aqueous flow, fitted to published half-lives", "limitans/tamponade"},
	{"Flow", "infusion, oil and heavy liquid through gauges", "limitans/fluidics"},
	{"Light", "retinal exposure as dose under the published hazard functions", "limitans/light"},
	{"Dyes", "strength, mixing and contact time", "limitans/stain"},
	{"Published results", "exact random-effects pooling, closure by hole size", "limitans/evidence"},
	{"Statistics", "intervals, tests, survival and regression", "limitans/stats"},
}

func (s *Server) showAbout(w http.ResponseWriter, _ *http.Request, v *visitor) error {
	return s.render(w, v, http.StatusOK, "about", head{Title: "About", Rail: "about"}, aboutPage{caution.Full(), methods})
}

// noticesPage holds licences as they were written.
type noticesPage struct{ Own, Others string }

// showNotices lists the software of others in this program.
func (s *Server) showNotices(w http.ResponseWriter, _ *http.Request, v *visitor) error {
	return s.render(w, v, http.StatusOK, "notices", head{Title: "Third-party notices", Rail: "about"}, noticesPage{limitans.Licence, limitans.ThirdPartyNotices})
}

func (s *Server) showKeys(w http.ResponseWriter, _ *http.Request, v *visitor) error {
	return s.render(w, v, http.StatusOK, "keys", titled("Keys"), nil)
}
