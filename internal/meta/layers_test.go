package meta

import (
	"fmt"
	"path"
	"strconv"
	"strings"
	"testing"
)

// floor is one layer of the house. Imports go to the same floor or down.
type floor struct {
	rank     int
	name     string
	packages []string // a package and all below it
}

const scienceRank = 0

// house is the layer table; ARCHITECTURE.md draws it.
var house = []floor{
	{scienceRank, "sciences", []string{
		"fault", "estimate", "eye", "acuity", "oct", "tamponade", "fluidics", "light", "colour",
		"stain", "retina", "evidence", "stats", "decide", "table",
	}},
	{1, "standing texts", []string{"internal/caution", "."}},
	{1, "record and work", []string{
		"internal/record", "internal/store", "internal/vault", "internal/work",
		"internal/follow", "internal/planning", "internal/series", "internal/account", "internal/backup", "internal/pgtest", "internal/expect",
	}},
	{2, "doors", []string{
		"internal/web", "internal/exchange", "internal/film", "internal/paper", "internal/figure",
		"internal/demo", "internal/report", "internal/bench", "internal/intake",
	}},
	{3, "commands", []string{"cmd", "internal/pathrace"}},
	{4, "repository rules", []string{"internal/meta"}},
}

// floorOf finds the floor of a package by its folder from the root.
func floorOf(folder string) (floor, bool) {
	for _, f := range house {
		for _, p := range f.packages {
			if folder == p || strings.HasPrefix(folder, p+"/") {
				return f, true
			}
		}
	}
	return floor{}, false
}

// notForSciences are standard packages that touch the machine: files,
// processes, network, database, log, memory behind the type system. The tests
// of a science may use them.
var notForSciences = []string{
	"C", "crypto/rand", "database/sql", "expvar", "io/fs", "io/ioutil", "log", "net", "os",
	"path/filepath", "plugin", "runtime/debug", "runtime/pprof", "syscall", "testing", "unsafe",
}

// importOffences holds for files that are not tests: a test may read its
// samples with whatever reader there is.
func importOffences(sources []source) []string {
	var offences []string
	for _, f := range parsed(sources) {
		if f.isTest() || strings.HasPrefix(f.name, "tools/") {
			continue
		}
		own, known := floorOf(f.folder())
		if !known {
			offences = append(offences, fmt.Sprintf("%s:1: package %s has no floor in the layer table", f.name, f.folder()))
			continue
		}
		for _, spec := range f.tree.Imports {
			target, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				continue
			}
			if why := refused(own, target); why != "" {
				offences = append(offences, fmt.Sprintf("%s: imports %q: %s", f.line(spec.Pos()), target, why))
			}
		}
	}
	return offences
}

// refused says why a package on a floor must not import target, or nothing.
func refused(own floor, target string) string {
	if inner, ours := strings.CutPrefix(target, modulePath+"/"); ours {
		other, known := floorOf(inner)
		switch {
		case !known:
			return "it has no floor in the layer table"
		case other.rank > own.rank:
			return fmt.Sprintf("the %s stand below the %s", own.name, other.name)
		}
		return ""
	}
	if own.rank != scienceRank {
		return ""
	}
	for _, p := range notForSciences {
		if target == p || strings.HasPrefix(target, p+"/") {
			return "a science touches neither files nor network, clock, log or memory; hand the data in"
		}
	}
	standard := !strings.Contains(strings.SplitN(target, "/", 2)[0], ".")
	if !standard && target != "gonum.org/v1/gonum" && !strings.HasPrefix(target, "gonum.org/v1/gonum/") {
		return "a science stands on the standard library, gonum and the other sciences only"
	}
	return ""
}

func TestImportsGoDownOnly(t *testing.T) {
	report(t, importOffences(repository(t)),
		"move the code to the floor it belongs to, hand the data in as an argument, or declare a small interface "+
			"where it is needed; a new package is added to the table `house` in internal/meta/layers_test.go and to ARCHITECTURE.md.")
}

