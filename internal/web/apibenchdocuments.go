package web

import (
	"limitans/estimate"
	"limitans/tamponade"
)

// The documents of the bench as programs get them, of which the calculators make
// the same with the same keys; TestAPIAnswersAsDescribed holds one to the other.

// bubbleDocument is the answer about a bubble for programs.
type bubbleDocument struct {
	Gas           tamponade.Agent          `json:"gas"`
	Percent       tamponade.PercentReading `json:"percent"` // as written, and as read
	Fill          tamponade.PercentReading `json:"fill"`    // at the end of surgery, as written, and as read
	Lens          tamponade.Lens           `json:"lens"`
	AxialLengthMM float64                  `json:"axial_length_mm"`
	CavityML      estimate.Estimate        `json:"cavity_ml"` // volume of the vitreous cavity
	HalfLifeDays  estimate.Estimate        `json:"half_life_days"`
	DaysToFill50  estimate.Estimate        `json:"days_to_fill_50"` // last day with half of the cavity filled
	DaysToFill10  estimate.Estimate        `json:"days_to_fill_10"` // last day with a tenth of the cavity filled
	DaysToGone    estimate.Estimate        `json:"days_to_gone"`
	// MaculaCoveredUntilDay by posture.
	MaculaCoveredUntilDay map[string]estimate.Estimate `json:"macula_covered_until_day"`
	// BreakCoveredUntilDay by posture, when a break was told.
	BreakCoveredUntilDay map[string]estimate.Estimate `json:"break_covered_until_day,omitempty"`
	PeakPressureMMHg     estimate.Estimate            `json:"peak_pressure_mmhg"` // highest of the first days
	// PeakPressureHeldByWall: in an unfavourable eye the bubble outgrows the cavity.
	PeakPressureHeldByWall bool          `json:"peak_pressure_held_by_wall"`
	Course                 []bubblePoint `json:"course"` // empty when nothing is predicted; surprises say why
	// SupportHours a day in which the macula is covered, by how the day is spent.
	SupportHours  map[string][]supportDay `json:"support_hours"`
	Surprises     []bubbleSurprise        `json:"surprises"`    // readings that exchange does not explain
	Observations  int                     `json:"observations"` // readings that were told
	PostureAdvice *postureAdvice          `json:"posture_advice,omitempty"`
	ClosedByDay   []closedCount           `json:"closed_by_day,omitempty"` // holes seen closed in published series
	Rota          *rotaDocument           `json:"rota,omitempty"`          // turns for two targets, when a break was told
	Answer        string                  `json:"answer"`                  // what is said about flying and nitrous oxide
	Warnings      []string                `json:"warnings"`
	Method        string                  `json:"method"`
	Seed          uint64                  `json:"seed"`  // of the sampling
	Paths         int                     `json:"paths"` // sampled courses that the bands stand on
	Cautions      []string                `json:"cautions"`
}

// bubblePoint is one day of the course.
type bubblePoint struct {
	Day      float64 `json:"day"`       // after surgery
	Fill     float64 `json:"fill"`      // share of the cavity, median
	FillLow  float64 `json:"fill_low"`  // low end of the 95 % interval
	FillHigh float64 `json:"fill_high"` // high end of the 95 % interval
	Pressure float64 `json:"pressure"`  // mmHg, of the middle eye
}

// supportDay is how long the macula is covered on one day.
type supportDay struct {
	Day   float64           `json:"day"`   // after surgery
	Hours estimate.Estimate `json:"hours"` // of 24
}

// bubbleSurprise is a reading that exchange does not explain.
type bubbleSurprise struct {
	Day         float64        `json:"day"`         // after surgery
	Fill        float64        `json:"fill"`        // share of the cavity that was seen
	Expected    tamponade.Span `json:"expected"`    // 95 % of what the readings before lead to expect
	Probability float64        `json:"probability"` // of a reading at least so far off
	Leak        bool           `json:"leak"`        // less than exchange can explain
	Text        string         `json:"text"`
}

// postureAdvice is where to start from for a hole of a size.
type postureAdvice struct {
	Text  string         `json:"text"`
	Days  tamponade.Span `json:"days"` // of face-down posture
	Basis string         `json:"basis"`
}

// closedCount is how many holes a published series saw closed.
type closedCount struct {
	What   string            `json:"what"`   // day and eyes of the series
	Closed int               `json:"closed"` // eyes
	Eyes   int               `json:"eyes"`   // eyes that were looked at
	Share  estimate.Estimate `json:"share"`
	Source string            `json:"source"`
}

