package web

import (
	"net/http"
	"strings"
	"testing"

	"limitans/internal/account"
)

// Who may use which route, written down by hand: s surgeon, t theatre, c clinic,
// a auditor, m administrator; * everybody, also strangers. A route that is not
// here fails the test, and so does a line whose route is gone.
var accessTable = map[string]string{
	"GET /assets/{name...}":                     "*",
	"GET /sign-in":                              "*",
	"POST /sign-in":                             "*",
	"POST /sign-out":                            "stcam",
	"GET /passphrase":                           "*",
	"POST /passphrase":                          "*",
	"GET /sign-on":                              "*",
	"GET /sign-on/back":                         "*",
	"GET /about":                                "*",
	"GET /api/1/cases/{case}":                   "sa",
	"GET /api/1/cases":                          "sa",
	"GET /cases/{case}":                         "sa",
	"GET /cases":                                "sa",
	"POST /api/1/bench/altitude":                "stc",
	"POST /api/1/bench/mix":                     "stc",
	"POST /api/1/bench/bubble":                  "stc",
	"POST /api/1/bench/acuity":                  "stc",
	"GET /api":                                  "*",
	"GET /api/1/openapi.json":                   "*",
	"GET /api/1/health":                         "*",
	"GET /api/1/version":                        "*",
	"GET /api/1/me":                             "stcam",
	"GET /api/1/eyes":                           "stc",
	"GET /api/1/eyes/{eye}":                     "stc",
	"GET /api/1/eyes/{eye}/scans":               "stc",
	"GET /api/1/eyes/{eye}/figures":             "stc",
	"GET /api/1/eyes/{eye}/figures/{figures}":   "stc",
	"GET /api/1/eyes/{eye}/visits":              "stc",
	"GET /api/1/eyes/{eye}/visits/{visit}":      "stc",
	"POST /api/1/eyes/{eye}/visits":             "sc",
	"PUT /api/1/eyes/{eye}/visits/{visit}":      "sc",
	"GET /api/1/due":                            "stc",
	"GET /api/1/in-eyes":                        "stc",
	"GET /api/1/lots/{lot}":                     "stc",
	"GET /api/1/jobs":                           "stc",
	"GET /api/1/jobs/{job}":                     "stc",
	"GET /about/notices":                        "*",
	"GET /keys":                                 "*",
	"GET /settings":                             "stcam",
	"POST /settings/look":                       "*",
	"GET /{$}":                                  "stcam",
	"GET /due/{list}":                           "stc",
	"GET /eyes":                                 "stc",
	"GET /eyes/found":                           "stc",
	"GET /bench":                                "stc",
	"GET /bench/{calculator}":                   "stc",
	"GET /bench/bubble":                         "stc",
	"GET /bench/bubble/drawn":                   "stc",
	"GET /registers":                            "stc",
	"GET /eyes/{eye}/mixing":                    "stc",
	"POST /eyes/{eye}/mixing":                   "st",
	"GET /eyes/{eye}/mixing/{sheet}":            "stc",
	"POST /eyes/{eye}/mixing/{sheet}":           "st",
	"POST /eyes/{eye}/mixing/{sheet}/strike":    "stc",
	"GET /eyes/{eye}/mixing/{sheet}/sheet.pdf":  "stc",
	"GET /eyes/{eye}/mixing/{sheet}/sheet.html": "stc",
	"GET /eyes/{eye}/mixing.pdf":                "stc",
	"GET /eyes/{eye}/mixing.html":               "stc",
	"GET /eyes/{eye}/leaflet.pdf":               "stc",
	"GET /eyes/{eye}/leaflet.html":              "stc",
	"GET /eyes/{eye}/card.pdf":                  "stc",
	"GET /eyes/{eye}/card.html":                 "stc",
	"GET /eyes/{eye}/visits.ics":                "stc",
	"GET /eyes/{eye}/bubble":                    "stc",
	"GET /eyes/{eye}/bubble/drawn":              "stc",
	"GET /eyes/{eye}":                           "stc",
	"GET /eyes/{eye}/course":                    "stc",

	"GET /eyes/{eye}/plan":                           "stc",
	"POST /eyes/{eye}/plan":                          "s",
	"GET /eyes/{eye}/plan/{plan}":                    "stc",
	"GET /eyes/{eye}/plan/{plan}/theatre.pdf":        "stc",
	"GET /eyes/{eye}/plan/{plan}/theatre.html":       "stc",
	"GET /eyes/{eye}/plan/{plan}/kit.pdf":            "stc",
	"GET /eyes/{eye}/plan/{plan}/kit.html":           "stc",
	"POST /eyes/{eye}/plan/{plan}/sign":              "s",
	"GET /eyes/{eye}/visits":                         "stc",
	"POST /eyes/{eye}/visits":                        "sc",
	"GET /eyes/{eye}/visits/new":                     "sc",
	"GET /eyes/{eye}/visits/reading":                 "sc",
	"GET /eyes/{eye}/visits/{visit}":                 "stc",
	"POST /eyes/{eye}/visits/{visit}":                "sc",
	"GET /eyes/{eye}/visits/{visit}/edit":            "sc",
	"POST /eyes/{eye}/visits/{visit}/sign":           "sc",
	"POST /eyes/{eye}/visits/{visit}/strike":         "stc",
	"GET /contests/{contest}":                        "stc",
	"POST /contests/{contest}":                       "stc",
	"POST /eyes/{eye}/operations":                    "st",
	"GET /eyes/{eye}/operations/new":                 "st",
	"GET /eyes/{eye}/operations/{operation}":         "stc",
	"POST /eyes/{eye}/operations/{operation}":        "st",
	"GET /eyes/{eye}/operations/{operation}/edit":    "st",
	"POST /eyes/{eye}/operations/{operation}/sign":   "st",
	"POST /eyes/{eye}/operations/{operation}/strike": "stc",
	"POST /jobs/{job}/retry":                         "stc",
	"GET /people/new":                                "stc",
	"POST /people":                                   "stc",
	"GET /people/{person}":                           "stc",
	"POST /people/{person}":                          "stc",
	"GET /people/{person}/edit":                      "stc",
	"POST /people/{person}/merge":                    "sc",
	"POST /people/{person}/unmerge":                  "sc",
	"GET /eyes/{eye}/facts":                          "stc",
	"POST /eyes/{eye}/facts":                         "stc",
	"POST /settings/passphrase":                      "stcam",
	"POST /settings/sessions":                        "stcam",
	"POST /settings/second-factor":                   "stcam",
	"POST /settings/second-factor/confirm":           "stcam",
	"POST /settings/second-factor/remove":            "stcam",
	"GET /settings/history":                          "stcam",
	"GET /accounts":                                  "m",
	"POST /accounts":                                 "m",
	"GET /accounts/{account}":                        "m",
	"POST /accounts/{account}/roles":                 "m",
	"POST /accounts/{account}/active":                "m",
	"POST /accounts/{account}/recover":               "m",
	"POST /accounts/{account}/unblock":               "m",
	"GET /accounts/{account}/history":                "m",
	"GET /sheet-letters/{block}":                     "*",
	"GET /unit":                                      "m",
	"POST /unit":                                     "m",
	"GET /bench/mix/sheet.pdf":                       "stc",
	"GET /bench/mix/sheet.html":                      "stc",
}

