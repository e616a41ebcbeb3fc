package web

import (
	"net/http"
	"strings"
)

func (s *Server) apiPageRoutes() []route {
	return append([]route{
		{"GET", "/api", open(), s.showAPI},
		{"GET", apiPrefix + "openapi.json", open(), s.showOpenAPI},
	}, s.apiRoutes()...)
}

// apiPage describes the API for people.
type apiPage struct {
	Groups []apiGroup
	Prefix string
}

// apiGroup is the endpoints of one subject.
type apiGroup struct {
	Name string
	Ends []apiEnd
}

// apiEnd is one endpoint.
type apiEnd struct {
	Method, Path, About, Who string
	Parameters               []apiParameter
	Takes, Gives             string // names of schemas
}

type apiParameter struct{ Name, What string }

func (s *Server) showAPI(w http.ResponseWriter, _ *http.Request, v *visitor) error {
	p := apiPage{Prefix: apiPrefix}
	at := map[string]int{}
	for _, e := range s.endpoints() {
		one := apiEnd{Method: e.method, Path: e.path, About: e.about, Who: whoMay(e.rule), Gives: shownType(e.gives.String())}
		if e.takes != nil {
			one.Takes = shownType(e.takes.String())
		}
		for _, f := range e.takesForm {
			one.Parameters = append(one.Parameters, apiParameter{benchKey(f.Name), f.Help})
		}
		for _, q := range parametersOf(e) {
			one.Parameters = append(one.Parameters, apiParameter{q["name"].(string), q["description"].(string)})
		}
		if _, is := at[e.group]; !is {
			at[e.group] = len(p.Groups)
			p.Groups = append(p.Groups, apiGroup{Name: e.group})
		}
		g := &p.Groups[at[e.group]]
		g.Ends = append(g.Ends, one)
	}
	return s.render(w, v, http.StatusOK, "api", head{Title: "For programs", Rail: "about"}, p)
}

// shownType is a Go type as its schema is called.
func shownType(name string) string {
	name = name[strings.LastIndex(name, ".")+1:]
	return strings.TrimPrefix(name, "api")
}
