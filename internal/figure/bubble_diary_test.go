package figure

import (
	"bytes"
	"strings"
	"testing"

	"limitans/estimate"
)

// The chart says both ways to spend a day for each target, stays on the sheet, and
// says why there is nothing to draw.
func TestDiaryDrawing(t *testing.T) {
	c := DiaryChart{Title: "Covered", Below: "20 % SF6", ToldWords: "face down 8 h", DoneWords: "as told", Notes: []string{"note"}}
	for _, target := range []string{"macula", "break at 6 o'clock"} {
		row := DiaryTarget{Target: target}
		for day := range 20 {
			hours := estimate.Estimate{Value: 24 - float64(day), Low: 20 - float64(day), High: 24}
			row.Told, row.Done = append(row.Told, hours), append(row.Done, estimate.Estimate{Value: hours.Value / 2, Low: 0, High: hours.Value})
		}
		c.Targets = append(c.Targets, row)
	}
	for day := range 20 {
		c.Days = append(c.Days, float64(day+1))
	}
	s := DrawDiary(c)
	var b bytes.Buffer
	if err := s.WriteSVG(&b); err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{"Covered", "Told: face down 8 h", "Done: as told", "24 h", "break at 6 o&#39;clock", "day 1: told 24 hours (20 to 24), done 12 (0 to 24)"} {
		if !strings.Contains(b.String(), text) && !strings.Contains(b.String(), strings.ReplaceAll(text, "&#39;", "'")) {
			t.Errorf("%q is not on the sheet", text)
		}
	}
	staysOn(t, "diary", s)
	c.Days = c.Days[:3]
	b.Reset()
	if err := DrawDiary(c).WriteSVG(&b); err != nil || !strings.Contains(b.String(), "There is no diary to draw.") {
		t.Errorf("hours without days: %v", err)
	}
}
