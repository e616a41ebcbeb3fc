package acuity

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
)

// Moments are mean and spread of logMAR. MeanLogMAR and SDLogMAR are NaN when
// there are too few values (none, and fewer than two).
type Moments struct {
	N           int
	MeanLogMAR  float64
	SDLogMAR    float64 // sample standard deviation, n − 1; logMAR only, never as Snellen
	MeanDecimal float64 // the mean converted back, which is the geometric mean of decimal acuity
	MeanLetters float64 // 85 − 50·mean; NaN when off the letter chart
}

// MarshalJSON writes numbers that are missing as null.
func (m Moments) MarshalJSON() ([]byte, error) {
	number := func(x float64) *float64 {
		if !finite(x) {
			return nil
		}
		return &x
	}
	return json.Marshal(struct {
		N           int      `json:"n"`
		MeanLogMAR  *float64 `json:"mean_logmar"`
		SDLogMAR    *float64 `json:"sd_logmar"`
		MeanDecimal *float64 `json:"mean_decimal"`
		MeanLetters *float64 `json:"mean_letters"`
	}{m.N, number(m.MeanLogMAR), number(m.SDLogMAR), number(m.MeanDecimal), number(m.MeanLetters)})
}

// SchemeMoments are the moments when a scheme's values stand in for counting
// fingers and hand movements.
type SchemeMoments struct {
	Scheme      LowVisionScheme
	Moments     Moments
	Substituted int // eyes with a substitute among N
	LeftOut     int // counting fingers or hand movements the scheme has no value for
}

// Summary describes several entries, one per eye and time.
type Summary struct {
	N      int          // entries given
	Counts map[Kind]int // by kind; kinds that do not occur are absent
	Roles  map[Role]int

	// Measured holds the chart values only. It leaves out the eyes off the
	// chart, so it looks better than the group when Counts shows such eyes.
	Measured Moments
	// Substituted repeats the mean with each low-vision scheme; light
	// perception and no light perception stay out. Empty when no eye counts
	// fingers or sees hand movements.
	Substituted []SchemeMoments

	// Ranked counts the entries with a place in the order; MedianLow and
	// MedianHigh are the two middle ones (the same when Ranked is odd), nil
	// when nothing is ranked. Median says it in words.
	Ranked     int
	MedianLow  *Entry
	MedianHigh *Entry
	Median     string

	Notes []string
}

// OrderKey returns the place of an entry in the order from best to worst sight,
// and false when it has none (near, unusable, ask). Chart values come first, by
// logMAR; then counting fingers, hand movements, light perception and no light
// perception, whatever the scheme. The key is for ranks and medians, never for
// means: the categories' keys are arbitrary numbers above every logMAR.
func OrderKey(e Entry) (float64, bool) {
	switch e.Kind {
	case Measured:
		if e.LogMAR != nil {
			return *e.LogMAR, true
		}
	case CountingFingers:
		return 10, true
	case HandMovements:
		return 11, true
	case LightPerception:
		return 12, true
	case NoLightPerception:
		return 13, true
	}
	return 0, false
}

// Summarise counts entries by kind and role, averages logMAR over measured
// values, repeats the average with each low-vision scheme, and gives the median
// by rank. Entries are not changed. Sources: Holladay 1997, J Refract Surg
// 13:388 and 2004, J Cataract Refract Surg 30:287 (averages in logMAR;
// abstract); the handling of categories as in the package comment.
func Summarise(entries []Entry) Summary {
	s := Summary{N: len(entries), Counts: map[Kind]int{}, Roles: map[Role]int{}}
	var measured []float64
	var ranked []Entry
	for _, e := range entries {
		s.Counts[e.Kind]++
		if _, ok := OrderKey(e); !ok {
			continue
		}
		s.Roles[e.Role]++
		ranked = append(ranked, e)
		if e.Kind == Measured {
			measured = append(measured, *e.LogMAR)
		}
	}
	s.Measured = moments(measured)
	if s.Counts[CountingFingers]+s.Counts[HandMovements] > 0 {
		for _, v := range Schemes() {
			s.Substituted = append(s.Substituted, substituted(entries, measured, v.Scheme))
		}
	}
	s.rank(ranked)
	s.warn()
	return s
}

func substituted(entries []Entry, measured []float64, scheme LowVisionScheme) SchemeMoments {
	out := SchemeMoments{Scheme: scheme}
	values := slices.Clone(measured)
	for _, e := range entries {
		if e.Kind != CountingFingers && e.Kind != HandMovements {
			continue
		}
		if logMAR, ok := scheme.LogMAR(e.Kind, e.DistanceM); ok {
			values = append(values, logMAR)
			out.Substituted++
		} else {
			out.LeftOut++
		}
	}
	out.Moments = moments(values)
	return out
}

func moments(x []float64) Moments {
	nan := math.NaN()
	m := Moments{N: len(x), MeanLogMAR: nan, SDLogMAR: nan, MeanDecimal: nan, MeanLetters: nan}
	if len(x) == 0 {
		return m
	}
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	m.MeanLogMAR = sum / float64(len(x))
	m.MeanDecimal = DecimalFromLogMAR(m.MeanLogMAR)
	if letters, err := LettersFromLogMAR(m.MeanLogMAR); err == nil {
		m.MeanLetters = letters
	}
	if len(x) > 1 {
		squares := 0.0
		for _, v := range x {
			squares += (v - m.MeanLogMAR) * (v - m.MeanLogMAR)
		}
		m.SDLogMAR = math.Sqrt(squares / float64(len(x)-1))
	}
	return m
}

func (s *Summary) rank(ranked []Entry) {
	s.Ranked = len(ranked)
	if s.Ranked == 0 {
		s.Median = "no entry with a rank"
		return
	}
	slices.SortStableFunc(ranked, func(a, b Entry) int {
		x, _ := OrderKey(a)
		y, _ := OrderKey(b)
		switch {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	low, high := ranked[(s.Ranked-1)/2], ranked[s.Ranked/2]
	s.MedianLow, s.MedianHigh = &low, &high
	switch {
	case low.Kind == Measured && high.Kind == Measured:
		s.Median = fmt.Sprintf("logMAR %.2f", (*low.LogMAR+*high.LogMAR)/2)
	case low.Kind == high.Kind:
		s.Median = low.Kind.words()
	default:
		s.Median = "between " + rankWords(low) + " and " + rankWords(high)
	}
}

func rankWords(e Entry) string {
	if e.Kind == Measured {
		return fmt.Sprintf("logMAR %.2f", *e.LogMAR)
	}
	return e.Kind.words()
}

func (s *Summary) warn() {
	offChart := s.Counts[CountingFingers] + s.Counts[HandMovements] + s.Counts[LightPerception] + s.Counts[NoLightPerception]
	if offChart > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("%d of %d ranked eyes are off the chart: read the median and the counts beside any mean", offChart, s.Ranked))
	}
	if n := s.Counts[LightPerception] + s.Counts[NoLightPerception]; n > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("%d with light perception or none are in no mean", n))
	}
	if n := s.Counts[Unusable] + s.Counts[Ask]; n > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("%d without a value: %d unusable, %d to ask about", n, s.Counts[Unusable], s.Counts[Ask]))
	}
	if s.Counts[Near] > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("%d near values left out", s.Counts[Near]))
	}
	if len(s.Roles) > 1 {
		s.Notes = append(s.Notes, fmt.Sprintf("roles are mixed: %d corrected, %d uncorrected, %d pinhole, %d unknown",
			s.Roles[Corrected], s.Roles[Uncorrected], s.Roles[Pinhole], s.Roles[RoleUnknown]))
	}
}
