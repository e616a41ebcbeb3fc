package meta

import (
	"fmt"
	"go/ast"
	"go/token"
	"path"
	"strings"
	"testing"
	"unicode"
)

// leastPackageLines is how long a package comment is at least; one line cannot
// hold method, range of validity and source.
const leastPackageLines = 3

// packageOffences wants a doc.go with a package comment in every package.
func packageOffences(sources []source) []string {
	comments := map[string]string{} // folder to the comment of its doc.go
	first := map[string]string{}
	var offences []string
	for _, f := range parsed(sources) {
		if f.isTest() {
			continue
		}
		if _, seen := first[f.folder()]; !seen {
			first[f.folder()] = f.name
		}
		text := strings.TrimSpace(f.tree.Doc.Text())
		if path.Base(f.name) == "doc.go" {
			comments[f.folder()] = text
		} else if text != "" {
			offences = append(offences, f.name+":1: package comment outside doc.go")
		}
	}
	for folder, name := range first {
		text, found := comments[folder]
		switch {
		case !found:
			offences = append(offences, name+":1: package "+folder+" has no doc.go")
		case strings.Count(text, "\n")+1 < leastPackageLines:
			offences = append(offences, fmt.Sprintf("%s/doc.go:1: package comment shorter than %d lines", folder, leastPackageLines))
		}
	}
	return offences
}

func TestEveryPackageTellsItsMethod(t *testing.T) {
	report(t, packageOffences(repository(t)),
		"give the package a doc.go that says what it computes, by which method, in which range of validity, from which sources.")
}

func TestPackageRuleCanFail(t *testing.T) {
	tryRule(t, packageOffences, []sample{
		{"no doc.go", "oct/a.go", "package oct\n", "package oct has no doc.go"},
		{"comment elsewhere", "oct/doc.go", "// Package oct\n// is\n// long enough.\npackage oct\n", ""},
		{"too short", "oct/doc.go", "// Package oct is short.\npackage oct\n", "shorter than 3"},
		{"empty", "oct/doc.go", "package oct\n", "shorter than 3"},
		{"tests alone need none", "oct/a_test.go", "package oct\n", ""},
	})
	got := packageOffences([]source{
		{"oct/doc.go", []byte("// Package oct\n// is\n// here.\npackage oct\n")},
		{"oct/a.go", []byte("// Package oct again.\npackage oct\n")},
	})
	if len(got) != 1 || !strings.HasPrefix(got[0], "oct/a.go:1: package comment outside") {
		t.Errorf("a second package comment: %q", got)
	}
}

// commentOffences wants a comment at every exported identifier of files that
// are not tests. Functions, methods, types and single constants or variables
// begin with their name (an article may stand before it); in a group each
// member, or the group, has a comment.
func commentOffences(sources []source) []string {
	var offences []string
	for _, f := range parsed(sources) {
		if f.isTest() || strings.HasPrefix(f.name, "tools/") {
			continue
		}
		add := func(at token.Pos, name, what string) {
			offences = append(offences, fmt.Sprintf("%s: %s: %s", f.line(at), name, what))
		}
		for _, decl := range f.tree.Decls {
			switch d := decl.(type) {
			case *ast.FuncDecl:
				name, exported := functionName(d)
				if exported {
					checkNamed(add, d.Pos(), d.Doc, name, d.Name.Name)
				}
			case *ast.GenDecl:
				checkGroup(add, d)
			}
		}
	}
	return offences
}

// functionName gives "Type.Method" or "Function", and whether both parts are
// exported.
func functionName(d *ast.FuncDecl) (string, bool) {
	name, exported := d.Name.Name, d.Name.IsExported()
	if d.Recv == nil || len(d.Recv.List) == 0 {
		return name, exported
	}
	receiver := d.Recv.List[0].Type
	for {
		switch r := receiver.(type) {
		case *ast.StarExpr:
			receiver = r.X
		case *ast.IndexExpr:
			receiver = r.X
		case *ast.IndexListExpr:
			receiver = r.X
		case *ast.ParenExpr:
			receiver = r.X
		case *ast.Ident:
			return r.Name + "." + name, exported && r.IsExported()
		default:
			return name, exported
		}
	}
}

type adder func(at token.Pos, name, what string)

func checkNamed(add adder, at token.Pos, doc *ast.CommentGroup, name, begin string) {
	text := strings.TrimSpace(doc.Text())
	if text == "" {
		add(at, name, "exported without a comment")
		return
	}
	if !beginsWith(text, begin) {
		add(at, name, fmt.Sprintf("its comment begins %q instead of %q", firstWords(text), begin))
	}
}