// rotaDocument is a day of turns for two targets.
type rotaDocument struct {
	Conflict bool        `json:"conflict"` // no single position covers both
	Blocks   []rotaBlock `json:"blocks"`
	Short    []string    `json:"short"` // what gets less than was wanted
}

// rotaBlock is one turn.
type rotaBlock struct {
	Position string   `json:"position"`
	Hours    float64  `json:"hours"`
	Covers   []string `json:"covers"` // names of the targets
}

// mixDocument is the mixing sheet for programs. The volumes are null while a stop
// stands or a figure is missing: then there is no recipe.
type mixDocument struct {
	Gas              tamponade.Agent          `json:"gas"`
	Percent          tamponade.PercentReading `json:"percent"`  // as written, and as read
	Accepted         bool                     `json:"accepted"` // no stop stands
	GasML            *float64                 `json:"gas_ml"`   // first step: gas to draw
	AirML            *float64                 `json:"air_ml"`   // second step: air to add
	TotalML          *float64                 `json:"total_ml"`
	FlushML          *float64                 `json:"flush_ml"`       // to pass through the eye
	Flush            estimate.Estimate        `json:"flush"`          // the same with its interval
	FlushLaw         string                   `json:"flush_law"`      // how the eye's content is exchanged
	PercentInEye     estimate.Estimate        `json:"percent_in_eye"` // after the flush
	PercentInSyringe estimate.Estimate        `json:"percent_in_syringe"`
	CavityML         estimate.Estimate        `json:"cavity_ml"`     // volume of the vitreous cavity
	EndVolumeML      estimate.Estimate        `json:"end_volume_ml"` // largest volume of a pneumatic injection
	Syringe          tamponade.Syringe        `json:"syringe"`
	Stops            []tamponade.Stop         `json:"stops"`
	Warnings         []tamponade.Warning      `json:"warnings"`
	Steps            []string                 `json:"steps"`
	// Overpressure is the share that gas drawn above room pressure would give.
	Overpressure  []tamponade.Overpressure `json:"overpressure"`
	WrongMixtures []wrongMixture           `json:"wrong_mixtures"` // what mistakes would do in this eye
	AxialLengthMM *float64                 `json:"axial_length_mm,omitempty"`
	Method        string                   `json:"method"`
	Cautions      []string                 `json:"cautions"`
}

// wrongMixture is what a mistake would do.
type wrongMixture struct {
	What             string            `json:"what"` // the mistake
	Percent          tamponade.Percent `json:"percent"`
	PeakPressureMMHg estimate.Estimate `json:"peak_pressure_mmhg"`
	HeldByWall       bool              `json:"held_by_wall"` // the bubble outgrows the cavity
}

// altitudeDocument is the answer about a journey for programs.
type altitudeDocument struct {
	Gas                tamponade.Agent          `json:"gas"`
	Fill               tamponade.PercentReading `json:"fill"`      // of the cavity, as written and as read
	CavityML           estimate.Estimate        `json:"cavity_ml"` // volume of the vitreous cavity
	PressureBeforeMMHg float64                  `json:"pressure_before_mmhg"`
	Route              []tamponade.Waypoint     `json:"route"`
	PressureRiseMMHg   estimate.Estimate        `json:"pressure_rise_mmhg"` // highest above that before
	PeakPressureMMHg   estimate.Estimate        `json:"peak_pressure_mmhg"`
	PeakAtMinutes      float64                  `json:"peak_at_minutes"`
	SealedRiseMMHg     estimate.Estimate        `json:"sealed_rise_mmhg"`     // when no fluid leaves the eye
	LowestPressureMMHg estimate.Estimate        `json:"lowest_pressure_mmhg"` // on the way down
	RuleRiseMMHg       estimate.Estimate        `json:"rule_rise_mmhg"`       // by the plain rule, where it holds
	FreeExpansion      float64                  `json:"free_expansion"`       // of gas that nothing holds, an upper bound
	Course             []tamponade.TravelPoint  `json:"course"`
	Verdict            string                   `json:"verdict"` // never a permission
	Reasons            []tamponade.Warning      `json:"reasons"`
	NitrousOxide       nitrousOxide             `json:"nitrous_oxide"`
	Assumed            []string                 `json:"assumed"` // what was not told
	Method             string                   `json:"method"`
	Cautions           []string                 `json:"cautions"`
}

// nitrousOxide is the answer about an anaesthetic with nitrous oxide. It is always no.
type nitrousOxide struct {
	Verdict string              `json:"verdict"`
	Reasons []tamponade.Warning `json:"reasons"`
}
