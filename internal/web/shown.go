package web

import (
	"fmt"
	"strconv"
	"strings"

	"limitans/estimate"
	"limitans/eye"
	"limitans/internal/record"
	"limitans/internal/store"
)

// dayWords writes a day as 24 Nov 2026, as far as it is known. It takes a
// record.Date or the text of one in a list of the store.
func dayWords(d any) string {
	date, is := d.(record.Date)
	if text, isText := d.(string); isText {
		read, err := record.DateFromISO(text)
		if err != nil {
			return text
		}
		date, is = read, true
	}
	if !is {
		return ""
	}
	return date.Words()
}

// sideWords writes a side as a word, never a letter.
func sideWords(l eye.Laterality) string {
	text := l.String()
	return strings.ToUpper(text[:1]) + text[1:]
}

// mediumWords names what fills an eye.
func mediumWords(m record.Medium) string { return strings.ReplaceAll(string(m), "_", " ") }

// dueReasons are the reasons of the due list in words.
var dueReasons = map[record.DueFor]string{
	record.DueReview: "review", record.DuePressure: "pressure check", record.DueGasCheck: "gas in the eye: look whether it has gone",
	record.DueOilRemoval: "oil to be taken out", record.DueHeavyLiquid: "heavy liquid to be taken out",
	record.DueFellowEyeScan: "scan of the fellow eye", store.DueUnsignedPlan: "plan to be signed",
	store.DueUnsignedFigures: "measured figures to be read and signed", store.DueUnsignedOperation: "record of the operation to be completed and signed",
}

func dueWords(reason record.DueFor) string {
	if words, is := dueReasons[reason]; is {
		return words
	}
	return strings.ReplaceAll(string(reason), "_", " ")
}

// estimateWords writes a value with its interval; a missing one says why.
func estimateWords(e *estimate.Estimate, decimals int, unit string) string {
	switch {
	case e == nil:
		return "not measured"
	case !e.Known():
		return "none: " + e.Basis
	}
	n := func(x float64) string { return strconv.FormatFloat(x, 'f', decimals, 64) }
	return fmt.Sprintf("%s %s (95 %%: %s to %s)", n(e.Value), unit, n(e.Low), n(e.High))
}
