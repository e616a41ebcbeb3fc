package stain

import (
	_ "embed" // the tables of dyes
	"fmt"
	"slices"
	"strings"
	"unicode"

	"limitans/fault"
	"limitans/table"
)

// tableName is what errors call the tables of this package.
const tableName = "table of dyes"

//go:embed data/dyes.csv
var dyesCSV string

//go:embed data/denied.csv
var deniedCSV string

//go:embed data/absorption.csv
var absorptionCSV string

// Dye is a vital dye with its customary use. Contact times are NaN where there is
// none.
type Dye struct {
	Key, Name                 string
	UsualLow, UsualHigh       Strength
	Limit                     Strength // taken unless the unit gives its own
	Highest                   Strength // of a label or human series
	HighestSource             string
	VolumeLowML, VolumeHighML float64 // customary volume injected, mL
	CautionSeconds            float64 // contact above which care is asked for
	LongestSeconds            float64 // contact above which nothing is published
	SumStops                  bool    // the longest contact bounds the sum of all too
	Sensitiser                bool    // light beyond 620 nm harms stained retina
	MolarMassGPerMol          float64
	Particles                 float64 // in solution, from memory
	StainsLimiting            string  // inner limiting membrane
	StainsEpiretinal          string
	Status, Caution           string
	ContactSource, HowKnown   string
	aliases                   []string
}

// usual words the customary strengths.
func (d Dye) usual() string {
	if d.UsualLow == d.UsualHigh {
		return d.UsualLow.String()
	}
	return d.UsualLow.String() + " to " + d.UsualHigh.String()
}

// Denied is a substance that must not be used as a stain in the eye.
type Denied struct {
	Name, Reason, Source, HowKnown string
	aliases                        []string
}

// Dyes returns the dyes of the table.
func Dyes() ([]Dye, error) {
	rows, err := table.Rows(tableName, dyesCSV, 22)
	if err != nil {
		return nil, err
	}
	out := make([]Dye, len(rows))
	for i, r := range rows {
		n, err := table.Numbers(tableName, append(append([]string{}, r[3:7]...), r[8], r[9], r[10], r[11], r[14], r[15]))
		if err != nil {
			return nil, err
		}
		var strengths [4]Strength
		for k := range strengths {
			if strengths[k], err = Percent(n[k]); err != nil {
				return nil, err
			}
		}
		out[i] = Dye{
			Key: r[0], Name: r[1], aliases: strings.Split(r[2], "|"),
			UsualLow: strengths[0], UsualHigh: strengths[1], Limit: strengths[2], Highest: strengths[3], HighestSource: r[7],
			VolumeLowML: n[4], VolumeHighML: n[5], CautionSeconds: n[6], LongestSeconds: n[7],
			SumStops: r[12] == "yes", Sensitiser: r[13] == "yes", MolarMassGPerMol: n[8], Particles: n[9],
			StainsLimiting: r[16], StainsEpiretinal: r[17], Status: r[18], Caution: r[19], ContactSource: r[20], HowKnown: r[21],
		}
	}
	return out, nil
}

// DeniedDyes returns the deny-list.
func DeniedDyes() ([]Denied, error) {
	rows, err := table.Rows(tableName, deniedCSV, 5)
	if err != nil {
		return nil, err
	}
	out := make([]Denied, len(rows))
	for i, r := range rows {
		out[i] = Denied{Name: r[0], aliases: strings.Split(r[1], "|"), Reason: r[2], Source: r[3], HowKnown: r[4]}
	}
	return out, nil
}

// unclearNames have several readings, one of them wrong for the eye.
var unclearNames = map[string]string{
	"blue":          "brilliant blue G, trypan blue, bromophenol blue or methylene blue",
	"brilliantblue": "brilliant blue G, or the R or FCF of other trades",
	"green":         "indocyanine green, infracyanine green or another",
	"mb":            "methylene blue, or a make of another dye",
	"coomassie":     "brilliant blue G or R",
	"bb":            "brilliant blue G, bromophenol blue or another",
}

// letters keeps what tells names apart.
func letters(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, text)
}

const mostNameText = 100

// Identify finds a dye by its name or usual abbreviation. A name on the deny-list
// gives that entry instead. A name with several readings, or several names in
// one, is a Conflict; a name in neither list is NotFound.
func Identify(text string) (Dye, *Denied, error) {
	if len(text) > mostNameText || letters(text) == "" {
		return Dye{}, nil, &fault.Error{Code: fault.Invalid, Where: "dye", What: fmt.Sprintf("%.100q is no name", text), Expected: "the dye's name, for example bbg"}
	}
	denied, err := DeniedDyes()
	if err != nil {
		return Dye{}, nil, err
	}
	name := letters(text)
	for _, d := range denied {
		// Looked for anywhere in the name: "methylene blue 1 %" is one too.
		if slices.ContainsFunc(d.aliases, func(a string) bool { return name == a || len(a) > 6 && strings.Contains(name, a) }) {
			return Dye{}, &d, nil
		}
	}
	if strings.ContainsAny(text, "+/&,") {
		return Dye{}, nil, &fault.Error{Code: fault.Conflict, Where: "dye", What: fmt.Sprintf("%q names several", text), Mend: "give each dye of a combination with its own strength"}
	}
	if readings, is := unclearNames[name]; is {
		return Dye{}, nil, &fault.Error{Code: fault.Conflict, Where: "dye", What: fmt.Sprintf("%q can mean %s", text, readings), Mend: "read the label and write the whole name"}
	}
	dyes, err := Dyes()
	if err != nil {
		return Dye{}, nil, err
	}
	known := make([]string, len(dyes))
	for i, d := range dyes {
		if slices.Contains(d.aliases, name) {
			return d, nil, nil
		}
		known[i] = d.Key
	}
	return Dye{}, nil, &fault.Error{Code: fault.NotFound, Where: "dye", What: fmt.Sprintf("%q is on no list of dyes for the eye", text), Expected: strings.Join(known, ", ")}
}

// SplitNameAndStrength cuts a text such as "BBG 0.25 mg/mL" before its first
// number; the strength is empty where there is none.
func SplitNameAndStrength(text string) (name, strength string) {
	at := strings.IndexFunc(text, unicode.IsDigit)
	if at < 0 {
		return strings.TrimSpace(text), ""
	}
	if at > 0 && (text[at-1] == '.' || text[at-1] == ',') {
		at--
	}
	return strings.TrimSpace(text[:at]), strings.TrimSpace(text[at:])
}
