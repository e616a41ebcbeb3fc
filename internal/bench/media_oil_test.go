package bench

import (
	"strings"
	"testing"
	"time"

	"limitans/internal/record"
)

// oilSheet is the sheet of an eye of 24 mm with oil as text.
func oilSheet(t *testing.T, lens record.LensState, medium record.Medium, operation *record.Operation, written map[string]string) (string, []Field, error) {
	t.Helper()
	today := record.DayOf(time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC))
	operation.On, operation.LensAfter = record.DayOf(time.Date(2026, 1, 1, 12, 0, 0, 0, time.UTC)), lens
	operation.ID = "operation"
	c := record.Course{
		Eye: &record.Eye{AxialLengths: []record.AxialLength{
			{LengthMM: 24, Method: record.BiometryLight, MediumThen: record.MediumFluid, On: operation.On},
			{LengthMM: 33.8, Method: record.BiometryUltrasound, MediumThen: record.MediumOil, On: today},
		}},
		Operations: []*record.Operation{operation},
	}
	asked, fields, err := OilQuestion(c, today, answerOfForm(written))
	if err != nil {
		return "", fields, err
	}
	content := record.Content{Medium: medium, Since: operation.On, OperationID: operation.ID}
	s, err := OilOfEye(c, content, today, asked)
	if err != nil {
		return "", fields, err
	}
	var b strings.Builder
	if err := s.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	return strings.Join(strings.Fields(b.String()), " "), fields, nil
}

// Worked examples 19 and 20 and hard case 40 on the sheet: an eye of 24 mm without a
// lens +11.2 and +5.1 D, a lens 5 mm behind the cornea +3.55 D, 33.8 mm by sound
// refused and, with its front part, corrected to 24.5 mm. Each with its caution.
func TestOilSheetWorkedExamples(t *testing.T) {
	for name, c := range map[string]struct {
		lens      record.LensState
		medium    record.Medium
		operation record.Operation
		written   map[string]string
		has       []string
		hasNot    []string
	}{
		"19: without a lens": {
			record.LensAphakic, record.MediumOil,
			record.Operation{Iridectomy: record.No},
			nil,
			[]string{"+5.1 D under oil, +11.2 D in fluid", "shift by oil -6.1 D (-", "from 10 to 12 D down to 4 to 6 D", "radii of the cornea that were not measured", "No iridectomy in an eye without a lens", "13 of 13"},
			nil,
		},
		"19: with a measured cornea": {
			record.LensAphakic, record.MediumOil,
			record.Operation{Iridectomy: record.Yes},
			map[string]string{"oil-cornea-front": "7.7", "oil-cornea-back": "6.5"},
			[]string{"+5.1 D under oil", "shift by oil -6.1 D (-6.2 to -6.1)", "Iridectomy seen open"},
			[]string{"not measured"},
		},
		"20: oil for good, flat back": {
			record.LensPseudophakic, record.MediumOil,
			record.Operation{},
			map[string]string{"oil-stays": "for good", "oil-chamber": "5"},
			[]string{"add +3.55 D (+3.46 to +4.10)", "never a power by itself", "from memory", "with a back of 20 mm +6.92 D", "+3.9 to +4.1 D over prediction", "McCartney 1987"},
			[]string{"is not told: say it before", "Without a lens"},
		},
		"20: a biconvex back": {
			record.LensCataract, record.MediumOil,
			record.Operation{},
			map[string]string{"oil-chamber": "5", "oil-back-radius": "20"},
			[]string{"add +6.92 D", "+3.55 D for the way to the retina, +3.37 D for what the back of the lens loses", "is not told: say it before", "+5 to +7 D"},
			[]string{"with a back of"},
		},
		"oil that comes out": {
			record.LensClear, record.MediumOil,
			record.Operation{},
			map[string]string{"oil-stays": "comes out", "oil-chamber": "5"},
			[]string{"nothing is added"},
			[]string{"add +"},
		},
		"no chamber told": {
			record.LensClear, record.MediumOil,
			record.Operation{},
			map[string]string{"oil-stays": "for good"},
			[]string{"not computed: tell the axial length and where the implant will stand"},
			[]string{"add +"},
		},
		"heavy oil": {
			record.LensClear, record.MediumHeavyOil,
			record.Operation{},
			map[string]string{"oil-chamber": "5", "oil-shown": "30", "oil-front": "8"},
			[]string{"the index of heavy oil is not in the table", "the speed of sound in heavy silicone oil is not known"},
			[]string{"add +"},
		},
		"40: the trap": {
			record.LensClear, record.MediumOil,
			record.Operation{},
			nil,
			// 8 + 16 · 1532/980 and 8 + 16 · 1532/1040
			[]string{"filled with silicone oil 1000 would be shown as 33.0 mm", "filled with silicone oil 5000 would be shown as 31.6 mm", "33.8 mm by ultrasound with oil in the eye, speed set for oil: not told, so it is used for nothing"},
			nil,
		},
		"40: refused": {
			record.LensClear, record.MediumOil,
			record.Operation{},
			map[string]string{"oil-shown": "33.8", "oil-viscosity": "1000"},
			[]string{"by sound is likely false: sound is slower in oil"},
			[]string{"24.5 mm"},
		},
		"40: corrected": {
			record.LensClear, record.MediumOil,
			record.Operation{},
			map[string]string{"oil-shown": "33.8", "oil-front": "8", "oil-viscosity": "1000"},
			[]string{"axial length 24.5 mm (24.3 to 24.7)", "shortened by", "comes out too short"},
			[]string{"likely false"},
		},
		"oil not named": {
			record.LensClear, record.MediumOil,
			record.Operation{},
			map[string]string{"oil-shown": "33.8", "oil-front": "8"},
			[]string{"no oil is named"},
			[]string{"24.5 mm"},
		},
		"lens not told": {"", record.MediumOil, record.Operation{}, nil, []string{"the change of refraction depends on it"}, nil},
	} {
		got, _, err := oilSheet(t, c.lens, c.medium, &c.operation, c.written)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		for _, wanted := range c.has {
			if !strings.Contains(got, wanted) {
				t.Errorf("%s: %q is missing in\n%s", name, wanted, got)
			}
		}
		for _, unwanted := range c.hasNot {
			if strings.Contains(got, unwanted) {
				t.Errorf("%s: %q stands there", name, unwanted)
			}
		}
	}
}

// What cannot be is said at its field.
func TestOilFieldsAreBlamed(t *testing.T) {
	for name, written := range map[string]map[string]string{
		"oil-back-radius": {"oil-chamber": "5", "oil-back-radius": "2"},
		"oil-chamber":     {"oil-chamber": "24"},
		"oil-stays":       {"oil-stays": "perhaps"},
		"oil-shown":       {"oil-shown": "long"},
	} {
		operation := new(record.Operation)
		_, fields, err := oilSheet(t, record.LensClear, record.MediumOil, operation, written)
		if err == nil {
			t.Errorf("%s: computed", name)
			continue
		}
		Blame(fields, err)
		blamed := ""
		for _, f := range fields {
			if f.Trouble != "" {
				blamed += f.Name
			}
		}
		if blamed != name {
			t.Errorf("%s: %q is blamed for %v", name, blamed, err)
		}
	}
}
