package record

import "testing"

// TestABubbleThatWasReadWasLookedAt: a reading of the bubble is a look at the gas, also
// where nobody ticked it; a fill of 0 % is not "seen empty"; what was ticked wins.
func TestABubbleThatWasReadWasLookedAt(t *testing.T) {
	on := func(day int) Date { return Date{Year: 2026, Month: 11, Day: day} }
	percent := func(x float64) *float64 { return &x }
	filled := []*Operation{{On: on(1), Agents: []AgentUse{{Class: AgentGas, Action: AgentPlaced}}}}
	for _, c := range []struct {
		name  string
		visit Visit
		seen  Date
		look  MediumLook
		state ContentState
	}{
		{"fill", Visit{On: on(3), Bubble: []BubbleReading{{Medium: MediumGas, FillPercent: percent(60)}}}, on(3), LookPartial, Filled},
		{"meniscus", Visit{On: on(3), Bubble: []BubbleReading{{Medium: MediumGas, MeniscusPercent: percent(20)}}}, on(3), LookPartial, Filled},
		{"nothing left", Visit{On: on(3), Bubble: []BubbleReading{{Medium: MediumGas, FillPercent: percent(0)}}}, Date{}, "", Filled},
		{"ticked", Visit{On: on(3), MediaSeen: []MediumSeen{{Medium: MediumGas, State: LookFull}}, Bubble: []BubbleReading{{Medium: MediumGas, FillPercent: percent(95)}}}, on(3), LookFull, Filled},
		{"seen empty", Visit{On: on(3), MediaSeen: []MediumSeen{{Medium: MediumGas, State: LookNone}}}, on(3), LookNone, Gone},
	} {
		got := Fillings(filled, []*Visit{&c.visit}, Date{})
		if len(got) != 1 || got[0].LastSeen != c.seen || got[0].LastLook != c.look || got[0].State != c.state {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
}
