package tamponade

import (
	"fmt"
	"math"

	"limitans/fault"
)

// Wanted is a target with the hours of a day that it is to be covered.
type Wanted struct {
	Target Target
	Hours  float64
}

// Block is one part of a proposed day.
type Block struct {
	Position Position
	Hours    float64
	// Covers names the targets that the bubble touches meanwhile.
	Covers []string
}

// Rota is a proposed day for several targets.
type Rota struct {
	Blocks []Block
	// Conflict says that no single position covers all targets, so that they
	// take turns.
	Conflict bool
	// Short names the targets that get fewer hours than wanted, each with the
	// reason in words.
	Short []string
}

// ProposeRota proposes positions for a day in which every target is covered for
// the wanted hours with a bubble of a fill. A position that covers all targets
// is taken alone; otherwise positions take turns, each time the one that covers
// most of what is still wanted, and among equals the one nearest to upright,
// because it is borne longest. Lying on the back is never proposed: it never
// covers the macula and lays gas against the lens. A person who cannot lie in a
// position gets another proposal by leaving it out of positions; nil stands for
// [Positions].
func ProposeRota(wanted []Wanted, positions []Position, fill float64) (Rota, error) {
	if positions == nil {
		positions = Positions()
	}
	if len(wanted) == 0 || len(wanted) > 24 || len(positions) > 1000 {
		return Rota{}, &fault.Error{Code: fault.Invalid, Where: "rota", What: fmt.Sprintf("%d targets and %d positions", len(wanted), len(positions)), Expected: "1 to 24 targets, at most 1000 positions"}
	}
	for _, w := range wanted {
		if !(w.Hours > 0 && w.Hours <= 24) {
			return Rota{}, &fault.Error{Code: fault.Invalid, Where: "target " + w.Target.Name, What: fmt.Sprintf("%g hours cannot be wanted", w.Hours), Expected: "above 0, at most 24"}
		}
	}
	choices, err := rotaChoices(wanted, positions, fill)
	if err != nil {
		return Rota{}, err
	}
	rota := Rota{Conflict: len(wanted) > 1}
	for _, c := range choices {
		if c.count == len(wanted) {
			rota.Conflict = false
		}
	}
	missing := make([]float64, len(wanted))
	for i, w := range wanted {
		missing[i] = w.Hours
	}
	left := 24.0
	for left > 1e-9 {
		best, hours := bestChoice(choices, missing, left)
		if best < 0 {
			break
		}
		block := Block{Position: choices[best].position, Hours: hours}
		for i, covers := range choices[best].covers {
			if covers {
				missing[i] -= hours
				block.Covers = append(block.Covers, wanted[i].Target.Name)
			}
		}
		rota.Blocks = append(rota.Blocks, block)
		left -= hours
	}
	for i, w := range wanted {
		if missing[i] > 1e-9 {
			rota.Short = append(rota.Short, shortOf(w, i, choices, missing[i], fill))
		}
	}
	return rota, nil
}

// shortOf says why a target gets too few hours.
func shortOf(w Wanted, i int, choices []rotaChoice, missing, fill float64) string {
	for _, c := range choices {
		if c.covers[i] {
			return fmt.Sprintf("%s: %.3g of %.3g hours are missing, the day is not long enough", w.Target.Name, missing, w.Hours)
		}
	}
	return fmt.Sprintf("%s: no position on the list covers it at %.0f %% fill", w.Target.Name, 100*fill)
}

// rotaChoice is a position with what it covers.
type rotaChoice struct {
	position Position
	covers   []bool
	count    int
	strain   float64 // degrees away from upright
}

func rotaChoices(wanted []Wanted, positions []Position, fill float64) ([]rotaChoice, error) {
	var choices []rotaChoice
	for _, p := range positions {
		up, err := p.Up()
		if err != nil {
			return nil, err
		}
		c := rotaChoice{position: p, covers: make([]bool, len(wanted)), strain: math.Abs(math.Acos(math.Max(-1, math.Min(1, up.Y))))}
		for i, w := range wanted {
			if c.covers[i], err = Covers(p, w.Target, fill); err != nil {
				return nil, err
			}
			if c.covers[i] {
				c.count++
			}
		}
		if c.count > 0 && p.PitchDeg > -60 {
			choices = append(choices, c)
		}
	}
	return choices, nil
}

// bestChoice takes the position that covers most targets still wanted, then the
// least strain, for as long as the one of them that is wanted least.
func bestChoice(choices []rotaChoice, missing []float64, left float64) (best int, hours float64) {
	best = -1
	bestCount := 0
	for i, c := range choices {
		count, least := 0, left
		for k, covers := range c.covers {
			if covers && missing[k] > 1e-9 {
				count++
				least = math.Min(least, missing[k])
			}
		}
		if count == 0 {
			continue
		}
		if count > bestCount || count == bestCount && c.strain < choices[best].strain-1e-9 {
			best, bestCount, hours = i, count, least
		}
	}
	return best, hours
}
