package meta

import (
	"bytes"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// modulePath is the import path of the main module.
const modulePath = "limitans"

// source is one file of the repository; name is slash-separated and counted
// from the root.
type source struct {
	name string
	data []byte
}

// goFile is a parsed source.
type goFile struct {
	source
	tree *ast.File
	fset *token.FileSet
}

// line says where a node stands: "path:line".
func (f goFile) line(at token.Pos) string {
	return fmt.Sprintf("%s:%d", f.name, f.fset.Position(at).Line)
}

func (f goFile) isTest() bool { return strings.HasSuffix(f.name, "_test.go") }

// folder is the package's place from the root.
func (f goFile) folder() string { return path.Dir(f.name) }

// root finds the repository above the folder in which go test runs.
func root(t *testing.T) string {
	t.Helper()
	dir, err := filepath.Abs(filepath.Join("..", ".."))
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(filepath.Join(dir, "go.mod"))
	if err != nil || !bytes.HasPrefix(data, []byte("module "+modulePath)) {
		t.Fatalf("%s is not the root of module %s (%v)", dir, modulePath, err)
	}
	return dir
}

// repository reads every file that is tracked or about to be. Without git (an
// unpacked archive) it reads the whole folder.
func repository(t *testing.T) []source {
	t.Helper()
	dir := root(t)
	names := listedByGit(dir)
	if names == nil {
		names = listedByWalk(t, dir)
	}
	var files []source
	for _, name := range names {
		info, err := os.Lstat(filepath.Join(dir, name))
		if err != nil || !info.Mode().IsRegular() {
			continue // removed in the work tree, or a link
		}
		data, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, source{filepath.ToSlash(name), data})
	}
	if len(files) < 10 {
		t.Fatalf("only %d files found under %s: the rules would hold for nothing", len(files), dir)
	}
	return files
}

func listedByGit(dir string) []string {
	list := exec.Command("git", "-C", dir, "ls-files", "-z", "--cached", "--others", "--exclude-standard")
	out, err := list.Output()
	if err != nil || len(out) == 0 {
		return nil
	}
	names := strings.Split(strings.TrimSuffix(string(out), "\x00"), "\x00")
	slices.Sort(names)
	return slices.Compact(names)
}

func listedByWalk(t *testing.T, dir string) []string {
	t.Helper()
	var names []string
	err := filepath.WalkDir(dir, func(at string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if entry.IsDir() && (entry.Name() == ".git" || entry.Name() == "out") {
			return filepath.SkipDir
		}
		if !entry.IsDir() {
			name, err := filepath.Rel(dir, at)
			if err != nil {
				return err
			}
			names = append(names, name)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return names
}

// parsed returns the Go files among sources; a file that does not parse is
// left to the compiler, whose message is better.
func parsed(sources []source) []goFile {
	var files []goFile
	for _, s := range sources {
		if !strings.HasSuffix(s.name, ".go") || strings.Contains("/"+s.name, "/testdata/") {
			continue
		}
		fset := token.NewFileSet()
		tree, err := parser.ParseFile(fset, s.name, s.data, parser.ParseComments)
		if err != nil {
			continue
		}
		files = append(files, goFile{s, tree, fset})
	}
	return files
}

// imports maps the name under which a file uses an import to its path. Unnamed
// imports go by the last element that is not a version, as the compiler's
// convention has it.
func (f goFile) imports() map[string]string {
	names := map[string]string{}
	for _, spec := range f.tree.Imports {
		target, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			continue
		}
		name := path.Base(target)
		if len(name) > 1 && name[0] == 'v' && strings.Trim(name[1:], "0123456789") == "" {
			name = path.Base(path.Dir(target))
		}
		if spec.Name != nil {
			name = spec.Name.Name
		}
		names[name] = target
	}
	return names
}

// report fails the test with one offence a line and the way to mend them.
func report(t *testing.T, offences []string, mend string) {
	t.Helper()
	if len(offences) > 0 {
		slices.Sort(offences)
		t.Errorf("%d offences:\n%s\nTo mend: %s", len(offences), strings.Join(offences, "\n"), mend)
	}
}

// sample is one bad or good piece for the test of a rule.
type sample struct {
	name string // of the case
	file string // its place in the repository
	text string
	want string // part of the one offence; empty for none
}

// tryRule runs a rule over each sample alone and expects exactly the offence
// the sample was made for.
func tryRule(t *testing.T, rule func([]source) []string, samples []sample) {
	t.Helper()
	if len(samples) == 0 {
		t.Fatal("a rule without a bad sample")
	}
	bad := 0
	for _, s := range samples {
		got := rule([]source{{s.file, []byte(s.text)}})
		switch {
		case s.want == "" && len(got) > 0:
			t.Errorf("%s: should pass, got %q", s.name, got)
		case s.want != "" && (len(got) != 1 || !strings.Contains(got[0], s.want)):
			t.Errorf("%s: want one offence with %q, got %q", s.name, s.want, got)
		}
		if s.want != "" {
			bad++
		}
	}
	if bad == 0 {
		t.Error("no sample breaks this rule")
	}
}

// exceptions is an allow-list: name to reason. It remembers what was used.
type exceptions struct {
	reasons map[string]string
	used    map[string]bool
}

func allow(reasons map[string]string) *exceptions {
	return &exceptions{reasons, map[string]bool{}}
}

// covers says whether name is excepted.
func (e *exceptions) covers(name string) bool {
	_, found := e.reasons[name]
	if found {
		e.used[name] = true
	}
	return found
}

// stale names the exceptions without reason and those nothing needed.
func (e *exceptions) stale() []string {
	var offences []string
	for name, reason := range e.reasons {
		if strings.TrimSpace(reason) == "" {
			offences = append(offences, name+": excepted without a reason")
		}
		if !e.used[name] {
			offences = append(offences, name+": excepted, but nothing needs the exception any more")
		}
	}
	return offences
}

func TestExceptionsNeedAReasonAndAUse(t *testing.T) {
	e := allow(map[string]string{"used": "because", "unused": "because", "bare": " "})
	if !e.covers("used") || !e.covers("bare") || e.covers("other") {
		t.Error("the allow-list covers the wrong names")
	}
	got := strings.Join(e.stale(), "\n")
	if strings.Count(got, "\n") != 1 || !strings.Contains(got, "unused: excepted, but") || !strings.Contains(got, "bare: excepted without") {
		t.Errorf("stale exceptions: %q", got)
	}
}

func TestTheRepositoryIsListedBothWays(t *testing.T) {
	dir := root(t)
	walked := listedByWalk(t, dir)
	for _, name := range []string{"go.mod", filepath.Join("internal", "meta", "doc.go")} {
		if !slices.Contains(walked, name) {
			t.Errorf("the walk misses %s", name)
		}
		if byGit := listedByGit(dir); byGit != nil && !slices.Contains(byGit, filepath.ToSlash(name)) {
			t.Errorf("git's list misses %s", name)
		}
	}
}
