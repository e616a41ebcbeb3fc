package web

import (
	"embed"
	"encoding/json"
	"io/fs"
	"net/http"
	"path"
	"strings"

	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/message/catalog"

	"limitans/fault"
)

// Texts of pages are written in English in the templates, {{t "Who is due"}}, and
// looked up by these words. languages/XX.json is one object from English words to
// those of language XX; what it lacks stays English. A text with a number is
// {{t "%d eyes" .N}}.

// tongue is one language that pages can be in.
type tongue struct {
	Tag     string // BCP 47
	printer *message.Printer
}

// t looks up English words and puts values into them.
func (l *tongue) t(words string, values ...any) string {
	if len(values) == 0 && strings.Contains(words, "%") { // words that fill nothing in hold no verbs
		return l.printer.Sprintf(message.Key(words, strings.ReplaceAll(words, "%", "%%")))
	}
	return l.printer.Sprintf(message.Key(words, words), values...)
}

//go:embed languages
var languageFiles embed.FS

// tongues are the languages there are; English is the first.
var tongues, tongueMatcher = loadTongues(languageFiles)

// loadTongues reads the language files; a file that cannot be read is a defect
// that TestLanguages finds.
func loadTongues(files fs.FS) ([]*tongue, language.Matcher) {
	words := catalog.NewBuilder(catalog.Fallback(language.English))
	tags := []language.Tag{language.English}
	names, _ := fs.Glob(files, "languages/*.json")
	for _, name := range names {
		if tag, err := addLanguage(words, files, name); err == nil {
			tags = append(tags, tag)
		}
	}
	out := make([]*tongue, len(tags))
	for i, tag := range tags {
		out[i] = &tongue{tag.String(), message.NewPrinter(tag, message.Catalog(words))}
	}
	return out, language.NewMatcher(tags)
}

func addLanguage(words *catalog.Builder, files fs.FS, name string) (language.Tag, error) {
	broken := func(err error) error {
		return &fault.Error{Code: fault.Malformed, Where: name, What: "is no language file", Expected: "one JSON object of texts, named by a language tag", Cause: err}
	}
	tag, err := language.Parse(strings.TrimSuffix(path.Base(name), ".json"))
	if err != nil {
		return tag, broken(err)
	}
	data, err := fs.ReadFile(files, name)
	if err != nil {
		return tag, broken(err)
	}
	var texts map[string]string
	if err := json.Unmarshal(data, &texts); err != nil {
		return tag, broken(err)
	}
	for english, text := range texts {
		if err := words.SetString(tag, english, text); err != nil {
			return tag, broken(err)
		}
	}
	return tag, nil
}

// languageOf is the language the browser asks for, or English.
func languageOf(r *http.Request) *tongue {
	asked, _, err := language.ParseAcceptLanguage(r.Header.Get("Accept-Language"))
	if err != nil || len(asked) == 0 {
		return tongues[0]
	}
	_, at, _ := tongueMatcher.Match(asked...)
	return tongues[at]
}
