package meta

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"testing"
)

// forbidden is one kind of text that no tracked file holds. The patterns are
// put together from pieces, so that this file does not match itself.
type forbidden struct {
	name    string
	pattern *regexp.Regexp
	why     string
	binary  bool // looked for in binary files too
}

// either is the alternation of words, each given in pieces.
func either(words ...[]string) string {
	whole := make([]string, len(words))
	for i, pieces := range words {
		whole[i] = regexp.QuoteMeta(strings.Join(pieces, ""))
	}
	return "(?:" + strings.Join(whole, "|") + ")"
}

// pieces spells a word in parts.
func pieces(parts ...string) []string { return parts }

var forbiddenTexts = []forbidden{
	{
		name: "machine path",
		pattern: regexp.MustCompile(`(?:^|[^A-Za-z0-9_.\-])/` +
			either(pieces("wo", "rk"), pieces("ro", "ot"), pieces("t", "mp")) + `(?:/|[^A-Za-z0-9_.\-/]|$)`),
		why:    "a folder of one machine; write a path from the repository's root, or ask for a scratch folder with mktemp or t.TempDir",
		binary: true,
	},
	{
		name:    "neighbour folder",
		pattern: regexp.MustCompile(either(pieces("../", "shared"), pieces("/.", "library/"))),
		why:     "a folder outside the repository; bring what is needed into it",
		binary:  true,
	},
	{
		name: "registry host",
		pattern: regexp.MustCompile(either(
			pieces("proxy.", "golang.org"), pieces("sum.", "golang.org"), pieces("index.", "golang.org"),
			pieces("registry.", "npmjs.org"), pieces("registry.", "yarnpkg.com"), pieces("deb.", "debian.org"),
			pieces("security.", "debian.org"), pieces("snapshot.", "debian.org"), pieces("pypi.", "org"),
			pieces("files.", "pythonhosted.org"), pieces("crates", ".io"), pieces("rubygems", ".org"),
			pieces("repo.", "maven.apache.org"))),
		why: "a package registry; the tools know where theirs is",
	},
	{
		name: "unfinished business",
		pattern: regexp.MustCompile(`\b` +
			either(pieces("TO", "DO"), pieces("FIX", "ME"), pieces("XX", "X"), pieces("HA", "CK")) + `\b`),
		why: "finish it, or open an issue and say in prose what the code does not do",
	},
	{
		name: "writing aid",
		pattern: regexp.MustCompile(`(?i)\b` +
			either(pieces("cla", "ude"), pieces("anthro", "pic"), pieces("chat", "gpt"), pieces("open", "ai"), pieces("co", "pilot")) + `\b`),
		why: "files speak of the subject, not of how they were written",
	},
}

// allowedTexts are the exceptions: "path: kind" to reason.
var allowedTexts = map[string]string{}

// textOffences looks at every file, line by line in texts.
func textOffences(allowed *exceptions) func([]source) []string {
	return func(sources []source) []string {
		var offences []string
		for _, s := range sources {
			isBinary := bytes.IndexByte(s.data[:min(len(s.data), 8000)], 0) >= 0
			for _, f := range forbiddenTexts {
				if isBinary && !f.binary {
					continue
				}
				for _, at := range f.pattern.FindAllIndex(s.data, -1) {
					if allowed.covers(s.name + ": " + f.name) {
						break
					}
					// A match may begin with the character before the text, which may be a line's end.
					found := bytes.TrimSpace(s.data[at[0]:at[1]])
					start := at[0] + bytes.Index(s.data[at[0]:at[1]], found)
					line := bytes.Count(s.data[:start], []byte("\n")) + 1
					offences = append(offences, fmt.Sprintf("%s:%d: %s %q: %s", s.name, line, f.name, found, f.why))
				}
			}
		}
		return offences
	}
}

func TestNoFileNamesAMachineARegistryOrUnfinishedBusiness(t *testing.T) {
	allowed := allow(allowedTexts)
	offences := textOffences(allowed)(repository(t))
	report(t, append(offences, allowed.stale()...),
		"reword, or enter \"path: kind\" in allowedTexts in internal/meta/words_test.go with the reason.")
}

func TestTextRuleCanFail(t *testing.T) {
	join := func(parts ...string) string { return strings.Join(parts, "") }
	tryRule(t, textOffences(allow(nil)), []sample{
		{"work folder", "README.md", join("one\nsee /wo", "rk/main\n"), "README.md:2: machine path"},
		{"work folder, begin of line", "README.md", join("one\n/wo", "rk/x\n"), "README.md:2: machine path"},
		{"work folder, end of line", "README.md", join("cd /wo", "rk\n"), "machine path"},
		{"root's home", "scripts/test", join("cp x '/ro", "ot/.config'"), "machine path"},
		{"scratch", "oct/a.go", join(`"/t`, `mp/x"`), "machine path"},
		{"inside an address", "README.md", join("file:///t", "mp/x"), "machine path"},
		{"inside a binary", "testdata/a.dcm", join("\x00\x01 /wo", "rk/made.by"), "machine path"},
		{"neighbour", "README.md", join("../sha", "red/design"), "neighbour"},
		{"Go registry", "CONTRIBUTING.md", join("https://proxy.", "golang.org/x"), "registry host"},
		{"Debian registry", "scripts/test", join("http://deb.", "debian.org"), "registry host"},
		{"note to self", "oct/a.go", join("// TO", "DO later"), "oct/a.go:1: unfinished"},
		{"second line", "oct/a.go", join("package a\n// FIX", "ME\n"), "oct/a.go:2: unfinished"},
		{"writing aid", "CHANGELOG.md", join("by Chat", "GPT"), "writing aid"},
		{"our own folder of that name", "ARCHITECTURE.md", join("internal/wo", "rk/ long jobs"), ""},
		{"part of a word", "README.md", "xylotodo and /workbench, /temporal, mktemp -d XXXXXX", ""},
		{"note in a binary", "testdata/a.png", join("\x00 TO", "DO "), ""},
	})
	excepted := allow(map[string]string{"go.sum: registry host": "written by the tool"})
	if got := textOffences(excepted)([]source{{"go.sum", []byte(join("sum.", "golang.org"))}}); len(got) > 0 || len(excepted.stale()) > 0 {
		t.Errorf("the exception does not hold: %q", got)
	}
}
