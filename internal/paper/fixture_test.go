package paper_test

import (
	"context"
	"math"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"limitans/estimate"
	"limitans/eye"
	"limitans/internal/paper"
	"limitans/internal/record"
	"limitans/oct/measure"
	"limitans/oct/phantom"
	"limitans/stain"
	"limitans/tamponade"
)

var nan = math.NaN()

// people are names in the four scripts, invented; the first comes with a second
// script as some units keep it.
var people = []paper.Patient{
	{Name: "Jürgen Ångström-Müller", Born: day(1951, 3, 2), Identifier: "0012-345"},
	{Name: "अनिता क्षत्रिय शर्मा", OtherName: "Anita Kshatriya Sharma", Born: day(1949, 11, 30), Identifier: "0098-111"},
	{Name: "محمد عبد الرحيم الأحمد", OtherName: "Muhammad Abd ar-Rahim al-Ahmad", Born: day(1960, 1, 9), Identifier: "0044-207"},
	{Name: "王小明", OtherName: "Wáng Xiǎomíng", Born: day(1957, 7, 21), Identifier: "0051-930"},
}

func day(year, month, d int) record.Date { return record.Date{Year: year, Month: month, Day: d} }

// common is what the sheets of one person share; the sides alternate.
func common(who int) paper.Common {
	side := eye.Right
	if who%2 == 1 {
		side = eye.Left
	}
	return paper.Common{
		Patient: people[who], Side: side, Surgery: day(2026, 11, 26), Unit: "Eye Clinic Northgate",
		Made: time.Date(2026, 11, 25, 14, 5, 0, 0, time.UTC),
	}
}

func must[T any](t testing.TB) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// recipe is what limitans mix computes for a gas, a syringe and an eye.
func recipe(t testing.TB, agent tamponade.Agent, percent tamponade.Percent, axialLengthMM float64) tamponade.MixingSheet {
	t.Helper()
	syringe := must[tamponade.Syringe](t)(tamponade.NewSyringe(50, nan, nan))
	return must[tamponade.MixingSheet](t)(tamponade.PlanMixing(tamponade.MixingInput{
		Mixture: tamponade.Mixture{Agent: agent, Percent: percent}, Syringe: syringe, LineML: 2,
		CavityML: must[estimate.Estimate](t)(eye.CavityVolumeML(axialLengthMM)),
	}))
}

// bubble is what limitans bubble is asked for the same eye.
func bubble(t testing.TB, agent tamponade.Agent, percent tamponade.Percent, axialLengthMM float64) tamponade.Bubble {
	t.Helper()
	cavity := must[estimate.Estimate](t)(eye.CavityVolumeML(axialLengthMM))
	return tamponade.Bubble{
		Mixture: must[tamponade.Mixture](t)(tamponade.NewMixture(agent, percent)), Fill: 0.85, CavityML: cavity,
		Lens: tamponade.Pseudophakic, Globe: tamponade.DefaultGlobe(cavity.Value),
	}
}

// dye is what limitans dye computes.
func dye(t testing.TB, name, strength string) stain.Sheet {
	t.Helper()
	vehicle := must[stain.Solution](t)(stain.SolutionOf("bss"))
	return must[stain.Sheet](t)(stain.Prepare(stain.NewInput(vehicle, stain.Written{Name: name, Strength: strength})))
}

// scanned is a made scan, measured once for all tests.
var scanned = sync.OnceValues(func() (*measure.Result, error) {
	volume, _, err := phantom.Make(phantom.Draw(rand.New(rand.NewPCG(3, 0)), phantom.Small))
	if err != nil {
		return nil, err
	}
	return measure.Volume(context.Background(), volume, measure.Options{Now: time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC), Version: "test"})
})