var letterOf = map[account.Role]string{
	account.Surgeon: "s", account.Theatre: "t", account.Clinic: "c", account.Auditor: "a", account.Administrator: "m",
}

// TestEveryRouteHasItsRule sends a request to every route as every role and as a
// stranger, and compares who is let through with the table above.
func TestEveryRouteHasItsRule(t *testing.T) {
	b := newBench(t, 0)
	missing := map[string]bool{}
	for name := range accessTable {
		missing[name] = true
	}
	for _, one := range b.server.routes {
		if _, is := accessTable[one.pattern()]; !is {
			t.Errorf("%s has no line in the access table", one.pattern())
		}
		delete(missing, one.pattern())
	}
	for name := range missing {
		t.Errorf("%s stands in the access table and is no route", name)
	}
	for _, role := range account.EveryRole() {
		for _, one := range b.server.routes {
			table := accessTable[one.pattern()]
			// Signing out ends the session of the others' requests; a fresh one each.
			p := b.as(role)
			got := p.request(one)
			wanted := table == "*" || strings.Contains(table, letterOf[role])
			if refused := got.status == http.StatusForbidden && strings.Contains(got.body, "is not for the role"); refused == wanted {
				t.Errorf("%s as %s: answered %d, may be used: %v", one.pattern(), role, got.status, wanted)
			}
		}
	}
	for _, one := range b.server.routes {
		got := b.stranger().request(one)
		to := got.header.Get("Location")
		refused := got.status == http.StatusSeeOther && strings.HasPrefix(to, "/sign-in") && one.path != "/sign-in" && one.path != "/passphrase" ||
			isAPIPath(one.path) && got.status == http.StatusForbidden
		if wanted := accessTable[one.pattern()] == "*"; refused == wanted {
			t.Errorf("%s as a stranger: answered %d, to %q", one.pattern(), got.status, to)
		}
	}
}

func isAPIPath(path string) bool { return strings.HasPrefix(path, apiPrefix) }

// request sends the least a route can be asked, with identifiers that exist nowhere.
func (p *person) request(one route) answer {
	path := strings.NewReplacer("{$}", "", "{name...}", "none.js").Replace(one.path)
	for strings.Contains(path, "{") {
		from, to := strings.Index(path, "{"), strings.Index(path, "}")
		path = path[:from] + "00000000-0000-7000-8000-000000000000" + path[to+1:]
	}
	r, err := http.NewRequest(one.method, p.b.http.URL+path, http.NoBody)
	must(p.b.t, err)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return p.do(r)
}

// TestARouteWithoutARuleIsRefused shows that the rule of the house can fail.
func TestARouteWithoutARuleIsRefused(t *testing.T) {
	b := newBench(t, 0)
	for _, bad := range []route{
		{"GET", "/nobody", rule{}, b.server.showAbout},
		{"GET", "/nobody", needs(), b.server.showAbout},
		{"GET", "/nobody", open(), nil},
		{"", "/nobody", open(), b.server.showAbout},
	} {
		if bad.check() == nil {
			t.Errorf("%v is served", bad)
		}
	}
}
