package record

import (
	"fmt"

	"limitans/eye"
)

func (c *checker) operation(o *Operation, side eye.Laterality, around Around) {
	c.need(o.EyeID, "eye_id", "eye")
	c.happened(o.On, "on")
	if o.Side == eye.SideUnknown {
		c.add(CodeSideMissing, "side", "the operation does not tell the side", "type right or left")
	}
	c.sideOfEye("side", o.Side, side)
	c.sideChecks(o, side)
	c.steps(o)
	c.agents(o, around)
	c.aphakicFill(o)
	c.pressure(o.StartPressure, "start_pressure")
	c.pressure(o.EndPressure, "end_pressure")
	c.within(o.AirPressureMmHg, 0, 120, "air_pressure_mmhg", "mmHg")
	c.within(o.RetinotomyDegrees, 0, 360, "retinotomy_degrees", "°")
	for i, p := range o.Ports {
		c.within(p.LimbusMM, 0, 6, fmt.Sprintf("ports[%d].limbus_mm", i), "mm")
	}
	if o.NoEvents && len(o.Events) > 0 {
		c.add(CodeContradiction, "events", "\"asked, none\" and a list", "take one away")
	}
	if o.Signed != nil {
		c.findings = append(c.findings, OpenFields(o)...)
	}
	c.checkOverrides(o.Overrides, side)
}

// longestS is two days; no operation lasts longer.
const longestS = 2 * 24 * 3600

// steps checks the time line. It rests on elapsed seconds; the clock may cross
// midnight and is only warned about where the two disagree.
func (c *checker) steps(o *Operation) {
	const clockTolerance = 60 + 5 // a clock written in minutes, and slow fingers
	lastS := -1.0
	var zero *float64 // clock at elapsed 0, seconds since midnight
	for i, s := range o.Steps {
		where := fmt.Sprintf("steps[%d]", i)
		c.within(s.ElapsedS, 0, longestS, where+".elapsed_s", "s")
		c.within(s.DurationS, 0, longestS, where+".duration_s", "s")
		if s.ElapsedS == nil {
			continue
		}
		if *s.ElapsedS < lastS {
			c.add(CodeOddOrder, where+".elapsed_s", fmt.Sprintf("%g s stands behind %g s", *s.ElapsedS, lastS), "the steps are shown in the order of the seconds")
		}
		lastS = max(lastS, *s.ElapsedS)
		at, ok := s.Clock.Seconds()
		if !ok {
			continue
		}
		start := float64(at) - *s.ElapsedS
		if zero == nil {
			zero = &start
		} else if off := wrapDay(start - *zero); off > clockTolerance || off < -clockTolerance {
			c.add(CodeClock, where+".clock", fmt.Sprintf("clock and elapsed time differ by %.0f s from the first step", off), "elapsed time counts")
		}
	}
}

// wrapDay brings a difference of clock times to −12 h … +12 h.
func wrapDay(s float64) float64 {
	const day = 24 * 3600
	for s > day/2 {
		s -= day
	}
	for s < -day/2 {
		s += day
	}
	return s
}

// pressure bounds: below 0 there is no pressure in an eye; 100 mmHg is above what
// is seen but for compression. Common practice, no source.
const (
	highestMmHg = 100
	oddMmHg     = 60
)

func (c *checker) pressure(p *Pressure, where string) {
	if p == nil {
		return
	}
	c.within(p.MmHg, 0, highestMmHg, where+".mmhg", "mmHg")
	if p.MmHg != nil && (*p.MmHg > oddMmHg && *p.MmHg <= highestMmHg || *p.MmHg > 0 && *p.MmHg < 1) {
		c.add(CodeOddNumber, where+".mmhg", fmt.Sprintf("%g mmHg", *p.MmHg), "another unit, or a slip?")
	}
	if p.NoDrops && len(p.Drops) > 0 {
		c.add(CodeContradiction, where+".drops", "\"asked, none\" and a list", "take one away")
	}
}

// OpenFields returns what an operation note must hold before it is signed and
// does not. Source of the need: Tanveer et al., Cureus 2023;15:e51274 (abstract);
// the choice of fields is ours, with those that a sample note of an open textbook
// site left out (dye seconds, peel extent, lot numbers, air pressure).
func OpenFields(o *Operation) []Finding {
	var c checker
	open := func(missing bool, where, what string) {
		if missing {
			c.add(CodeOpenField, where, what+" is open", "fill it in, or say that it was not asked or not done")
		}
	}
	open(o.Procedure == "", "procedure", "the procedure")
	open(!o.On.Full(), "on", "the day")
	open(o.Surgeon == "", "surgeon", "the surgeon")
	open(o.Anaesthesia == "", "anaesthesia", "the anaesthesia")
	open(!o.NoEvents && len(o.Events) == 0, "events", "whether something happened")
	if !opensTheEye(o.Procedure) {
		return c.findings
	}
	open(o.LensAfter == "", "lens_after", "the lens at the end")
	open(len(o.Ports) == 0, "ports", "the ports")
	for i, p := range o.Ports {
		open(p.Sutured == NotAsked, fmt.Sprintf("ports[%d].sutured", i), "whether the port was sutured")
	}
	open(o.EndPressure == nil, "end_pressure", "the pressure at the end")
	open(o.PeripheryChecked == NotAsked, "periphery_checked", "the search of the periphery")
	peel := false
	for _, s := range o.Steps {
		peel = peel || s.Code == StepILMPeel || s.Code == StepMembranePeel
	}
	open(peel && len(o.Peels) == 0, "peels", "what was peeled and what was left")
	c.openAgents(o, open)
	return c.findings
}

func (c *checker) openAgents(o *Operation, open func(bool, string, string)) {
	for i, a := range o.Agents {
		where := fmt.Sprintf("agents[%d]", i)
		in := a.Action == AgentPlaced || a.Action == AgentUsed
		open(in && a.Class == AgentDye && a.Seconds == nil, where+".seconds", "how long the dye lay")
		open(in && needsLot(a.Class) && a.Lot == "" && a.BatchID == "", where+".lot", "the lot number")
		placed := a.Action == AgentPlaced
		open(placed && a.Class == AgentGas && (a.MixedBy == "" || a.CheckedBy == ""), where+".checked_by", "who mixed and who checked the gas")
		oil := a.Class == AgentOil || a.Class == AgentHeavyOil
		open(placed && oil && a.AmountML == nil, where+".amount_ml", "how much oil went in")
		open(placed && oil && o.TrappedAirLookedFor == NotAsked, "trapped_air_looked_for", "whether trapped air was looked for")
		open(a.Class == AgentHeavyLiquid && a.Action == AgentUsed && a.SeenEmpty == NotAsked, where+".seen_empty", "whether the heavy liquid was seen gone")
		open((a.Action == AgentRemoved) && a.SeenEmpty == NotAsked, where+".seen_empty", "whether the eye was seen empty")
	}
}

// opensTheEye reports procedures with ports.
func opensTheEye(p Procedure) bool {
	switch p {
	case Vitrectomy, VitrectomyWithLens, OilRemoval, OilExchange, HeavyLiquidRemoval:
		return true
	}
	return false
}
