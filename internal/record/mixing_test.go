package record

import (
	"slices"
	"testing"
	"time"
)

// mixingSheet is a sheet as the first person begins it.
func mixingSheet() *Document {
	return &Document{
		Base: Base{ID: testID}, PatientID: testPatient, EyeID: testEye, Sort: DocumentMixingSheet, On: testToday,
		Mixing: &Mixing{
			Asked: MixingFacts{Gas: C3F8, Percent: 14, GasML: 7, TotalML: 50, DivisionML: 1},
			Maker: Signature{Actor{"anna", "theatre 2"}, time.Date(2026, 6, 15, 14, 5, 0, 0, time.UTC)},
		},
	}
}

// readSheet is the same once the second person has read and signed it.
func readSheet() *Document {
	d := mixingSheet()
	d.Version = 1
	d.Mixing.Read = &MixingFacts{Gas: C3F8, Percent: 14, GasML: 7.5, TotalML: 49.5}
	d.Signed = &Signature{Actor{"carl", "theatre 2"}, time.Date(2026, 6, 15, 14, 9, 0, 0, time.UTC)}
	return d
}

// TestMixingSheetNeedsTwoWhoSignForThemselves: every way around the second person,
// the reading, or the order of the two is a stop that nobody can pass.
func TestMixingSheetNeedsTwoWhoSignForThemselves(t *testing.T) {
	for name, c := range map[string]struct {
		by     AccountID
		before func(*Document) *Document // nil: a new sheet
		after  func(*Document) *Document
		stops  []FindingCode
	}{
		"begun":                         {by: "anna"},
		"read and signed by another":    {by: "carl", before: same, after: toRead(nil)},
		"not read yet, another title":   {by: "eve", before: same, after: func(d *Document) *Document { d.Title = "x"; return d }},
		"begun for somebody else":       {by: "carl", stops: []FindingCode{CodeSignedForOther}},
		"begun by nobody":               {after: func(d *Document) *Document { d.Mixing.Maker = Signature{}; return d }, stops: []FindingCode{CodeReference}},
		"begun and read in one step":    {by: "anna", after: toRead(nil), stops: []FindingCode{CodeNotReadBack}},
		"the same account":              {by: "anna", before: same, after: toRead(func(d *Document) { d.Signed.By.AccountID = "anna" }), stops: []FindingCode{CodeSamePerson}},
		"in another one's name":         {by: "anna", before: same, after: toRead(nil), stops: []FindingCode{CodeSignedForOther}},
		"by nobody":                     {before: same, after: toRead(func(d *Document) { d.Signed.By.AccountID = "" }), stops: []FindingCode{CodeSamePerson}},
		"signed and not read":           {by: "carl", before: same, after: toRead(func(d *Document) { d.Mixing.Read = nil }), stops: []FindingCode{CodeNotReadBack}},
		"read and not signed":           {by: "carl", before: same, after: toRead(func(d *Document) { d.Signed = nil }), stops: []FindingCode{CodeNotReadBack}},
		"another gas":                   {by: "carl", before: same, after: toRead(func(d *Document) { d.Mixing.Read.Gas = SF6 }), stops: []FindingCode{CodeNotReadBack}},
		"another share":                 {by: "carl", before: same, after: toRead(func(d *Document) { d.Mixing.Read.Percent = 20 }), stops: []FindingCode{CodeNotReadBack}},
		"more gas than half a division": {by: "carl", before: same, after: toRead(func(d *Document) { d.Mixing.Read.GasML = 7.6 }), stops: []FindingCode{CodeNotReadBack}},
		"less in all":                   {by: "carl", before: same, after: toRead(func(d *Document) { d.Mixing.Read.TotalML = 49 }), stops: []FindingCode{CodeNotReadBack}},
		"what was asked is changed":     {by: "carl", before: same, after: toRead(func(d *Document) { d.Mixing.Asked.GasML = 8 }), stops: []FindingCode{CodeFrozen}},
		"the recipe is changed":         {by: "carl", before: same, after: toRead(func(d *Document) { d.File.SHA256 = hash64 }), stops: []FindingCode{CodeFrozen}},
		"the maker is changed":          {by: "carl", before: same, after: toRead(func(d *Document) { d.Mixing.Maker.By.AccountID = "eve" }), stops: []FindingCode{CodeFrozen}},
		"the sheet becomes a paper":     {by: "carl", before: same, after: func(d *Document) *Document { d.Mixing = nil; return d }, stops: []FindingCode{CodeFrozen}},
		"the sheet becomes a letter":    {by: "carl", before: same, after: func(d *Document) *Document { d.Sort = DocumentLetter; return d }, stops: []FindingCode{CodeMalformed, CodeFrozen}},
		"a paper becomes a sheet":       {by: "carl", before: func(d *Document) *Document { d.Mixing = nil; return d }, after: toRead(nil), stops: []FindingCode{CodeFrozen}},
		"a paper is brought in":         {by: "anna", after: func(d *Document) *Document { d.Mixing = nil; return d }},
		"a paper is signed alone":       {by: "anna", after: toRead(func(d *Document) { d.Mixing = nil }), stops: []FindingCode{CodeNotReadBack}},
		"the signature is taken away":   {by: "carl", before: toRead(nil), after: same, stops: []FindingCode{CodeFrozen}},
		"the reading is changed":        {by: "carl", before: toRead(nil), after: toRead(func(d *Document) { d.Mixing.Read.GasML = 7 }), stops: []FindingCode{CodeFrozen}},
	} {
		around := Around{Today: testToday, By: c.by}
		d := mixingSheet()
		if c.before != nil {
			around.Before = c.before(mixingSheet())
		}
		if c.after != nil {
			d = c.after(d)
		}
		var stops []FindingCode
		for _, f := range Unresolved(Check(d, around), nil) {
			stops = append(stops, f.Code)
		}
		if !slices.Equal(stops, c.stops) {
			t.Errorf("%s: %v, want %v", name, stops, c.stops)
		}
	}
}

const hash64 = "abcdefabcdefabcdefabcdefabcdefabcdefabcdefabcdefabcdefabcdefabcd"

func same(d *Document) *Document { return d }

// toRead is a sheet that was read and signed, with a change.
func toRead(change func(*Document)) func(*Document) *Document {
	return func(*Document) *Document {
		d := readSheet()
		if change != nil {
			change(d)
		}
		return d
	}
}
