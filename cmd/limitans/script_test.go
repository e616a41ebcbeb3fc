package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"limitans/internal/caution"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"limitans": main})
}

// TestScripts runs what users type, testdata/script/*.txtar, against the real
// command. Besides the words of testscript there are
//
//	code N limitans …   the exit code is exactly N
//	refused TEXT        one line on stderr with TEXT in it, nothing on stdout
//	cautions            every standing caution stands on stdout, however wrapped
//	damage FOLDER       one bit of each file in the folders of FOLDER is flipped
//	[oracle:NAME]       an outside program is there; missing is a failure where
//	                    LIMITANS_ORACLES=required
func TestScripts(t *testing.T) {
	scripts, err := filepath.Glob("testdata/script/*.txtar")
	if err != nil || len(scripts) < 8 {
		t.Fatalf("%d scripts, %v", len(scripts), err)
	}
	data, err := filepath.Abs("../../testdata")
	if err != nil {
		t.Fatal(err)
	}
	oracles := os.Getenv("LIMITANS_ORACLES")
	testscript.Run(t, testscript.Params{
		Files:              scripts,
		RequireUniqueNames: true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("DATA", data)
			e.Setenv("VOLUME", filepath.Join(data, "macular-hole-volume", "macular-hole-volume.tif"))
			return nil
		},
		Condition: func(condition string) (bool, error) { return haveOracle(condition, oracles) },
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"code": scriptCode, "refused": scriptRefused, "cautions": scriptCautions, "objectsays": scriptObject,
			"intruth": scriptInTruth, "empty": scriptEmpty, "damage": scriptDamage,
		},
	})
}

// haveOracle answers [oracle:NAME].
func haveOracle(condition, oracles string) (bool, error) {
	name, is := strings.CutPrefix(condition, "oracle:")
	if !is {
		return false, fmt.Errorf("no condition %q", condition)
	}
	if _, err := exec.LookPath(name); err == nil {
		return true, nil
	}
	if oracles == "required" {
		return false, fmt.Errorf("%s is not installed", name)
	}
	return false, nil
}

func TestMissingOracleFailsWhereRequired(t *testing.T) {
	if have, err := haveOracle("oracle:no-such-program", ""); have || err != nil {
		t.Errorf("%v, %v", have, err)
	}
	if _, err := haveOracle("oracle:no-such-program", "required"); err == nil {
		t.Error("a missing oracle passed")
	}
}

func scriptCode(ts *testscript.TestScript, negated bool, arguments []string) {
	if negated || len(arguments) < 2 {
		ts.Fatalf("usage: code N command …")
	}
	err := ts.Exec(arguments[1], arguments[2:]...)
	code := 0
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		code = exit.ExitCode()
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if fmt.Sprint(code) != arguments[0] {
		ts.Fatalf("exit code %d, want %s", code, arguments[0])
	}
}

// progressLine is what a log gets while work lasts longer than a second, which
// on a busy machine any work may do.
var progressLine = regexp.MustCompile(`(?m)^[a-z ]+: \d+ %\n`)

func scriptRefused(ts *testscript.TestScript, negated bool, arguments []string) {
	if negated || len(arguments) != 1 {
		ts.Fatalf("usage: refused TEXT")
	}
	if s := ts.ReadFile("stdout"); s != "" {
		ts.Fatalf("stdout is not empty: %q", s)
	}
	said := progressLine.ReplaceAllString(ts.ReadFile("stderr"), "")
	if why := notOneLine(said); why != "" {
		ts.Fatalf("%s", why)
	}
	if !strings.Contains(said, arguments[0]) {
		ts.Fatalf("%q is not in %q", arguments[0], said)
	}
}

// notOneLine says what keeps a text from being one clear line about a fault.
func notOneLine(text string) string {
	line, ended := strings.CutSuffix(text, "\n")
	switch {
	case !ended || strings.Contains(line, "\n"):
		return fmt.Sprintf("not exactly one line: %q", text)
	case !strings.HasPrefix(line, "limitans: ") || len(line) < len("limitans: ")+10:
		return fmt.Sprintf("does not say who speaks and what is wrong: %q", line)
	case len(line) > 700 || strings.ContainsFunc(line, func(r rune) bool { return r < ' ' || r == 0x7f || r == 0xfffd }):
		return fmt.Sprintf("not readable: %q", line)
	case strings.Contains(line, "goroutine") || strings.Contains(line, "runtime error") || strings.Contains(line, "%!"):
		return fmt.Sprintf("not for people: %q", line)
	}
	return ""
}

func scriptCautions(ts *testscript.TestScript, negated bool, _ []string) {
	said := strings.Join(strings.Fields(ts.ReadFile("stdout")), " ")
	for _, c := range caution.Full() {
		if strings.Contains(said, c) == negated {
			ts.Fatalf("caution %q: found is %v", c, !negated)
		}
	}
}

// scriptEmpty wants folders without anything in them, hidden files included.
func scriptEmpty(ts *testscript.TestScript, negated bool, arguments []string) {
	for _, folder := range arguments {
		entries, err := os.ReadDir(ts.MkAbs(folder))
		ts.Check(err)
		if (len(entries) == 0) == negated {
			ts.Fatalf("%s holds %v", folder, entries)
		}
	}
}
