package paper

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/paper/typeset"
	"limitans/internal/record"
)

//go:embed words/en.json
var englishFile []byte

// Words are the texts that a patient reads, in one language. A translation is a
// file of the same form with every text of the English one; what is missing is a
// fault, because a hazard that is left out can blind.
type Words struct {
	Language  string            `json:"language"`  // BCP 47
	Name      string            `json:"name"`      // of the language, in itself
	Direction string            `json:"direction"` // ltr or rtl
	Date      string            `json:"date"`      // with {day}, {month} and {year}
	Months    []string          `json:"months"`    // January first
	Weekdays  []string          `json:"weekdays"`  // Sunday first
	Texts     map[string]string `json:"texts"`
}

var english = sync.OnceValues(func() (*Words, error) {
	w := &Words{}
	return w, json.Unmarshal(englishFile, w)
})

// English returns the English texts. They are shared and must not be changed.
func English() (*Words, error) {
	w, err := english()
	if err != nil {
		return nil, &fault.Error{Code: fault.Internal, Where: "words/en.json", What: err.Error(), Cause: err}
	}
	return w, nil
}

// maxWordsBytes is how large a file of words may be.
const maxWordsBytes = 1 << 20

// ParseWords reads a translation and holds it against the English texts: the
// same keys, the same values to be filled in, 12 months, 7 days, no empty text.
// Malformed says what is wrong.
func ParseWords(data []byte) (*Words, error) {
	bad := func(what string, values ...any) error {
		return &fault.Error{Code: fault.Malformed, Where: "words", What: fmt.Sprintf(what, values...), Expected: "a file of the form of the English texts"}
	}
	if len(data) > maxWordsBytes {
		return nil, &fault.Error{Code: fault.TooLarge, Where: "words", What: fmt.Sprintf("%d bytes", len(data)), Expected: fmt.Sprintf("at most %d", maxWordsBytes)}
	}
	original, err := English()
	if err != nil {
		return nil, err
	}
	w := &Words{}
	if err := json.Unmarshal(data, w); err != nil {
		return nil, bad("not JSON: %v", err)
	}
	switch {
	case w.Language == "" || w.Name == "":
		return nil, bad("the language is not named")
	case w.Direction != "ltr" && w.Direction != "rtl":
		return nil, bad("the direction is %q, not ltr or rtl", w.Direction)
	case len(w.Months) != 12 || len(w.Weekdays) != 7:
		return nil, bad("%d months and %d days of the week", len(w.Months), len(w.Weekdays))
	case placeholders(w.Date) != placeholders(original.Date):
		return nil, bad("the date %q has not the parts %s", w.Date, placeholders(original.Date))
	}
	for _, key := range slices.Sorted(maps.Keys(original.Texts)) {
		text, has := w.Texts[key]
		switch {
		case !has || strings.TrimSpace(text) == "":
			return nil, bad("text %q is missing", key)
		case placeholders(text) != placeholders(original.Texts[key]):
			return nil, bad("text %q has the parts %q, the English one %q", key, placeholders(text), placeholders(original.Texts[key]))
		}
	}
	for _, key := range slices.Sorted(maps.Keys(w.Texts)) {
		if _, has := original.Texts[key]; !has {
			return nil, bad("text %q is none of the English ones", key)
		}
	}
	return w, nil
}

var placeholder = regexp.MustCompile(`\{[a-z]+\}`)

// placeholders lists the parts to be filled in, sorted and each once.
func placeholders(text string) string {
	found := placeholder.FindAllString(text, -1)
	slices.Sort(found)
	return strings.Join(slices.Compact(found), " ")
}

func (w *Words) rightToLeft() bool { return w.Direction == "rtl" }

// say returns a text; every key is there, or the file would not have been read.
func (w *Words) say(key string) string { return w.Texts[key] }

// fill returns a text with its values, none of which turns another.
func (w *Words) fill(key string, values map[string]string) string {
	own := map[string]string{}
	for name, value := range values {
		own[name] = w.apart(value)
	}
	return fillIn(w.Texts[key], own)
}

// apart keeps a value of Latin letters and figures in its own order where the
// sheet runs from right to left.
func (w *Words) apart(text string) string {
	if w.rightToLeft() {
		return typeset.Isolate(text)
	}
	return text
}

func fillIn(text string, values map[string]string) string {
	return placeholder.ReplaceAllStringFunc(text, func(part string) string {
		if value, has := values[part[1:len(part)-1]]; has {
			return value
		}
		return part
	})
}

// date writes a date for people, "24 Nov 2026"; what is not known of it is left
// out, and an unknown one is empty.
func (w *Words) date(d record.Date) string { return w.apart(w.plainDate(d)) }

func (w *Words) plainDate(d record.Date) string {
	switch {
	case d.Year == 0:
		return ""
	case d.Month == 0:
		return fmt.Sprint(d.Year)
	case d.Day == 0:
		return w.Months[d.Month-1] + " " + fmt.Sprint(d.Year)
	}
	return fillIn(w.Date, map[string]string{"day": fmt.Sprint(d.Day), "month": w.Months[d.Month-1], "year": fmt.Sprint(d.Year)})
}

// shortDate is the day of the week, the day and the month, with the year where it
// is asked for.
func (w *Words) shortDate(d record.Date, withYear bool) string {
	if !d.Full() {
		return ""
	}
	year := ""
	if withYear {
		year = fmt.Sprint(d.Year)
	}
	at := time.Date(d.Year, time.Month(d.Month), d.Day, 0, 0, 0, 0, time.UTC)
	text := fillIn(w.Date, map[string]string{"day": fmt.Sprint(d.Day), "month": w.Months[d.Month-1], "year": year})
	return w.apart(w.Weekdays[at.Weekday()] + " " + strings.TrimSpace(text))
}

// moment is a date with the time of day where it is not midnight.
func (w *Words) moment(t time.Time) string {
	text := w.plainDate(record.DayOf(t))
	if t.Hour() != 0 || t.Minute() != 0 {
		text += t.Format(" 15:04")
	}
	return w.apart(text)
}

// eye is "right eye" or "left eye".
func (w *Words) eye(side eye.Laterality) string {
	if side == eye.Right {
		return w.say("right_eye")
	}
	return w.say("left_eye")
}
