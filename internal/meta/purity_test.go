package meta

import (
	"fmt"
	"go/ast"
	"strings"
	"testing"
)

// clockCalls are the names of package time that depend on the machine.
var clockCalls = map[string]bool{
	"Now": true, "Since": true, "Until": true, "Sleep": true, "After": true, "AfterFunc": true,
	"Tick": true, "NewTimer": true, "NewTicker": true, "Local": true, "LoadLocation": true,
}

// seededRandom are the names of math/rand and math/rand/v2 that do not draw
// from the global source.
var seededRandom = map[string]bool{
	"New": true, "NewSource": true, "NewPCG": true, "NewChaCha8": true, "NewZipf": true,
	"Rand": true, "Source": true, "Source64": true, "PCG": true, "ChaCha8": true, "Zipf": true,
}

// impure says why a science must not use this name of this package.
func impure(target, name string) string {
	switch target {
	case "time":
		if clockCalls[name] {
			return "time comes in as an argument"
		}
	case "math/rand", "math/rand/v2":
		if !seededRandom[name] {
			return "draws from the global source; take a seed or a *rand.Rand"
		}
	case "fmt":
		if strings.HasPrefix(name, "Print") || strings.HasPrefix(name, "Scan") {
			return "a science prints and reads nothing; return the value"
		}
	}
	return ""
}

// purityOffences holds for the sciences' files that are not tests.
func purityOffences(sources []source) []string {
	var offences []string
	for _, f := range parsed(sources) {
		own, known := floorOf(f.folder())
		if f.isTest() || !known || own.rank != scienceRank {
			continue
		}
		imports := f.imports()
		if dotted, is := imports["."]; is {
			offences = append(offences, fmt.Sprintf("%s:1: imports %q without its name, so its calls cannot be told", f.name, dotted))
		}
		ast.Inspect(f.tree, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.SelectorExpr:
				pkg, is := n.X.(*ast.Ident)
				if !is {
					return true
				}
				if why := impure(imports[pkg.Name], n.Sel.Name); why != "" {
					offences = append(offences, fmt.Sprintf("%s: %s.%s: %s", f.line(n.Pos()), pkg.Name, n.Sel.Name, why))
				}
			case *ast.CallExpr:
				if fn, is := n.Fun.(*ast.Ident); is && (fn.Name == "print" || fn.Name == "println") {
					offences = append(offences, fmt.Sprintf("%s: %s: a science prints nothing", f.line(n.Pos()), fn.Name))
				}
			}
			return true
		})
	}
	return offences
}

func TestSciencesUseNoClockNoGlobalRandomnessNoOutput(t *testing.T) {
	report(t, purityOffences(repository(t)),
		"take the time, the seed or the writer as an argument; a local variable named like the package is renamed.")
}

func TestPurityRuleCanFail(t *testing.T) {
	file := func(imported, body string) string {
		return "package p\n\nimport " + imported + "\n\nfunc f() { " + body + " }\n"
	}
	tryRule(t, purityOffences, []sample{
		{"clock", "oct/a.go", file(`"time"`, "_ = time.Now()"), "oct/a.go:5: time.Now"},
		{"clock under another name", "oct/a.go", file(`clock "time"`, "_ = clock.Since"), "clock.Since"},
		{"sleep", "decide/a.go", file(`"time"`, "time.Sleep(1)"), "time.Sleep"},
		{"timer", "decide/a.go", file(`"time"`, "<-time.After(1)"), "time.After"},
		{"this machine's zone", "decide/a.go", file(`"time"`, "_ = time.Local"), "time.Local"},
		{"global random", "stats/a.go", file(`"math/rand/v2"`, "_ = rand.Float64()"), "rand.Float64"},
		{"global random, old package", "stats/a.go", file(`"math/rand"`, "rand.Shuffle(1, nil)"), "rand.Shuffle"},
		{"prints", "stats/a.go", file(`"fmt"`, "fmt.Println()"), "fmt.Println"},
		{"builtin print", "stats/a.go", file(`_ "fmt"`, "println()"), "println"},
		{"dot import", "stats/a.go", file(`. "time"`, "_ = Now()"), "without its name"},
		{"seeded random", "stats/a.go", file(`"math/rand/v2"`, "_ = rand.New(rand.NewPCG(1, 2))"), ""},
		{"durations", "stats/a.go", file(`"time"`, "_ = time.Hour"), ""},
		{"formatting", "stats/a.go", file(`"fmt"`, "_ = fmt.Sprintf"), ""},
		{"a door has a clock", "internal/web/a.go", file(`"time"`, "_ = time.Now()"), ""},
		{"a test has a clock", "oct/a_test.go", file(`"time"`, "_ = time.Now()"), ""},
	})
}