func checkGroup(add adder, d *ast.GenDecl) {
	grouped := d.Lparen.IsValid()
	neighbours := neighbourComments(d)
	for _, spec := range d.Specs {
		switch s := spec.(type) {
		case *ast.TypeSpec:
			if s.Name.IsExported() {
				doc := s.Doc
				if doc == nil && !grouped {
					doc = d.Doc
				}
				checkNamed(add, s.Pos(), doc, s.Name.Name, s.Name.Name)
				checkInterface(add, s)
			}
		case *ast.ValueSpec:
			for _, name := range s.Names {
				if !name.IsExported() {
					continue
				}
				if grouped || len(s.Names) > 1 {
					if empty(d.Doc) && empty(s.Doc) && empty(s.Comment) && !neighbours[name.Name] {
						add(name.Pos(), name.Name, "exported without a comment of its own or of its group")
					}
				} else {
					checkNamed(add, name.Pos(), d.Doc, name.Name, name.Name)
				}
			}
		}
	}
}

// neighbourComments collects the words of all members' comments of a group: a
// comment "MinX and MaxX bound …" stands for both.
func neighbourComments(d *ast.GenDecl) map[string]bool {
	words := map[string]bool{}
	for _, spec := range d.Specs {
		if s, is := spec.(*ast.ValueSpec); is {
			for _, word := range strings.FieldsFunc(s.Doc.Text(), func(r rune) bool {
				return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '_'
			}) {
				words[word] = true
			}
		}
	}
	return words
}

// checkInterface wants a comment at each method: it is the contract.
func checkInterface(add adder, s *ast.TypeSpec) {
	contract, is := s.Type.(*ast.InterfaceType)
	if !is {
		return
	}
	for _, m := range contract.Methods.List {
		for _, name := range m.Names {
			if name.IsExported() && empty(m.Doc) && empty(m.Comment) {
				add(name.Pos(), s.Name.Name+"."+name.Name, "interface method without a comment")
			}
		}
	}
}

func empty(c *ast.CommentGroup) bool { return strings.TrimSpace(c.Text()) == "" }

// beginsWith says whether text's first word, after an article, is name.
func beginsWith(text, name string) bool {
	for _, article := range []string{"", "A ", "An ", "The "} {
		rest, found := strings.CutPrefix(text, article+name)
		if !found {
			continue
		}
		next := []rune(rest + " ")[0]
		if !unicode.IsLetter(next) && !unicode.IsDigit(next) && next != '_' {
			return true
		}
	}
	return false
}

func firstWords(text string) string {
	words := strings.Fields(text)
	return strings.Join(words[:min(3, len(words))], " ")
}

func TestEveryExportedIdentifierIsExplained(t *testing.T) {
	report(t, commentOffences(repository(t)),
		"begin the comment with the identifier's name and say the rule or equation, units, valid range, errors and source.")
}

func TestCommentRuleCanFail(t *testing.T) {
	tryRule(t, commentOffences, []sample{
		{"function", "oct/a.go", "package p\n\nfunc F() {}\n", "oct/a.go:3: F: exported without"},
		{"function, wrong word", "oct/a.go", "package p\n\n// Does it.\nfunc F() {}\n", `begins "Does it." instead of "F"`},
		{"function, longer name", "oct/a.go", "package p\n\n// Fast is F.\nfunc F() {}\n", `instead of "F"`},
		{"method", "oct/a.go", "package p\n\n// T is.\ntype T int\n\nfunc (t *T) M() {}\n", "T.M: exported without"},
		{"generic method", "oct/a.go", "package p\n\n// T is.\ntype T[E any] int\n\nfunc (t *T[E]) M() {}\n", "T.M: exported without"},
		{"type", "oct/a.go", "package p\n\ntype T int\n", "T: exported without"},
		{"type in a group", "oct/a.go", "package p\n\n// These are.\ntype (\n\tT int\n)\n", "T: exported without"},
		{"constant", "oct/a.go", "package p\n\nconst C = 1\n", "C: exported without"},
		{"member of a bare group", "oct/a.go", "package p\n\nvar (\n\tA int // fine\n\tB int\n)\n", "B: exported without"},
		{"member a neighbour does not name", "oct/a.go", "package p\n\nvar (\n\t// A is it.\n\tA int\n\tB int\n)\n", "B: exported without"},
		{"interface method", "oct/a.go", "package p\n\n// I is.\ntype I interface {\n\tM()\n}\n", "I.M: interface method"},
		{"article", "oct/a.go", "package p\n\n// A T is.\ntype T int\n", ""},
		{"colon", "oct/a.go", "package p\n\n// C: one.\nconst C = 1\n", ""},
		{"group comment", "oct/a.go", "package p\n\n// The two.\nconst (\n\tA = 1\n\tB = 2\n)\n", ""},
		{"neighbour's comment", "oct/a.go", "package p\n\nvar (\n\t// A and B are it.\n\tA int\n\tB int\n)\n", ""},
		{"method of a hidden type", "oct/a.go", "package p\n\ntype t int\n\nfunc (t) M() {}\n", ""},
		{"test file", "oct/a_test.go", "package p\n\nfunc F() {}\n", ""},
	})
}