func TestImportRuleCanFail(t *testing.T) {
	file := func(target string) string { return "package p\n\nimport _ \"" + target + "\"\n" }
	tryRule(t, importOffences, []sample{
		{"science reads a file", "oct/hole/a.go", file("os"), "oct/hole/a.go:3: imports \"os\""},
		{"science below os", "eye/a.go", file("os/exec"), "neither files"},
		{"science on the network", "light/a.go", file("net/http"), "neither files"},
		{"science on a database", "stats/a.go", file("database/sql"), "neither files"},
		{"science logs", "stats/a.go", file("log/slog"), "neither files"},
		{"science takes a stranger", "stats/a.go", file("example.org/stranger"), "standard library, gonum"},
		{"science climbs to the doors", "oct/a.go", file("limitans/internal/figure"), "the sciences stand below the doors"},
		{"record climbs", "internal/record/a.go", file("limitans/internal/web"), "stand below the doors"},
		{"door climbs", "internal/web/a.go", file("limitans/cmd/limitans"), "stand below the commands"},
		{"package without a floor", "misc/a.go", file("fmt"), "misc has no floor"},
		{"import without a floor", "cmd/limitans/a.go", file("limitans/misc"), "no floor"},
		{"name that only begins alike", "octave/a.go", file("fmt"), "octave has no floor"},
		{"science on science", "oct/hole/a.go", file("limitans/estimate"), ""},
		{"science on gonum", "oct/hole/a.go", file("gonum.org/v1/gonum/stat"), ""},
		{"science on the standard library", "oct/hole/a.go", file("math/rand/v2"), ""},
		{"test of a science", "oct/hole/a_test.go", file("os"), ""},
		{"door on record", "internal/web/a.go", file("limitans/internal/record"), ""},
		{"command on door", "cmd/limitans/a.go", file("limitans/internal/report"), ""},
	})
}

// pictureOffences wants every package in ARCHITECTURE.md, written with its
// folder and a closing slash.
func pictureOffences(sources []source) []string {
	var picture string
	for _, s := range sources {
		if s.name == "ARCHITECTURE.md" {
			picture = string(s.data)
		}
	}
	missing := map[string]bool{}
	for _, f := range parsed(sources) {
		if !f.isTest() && !strings.Contains(picture, " "+f.folder()+"/ ") && !strings.Contains(picture, "\n"+f.folder()+"/ ") {
			missing[f.folder()] = true
		}
	}
	var offences []string
	for folder := range missing {
		offences = append(offences, "ARCHITECTURE.md:1: "+folder+"/ is not in the picture")
	}
	return offences
}

func TestEveryPackageIsInThePicture(t *testing.T) {
	report(t, pictureOffences(repository(t)), "add the package, with its folder and a closing slash, to the picture in ARCHITECTURE.md.")
}

func TestPictureRuleCanFail(t *testing.T) {
	tryRule(t, pictureOffences, []sample{
		{"no picture", "oct/a.go", "package oct\n", "oct/ is not in the picture"},
		{"tests alone", "oct/a_test.go", "package oct\n", ""},
	})
	drawn := source{"ARCHITECTURE.md", []byte("```\ncmd/limitans/ the commands\n  oct/hole/ the hole\n```\n")}
	for folder, want := range map[string]int{"oct/hole": 0, "cmd/limitans": 0, "hole": 1, "oct": 1} {
		if got := pictureOffences([]source{drawn, {folder + "/a.go", []byte("package p\n")}}); len(got) != want {
			t.Errorf("%s: %q", folder, got)
		}
	}
}

// TestEveryFloorIsReachable guards the table itself against a package entered
// twice: the first entry would silently win.
func TestEveryFloorIsReachable(t *testing.T) {
	for _, f := range house {
		for _, p := range f.packages {
			if got, _ := floorOf(p); got.name != f.name {
				t.Errorf("%s stands in %q and in %q", p, got.name, f.name)
			}
			if path.Clean(p) != p {
				t.Errorf("%s is not a clean path", p)
			}
		}
	}
}
