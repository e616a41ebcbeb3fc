package meta

import (
	"fmt"
	"go/ast"
	"path"
	"regexp"
	"slices"
	"strings"
	"testing"
)

var (
	saysLicence = regexp.MustCompile(`(?i)\blicen[cs]e`)
	saysOrigin  = regexp.MustCompile(`(?i)\borigin|\bsource|\bdoi\b|\bmade (by|with|for)\b|\bwritten (by|for)\b|\bgenerated\b`)
)

// originOffences wants, for every folder of test data, a README.md in it or
// above it (not above its testdata folder) that tells origin and licence.
func originOffences(sources []source) []string {
	readmes := map[string][]byte{}
	folders := map[string]bool{}
	for _, s := range sources {
		folder, base := path.Split(s.name)
		folder = path.Clean(folder)
		if !strings.Contains("/"+folder+"/", "/testdata/") {
			continue
		}
		switch {
		case base == "README.md":
			readmes[folder] = s.data
		case !strings.HasPrefix(base, "LICENSE"):
			folders[folder] = true
		}
	}
	var offences []string
	for folder := range folders {
		if _, found := nearestReadme(readmes, folder); !found {
			offences = append(offences, folder+": test data without a README.md")
		}
	}
	for folder, text := range readmes {
		if !saysLicence.Match(text) {
			offences = append(offences, folder+"/README.md: does not name a licence")
		}
		if !saysOrigin.Match(text) {
			offences = append(offences, folder+"/README.md: does not name an origin")
		}
	}
	return offences
}

// nearestReadme climbs from folder to its testdata folder.
func nearestReadme(readmes map[string][]byte, folder string) (string, bool) {
	for at := folder; at != "."; at = path.Dir(at) {
		if _, found := readmes[at]; found {
			return at, true
		}
		if path.Base(at) == "testdata" {
			return "", false
		}
	}
	return "", false
}

func TestEveryTestDatumHasOriginAndLicence(t *testing.T) {
	report(t, originOffences(repository(t)),
		"put a README.md beside the data: what each file is, where it comes from or which program made it, under which licence.")
}

func TestOriginRuleCanFail(t *testing.T) {
	tryRule(t, originOffences, []sample{
		{"no README", "oct/testdata/a.tif", "", "oct/testdata: test data without"},
		{"no README, deeper", "testdata/set/a.tif", "", "testdata/set: test data without"},
		{"no licence", "testdata/README.md", "Source: made with this program.", "does not name a licence"},
		{"no origin", "testdata/README.md", "Licence: Apache-2.0.", "does not name an origin"},
		{"not test data", "oct/a.tif", "", ""},
	})
	readme := source{"testdata/README.md", []byte("Origin: this project. Licence: Apache-2.0.")}
	if got := originOffences([]source{readme, {"testdata/set/a.tif", nil}}); len(got) > 0 {
		t.Errorf("a README above should do: %q", got)
	}
	if got := originOffences([]source{readme, {"oct/testdata/a.tif", nil}}); len(got) != 1 {
		t.Errorf("another folder's README should not do: %q", got)
	}
}

// skipOffences looks for tests that can vanish unseen. A test may skip in
// short mode, or when an outside reference program is missing; the latter must
// fail when LIMITANS_ORACLES=required, so its function names that variable.
// Fuzz functions and property checks skip inputs, not tests.
func skipOffences(sources []source) []string {
	var offences []string
	for _, f := range parsed(sources) {
		if !f.isTest() {
			continue
		}
		for _, decl := range f.tree.Decls {
			d, is := decl.(*ast.FuncDecl)
			if !is || d.Body == nil || strings.HasPrefix(d.Name.Name, "Fuzz") {
				continue
			}
			body := string(f.data[f.fset.Position(d.Pos()).Offset:f.fset.Position(d.End()).Offset])
			if strings.Contains(body, "LIMITANS_ORACLES") || strings.Contains(body, "testing.Short()") ||
				strings.Contains(body, "*rapid.T") {
				continue
			}
			ast.Inspect(d.Body, func(n ast.Node) bool {
				call, is := n.(*ast.SelectorExpr)
				if is && slices.Contains([]string{"Skip", "Skipf", "SkipNow"}, call.Sel.Name) {
					offences = append(offences, fmt.Sprintf("%s: %s skips without a condition that the test script can forbid", f.line(n.Pos()), d.Name.Name))
				}
				return true
			})
		}
	}
	return offences
}

func TestTestsDoNotVanish(t *testing.T) {
	report(t, skipOffences(repository(t)),
		"fail instead of skipping; where an outside program is missing, skip only if LIMITANS_ORACLES is not \"required\", in the same function.")
}

func TestSkipRuleCanFail(t *testing.T) {
	file := func(body string) string { return "package p\n\nfunc TestX(t *testing.T) { " + body + " }\n" }
	tryRule(t, skipOffences, []sample{
		{"bare skip", "oct/a_test.go", file(`t.Skip("later")`), "oct/a_test.go:3: TestX skips"},
		{"skip now", "oct/a_test.go", file(`if x { t.SkipNow() }`), "TestX skips"},
		{"with a format", "oct/a_test.go", file(`t.Skipf("no %s", "x")`), "TestX skips"},
		{"short mode", "oct/a_test.go", file(`if testing.Short() { t.Skip() }`), ""},
		{"oracle", "oct/a_test.go", file(`if os.Getenv("LIMITANS_ORACLES") != "required" { t.Skip() }`), ""},
		{"fuzz input", "oct/a_test.go", "package p\n\nfunc FuzzX(f *testing.F) { f.Skip() }\n", ""},
		{"no skip", "oct/a_test.go", file(`t.Log()`), ""},
	})
}

// changelogOffences wants the changelog's first section to be the one that
// collects what is not yet released (it may be empty after a release).
func changelogOffences(sources []source) []string {
	for _, s := range sources {
		if s.name != "CHANGELOG.md" {
			continue
		}
		sections := strings.Split("\n"+string(s.data), "\n## ")
		if len(sections) < 2 || strings.TrimSpace(strings.SplitN(sections[1], "\n", 2)[0]) != "Unreleased" {
			return []string{"CHANGELOG.md: the first section is not \"## Unreleased\""}
		}
		return nil
	}
	return []string{"CHANGELOG.md: there is none"}
}

func TestChangelogCollects(t *testing.T) {
	report(t, changelogOffences(repository(t)), "begin CHANGELOG.md with a section \"## Unreleased\"; keep it, empty, after a release.")
}

func TestChangelogRuleCanFail(t *testing.T) {
	tryRule(t, changelogOffences, []sample{
		{"missing", "README.md", "", "there is none"},
		{"no section", "CHANGELOG.md", "# Changes\n", "first section"},
		{"released only", "CHANGELOG.md", "# Changes\n\n## 1.0.0\n\n## Unreleased\n", "first section"},
		{"deeper heading", "CHANGELOG.md", "# Changes\n\n### Unreleased\n", "first section"},
		{"good", "CHANGELOG.md", "# Changes\n\n## Unreleased\n\n- New.\n", ""},
	})
}