// theatre is a whole theatre sheet.
func theatre(t testing.TB, who int) paper.Theatre {
	t.Helper()
	c := common(who)
	mix := recipe(t, tamponade.AgentSF6, 20, 24.1)
	blue := dye(t, "brilliant blue G", "0.25 mg/mL")
	r := must[*measure.Result](t)(scanned())
	figures, slice, words := paper.FromScan(r)
	return paper.Theatre{
		Common: c, Version: paper.Version{Number: 2, SignedBy: "Dr A. Rivera", SignedOn: day(2026, 11, 24)}, Surgeon: "Dr A. Rivera",
		Facts:    []paper.Fact{{Label: "Diagnosis", Text: "Full-thickness macular hole"}, {Label: "Since", Text: "5 months"}, {Label: "Lens", Text: "Pseudophakic"}},
		Findings: append(figures, paper.Figure{Label: "Axial length", Estimate: estimate.Normal(24.1, 0.03, "biometry by light"), Decimals: 2, Unit: "mm"}),
		Slice:    slice, SliceWords: words, Allergies: "none known, asked 24 Nov 2026",
		Option:   "Vitrectomy, membrane peel, SF6",
		Reasons:  []string{"Small hole of short standing: peel without a flap closes most.", "Not a flap: more surface work without a published gain at this size."},
		Expected: []paper.Figure{{Label: "Hole closed", Estimate: estimate.Estimate{Value: 94, Low: 88, High: 97}, Unit: "%", Source: "published groups, pooled"}},
		Steps: []string{
			"Ports, infusion seen, vitrectomy; posterior hyaloid off to the equator.", "Dye on the macula for the time on the mixing sheet, light down; wash out.",
			"Peel the inner limiting membrane two disc diameters around the hole.", "Look at the periphery with indentation; laser to breaks.",
			"Fluid-air exchange, needle at the disc, not over the hole.", "Gas: flush the cavity, close the ports, pressure by finger and gauge.",
		},
		Agents: []paper.Agent{paper.FromDye("brilliant blue G", blue), paper.FromRecipe(mix)},
		Quantities: []paper.Figure{
			{Label: "Cavity", Estimate: mix.CavityML, Decimals: 1, Unit: "mL"},
			{Label: "Flush", Estimate: mix.Flush.NeededML, Unit: "mL"},
			{Label: "Ports behind the limbus", Estimate: estimate.Estimate{Value: 3.5, Low: 3.5, High: 3.5}, Decimals: 1, Unit: "mm", Exact: true},
		},
		BackUp: []string{"Membrane does not stain: second dye, triamcinolone.", "Break in the periphery: laser, longer posture, same gas.", "Hole does not come together: temporal flap, prepared."},
		Checks: paper.StopChecks(c, paper.FromRecipe(mix).Name, paper.FromDye("brilliant blue G", blue).Name),
	}
}

func mixing(t testing.TB, who int) paper.Mixing {
	t.Helper()
	return paper.Mixing{Common: common(who), Version: paper.Version{Number: 2, SignedBy: "Dr A. Rivera", SignedOn: day(2026, 11, 24)}, Sheet: recipe(t, tamponade.AgentSF6, 20, 24.1)}
}

func kit(who int) paper.Kit {
	return paper.Kit{Common: common(who), Groups: []paper.KitGroup{
		{Title: "Access, 25 gauge", Items: []paper.KitItem{{Name: "Trocar cannulas with valves, 25 gauge", Quantity: "3"}, {Name: "Chandelier light, 25 gauge", Quantity: "1", Spare: true}, {Name: "Infusion line", Quantity: "1", Traced: true}}},
		{Title: "Macular work", Items: []paper.KitItem{{Name: "End-gripping forceps, 25 gauge", Quantity: "1", Note: "second pair in reach"}, {Name: "Loop or scraper", Quantity: "1", Spare: true}, {Name: "Contact lens, flat", Quantity: "1"}}},
		{Title: "Agents", Items: []paper.KitItem{{Name: "Brilliant blue G 0.025 % (0.25 mg/mL)", Quantity: "1", Traced: true}, {Name: "SF6 bottle, filter, line, 50 mL syringe, stopcock", Quantity: "1 set", Traced: true}, {Name: "Triamcinolone", Quantity: "1", Spare: true, Traced: true}}},
		{Title: "For the patient afterwards", Items: []paper.KitItem{{Name: "Wristband: no nitrous oxide", Quantity: "1"}, {Name: "Wallet card and leaflet", Quantity: "1"}, {Name: "Shield", Quantity: "1"}}},
	}}
}

func leaflet(t testing.TB, who int) paper.Leaflet {
	t.Helper()
	b := bubble(t, tamponade.AgentSF6, 20, 24.1)
	days, gone, err := paper.PredictSeen(b, 1, 2000)
	if err != nil {
		t.Fatal(err)
	}
	return paper.Leaflet{
		Common: common(who), Filling: paper.Filling{Mixture: b.Mixture}, Days: days, GoneDay: gone, Phone: paper.Telephone{Day: "01632 960 142", Night: "01632 960 199"},
		Posture: paper.HeadPosture{Posture: record.PostureFaceDown, Days: 5, HoursPerDay: 8},
		Visits:  []paper.Appointment{{On: day(2026, 11, 27), At: "09:30", What: "Eye Clinic Northgate"}, {On: day(2026, 12, 3), At: "10:00", What: "scan of the eye"}},
	}
}

func card(who int) paper.Card {
	return paper.Card{Common: common(who), Filling: paper.Filling{Mixture: tamponade.Mixture{Agent: tamponade.AgentSF6, Percent: 20}}, Phone: paper.Telephone{Day: "01632 960 142", Night: "01632 960 199"}}
}
