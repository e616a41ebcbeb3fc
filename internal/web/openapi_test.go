package web

import (
	"encoding/json"
	"flag"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the comments of the types of the API anew")

// apiWordsPath is where TestAPIWords keeps comments.
const apiWordsPath = "apiwords.json"

// TestAPIWords reads the comments of every type that the API gives or takes and
// compares them with the file that is part of the program.
func TestAPIWords(t *testing.T) {
	d, err := newDescriber()
	must(t, err)
	for _, e := range new(Server).endpoints() {
		d.of(e.gives)
		if e.takes != nil {
			d.of(e.takes)
		}
	}
	d.of(reflect.TypeFor[apiFailure]())
	packages := map[string]bool{}
	for one := range d.names {
		addPackages(one, packages)
	}
	for one := range d.texts {
		addPackages(one, packages)
	}
	found := map[string]string{}
	for folder := range packages {
		comments(t, folder, d, found)
	}
	if len(found) < 100 {
		t.Fatalf("only %d comments", len(found))
	}
	wanted, err := json.MarshalIndent(found, "", "  ")
	must(t, err)
	wanted = append(wanted, '\n')
	if *update {
		must(t, os.WriteFile(apiWordsPath, wanted, 0o644))
		return
	}
	if string(wanted) != string(apiWordsFile) {
		t.Errorf("%s is not what the comments say: go test ./internal/web -run TestAPIWords -update", apiWordsPath)
	}
}

// addPackages collects the packages of a struct and of those embedded in it.
func addPackages(t reflect.Type, into map[string]bool) {
	into[strings.TrimPrefix(t.PkgPath(), "limitans/")] = true
	if t.Kind() != reflect.Struct {
		return
	}
	for i := range t.NumField() {
		if f := t.Field(i); f.Anonymous && f.Type.Kind() == reflect.Struct {
			addPackages(f.Type, into)
		}
	}
}

// comments reads those of a package's structs.
func comments(t *testing.T, folder string, d *describer, into map[string]string) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join("..", "..", filepath.FromSlash(folder), "*.go"))
	must(t, err)
	wanted := map[string]bool{}
	var add func(reflect.Type)
	add = func(one reflect.Type) {
		wanted[typeKey(one)] = true
		for i := range one.NumField() {
			if f := one.Field(i); f.Anonymous && f.Type.Kind() == reflect.Struct {
				add(f.Type)
			}
		}
	}
	for one := range d.names {
		add(one)
	}
	for one := range d.texts {
		wanted[typeKey(one)] = true
	}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ParseComments)
		must(t, err)
		for _, declaration := range file.Decls {
			general, is := declaration.(*ast.GenDecl)
			if !is || general.Tok != token.TYPE {
				continue
			}
			for _, spec := range general.Specs {
				one := spec.(*ast.TypeSpec)
				key := folder + "." + one.Name.Name
				if !wanted[key] {
					continue
				}
				about := one.Doc
				if about == nil {
					about = general.Doc
				}
				put(into, key, about, nil)
				fields, is := one.Type.(*ast.StructType)
				if !is {
					continue
				}
				for _, field := range fields.Fields.List {
					for _, n := range field.Names {
						put(into, key+"."+n.Name, field.Doc, field.Comment)
					}
				}
			}
		}
	}
}

// docLink is a link of a comment of the code.
var docLink = regexp.MustCompile(`\[([\w.*]+)\]`)

func put(into map[string]string, key string, above, behind *ast.CommentGroup) {
	text := ""
	for _, group := range []*ast.CommentGroup{above, behind} {
		if words := strings.Join(strings.Fields(group.Text()), " "); words != "" {
			text = strings.TrimSpace(text + " " + words)
		}
	}
	if text != "" {
		into[key] = docLink.ReplaceAllString(text, "$1")
	}
}

// TestEveryKeyIsDescribed: a type or key without a word is found.
func TestEveryKeyIsDescribed(t *testing.T) {
	_, bare, err := openAPI(new(Server).endpoints(), "test")
	must(t, err)
	for _, key := range bare {
		t.Errorf("%s says nothing of what it means: a comment at the field, or a line in commonKeys", key)
	}
}
