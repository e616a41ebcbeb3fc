package bench

import (
	"strings"
	"testing"

	"limitans/fault"
	"limitans/tamponade"
)

func answerOfForm(values map[string]string) func(string) string {
	return func(name string) string { return values[name] }
}

// A day that nobody told shows the measured one, whole; a day that was told must
// come to 24 hours and is neither stretched nor cut.
func TestDiaryOfForm(t *testing.T) {
	fields, own := DiaryFields(answerOfForm(nil))
	measured, err := DiaryOf(fields)
	if err != nil || own || len(measured) != len(tamponade.MeasuredDiary()) {
		t.Errorf("nothing told: %+v, own %v, %v", measured, own, err)
	}
	for _, spell := range tamponade.MeasuredDiary() { // the same hours in the same positions
		found := false
		for _, s := range measured {
			found = found || s == spell
		}
		if !found {
			t.Errorf("%+v is not in the form", spell)
		}
	}
	for name, c := range map[string]struct {
		values map[string]string
		says   string
	}{
		"whole":        {map[string]string{"hours-prone": "8", "hours-upright": "8,5", "hours-left_side": "7.5"}, ""},
		"an hour lost": {map[string]string{"hours-prone": "8", "hours-upright": "15"}, "23 of 24 hours are told; missing: 1"},
		"two too many": {map[string]string{"hours-prone": "8", "hours-upright": "18"}, "26 hours are told; too many: 2"},
		"by a little":  {map[string]string{"hours-upright": "24", "hours-supine": "0.01"}, "too many: 0.01"},
		"minutes lost": {map[string]string{"hours-upright": "23.96"}, ""},
		"no number":    {map[string]string{"hours-upright": "most"}, "no number of hours"},
		"minus":        {map[string]string{"hours-upright": "-1", "hours-prone": "25"}, "no number of hours"},
	} {
		fields, own := DiaryFields(answerOfForm(c.values))
		day, err := DiaryOf(fields)
		switch {
		case !own:
			t.Errorf("%s: not told", name)
		case c.says == "" && (err != nil || day.Check() != nil):
			t.Errorf("%s: %v", name, err)
		case c.says != "" && (fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), c.says)):
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, told := range ToldDiaries() {
		if got, known := ToldDiaryOf(told.Key); !known || got.Day.Check() != nil || got.Day.Total() != 24 || told.Source == "" {
			t.Errorf("%s: %+v", told.Key, got)
		}
	}
	if _, known := ToldDiaryOf("free"); known {
		t.Error("a free posture is no day")
	}
}

// What is covered day by day never rises, follows the hours of the diary, and ends;
// what is not predicted is not told.
func TestDiaryCover(t *testing.T) {
	percent, hole := "20", "6:14"
	q := Bubble{Gas: "sf6", Percent: &percent, AxialLength: 24, Fill: "85", Lens: "phakic", HoleUM: 400, Break: &hole, Seed: 1, Paths: 500}
	a, err := q.Predict()
	if err != nil {
		t.Fatal(err)
	}
	onTheBack := tamponade.Diary{{Position: tamponade.Supine, Hours: 24}}
	cover, err := a.Diary(tamponade.FaceDownDiary(), onTheBack)
	if err != nil || len(cover.Targets) != 2 || cover.Days[0] != 1 {
		t.Fatalf("%+v, %v", cover, err)
	}
	macula := cover.Targets[0]
	if macula.LastDone != 0 || macula.LastTold < 5 {
		t.Errorf("told until day %g, on the back until day %g", macula.LastTold, macula.LastDone)
	}
	for _, target := range cover.Targets {
		for i := range cover.Days {
			if i > 0 && target.Told[i].Value > target.Told[i-1].Value {
				t.Errorf("%s: more on day %g than before", target.Target, cover.Days[i])
			}
		}
		if last := target.Told[len(cover.Days)-1]; last.High != 0 && cover.Days[len(cover.Days)-1] != a.Days[len(a.Days)-1] {
			t.Errorf("%s: cut off at %+v", target.Target, last)
		}
	}
	for i, day := range cover.Days { // the first week is that of the sheet
		if day <= 7 && macula.Told[i] != a.supportHours[0][i] {
			t.Errorf("day %g: %+v, on the sheet %+v", day, macula.Told[i], a.supportHours[0][i])
		}
	}
	q.Seen = []string{"8:80"} // more gas than exchange explains
	if a, err = q.Predict(); err != nil {
		t.Fatal(err)
	}
	if _, err := a.Diary(tamponade.FaceDownDiary(), onTheBack); fault.CodeOf(err) != fault.NotMeasurable {
		t.Errorf("a diary of a course that is withdrawn: %v", err)
	}
	if _, _, err := a.RotaFor([]float64{8, 8}, nil, 1); fault.CodeOf(err) != fault.NotMeasurable {
		t.Errorf("a rota of a course that is withdrawn: %v", err)
	}
}

// A rota leaves out what cannot be taken, and says what the lower end of the fill
// asks for.
func TestRotaFor(t *testing.T) {
	percent, hole := "14", "6:14"
	a, err := Bubble{Gas: "c3f8", Percent: &percent, AxialLength: 24, Fill: "85", Lens: "phakic", Break: &hole, Seed: 1, Paths: 500}.Predict()
	if err != nil {
		t.Fatal(err)
	}
	without := map[string]bool{"prone": true}
	for at := range a.Days {
		rota, low, err := a.RotaFor([]float64{8, 8}, without, at)
		if err != nil {
			t.Fatal(err)
		}
		for _, b := range rota.Blocks {
			if b.Position == tamponade.Prone || b.Position == tamponade.Supine {
				t.Errorf("day %g: %v", a.Days[at], b.Position)
			}
		}
		if low != nil && len(low.Short) < len(rota.Short) {
			t.Errorf("day %g: a smaller bubble covers more", a.Days[at])
		}
	}
	for name, err := range map[string]error{
		"hours of one": errorOf3(a.RotaFor([]float64{8}, nil, 0)),
		"no day":       errorOf3(a.RotaFor([]float64{8, 8}, nil, 1000)),
		"30 hours":     errorOf3(a.RotaFor([]float64{8, 30}, nil, 0)),
	} {
		if fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func errorOf3[A, B any](_ A, _ B, err error) error { return err }
