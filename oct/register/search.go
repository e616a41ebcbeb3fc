package register

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"

	"limitans/estimate"
)

// search looks for the motion that lays field a on field b.
type search struct {
	a, b  *field
	known int // places of the smaller field that are known
	left  int // quarter of a that is left out, −1 for none
}

func (s *search) count() int {
	n := func(f *field) int {
		k := 0
		for _, x := range f.value {
			if x == x {
				k++
			}
		}
		return k
	}
	return max(1, min(n(s.a), n(s.b)))
}

// match is the normalised cross-correlation at a motion, and the share of the
// smaller field that was compared. Too little overlap gives −1.
func (s *search) match(m motion) (correlation, overlap float64) {
	sin, cos := math.Sincos(m.turn * math.Pi / 180)
	var n, sa, sb, saa, sbb, sab float64
	total := 0
	for row := range s.a.rows {
		for c := range s.a.columns {
			va := s.a.value[row*s.a.columns+c]
			if va != va {
				continue
			}
			x, y := s.a.place(row, c)
			vb := s.b.interpolated(x*cos-y*sin+m.x, x*sin+y*cos+m.y)
			if vb != vb {
				continue
			}
			total++
			if s.left >= 0 && quarter(x, y) == s.left {
				continue
			}
			n++
			sa, sb, saa, sbb, sab = sa+va, sb+vb, saa+va*va, sbb+vb*vb, sab+va*vb
		}
	}
	overlap = float64(total) / float64(s.known)
	va, vb := saa-sa*sa/n, sbb-sb*sb/n
	if overlap < leastOverlap || !(va > 0) || !(vb > 0) {
		return -1, overlap
	}
	return (sab - sa*sb/n) / math.Sqrt(va*vb), overlap
}

// quarter numbers the quarters of the first scan.
func quarter(x, y float64) int {
	q := 0
	if x > 0 {
		q++
	}
	if y > 0 {
		q += 2
	}
	return q
}

// tried is a motion with its match.
type tried struct {
	motion
	match float64
}

// all matches many motions on all processors; the result is in their order.
func (s *search) all(ctx context.Context, motions []motion) ([]tried, error) {
	out := make([]tried, len(motions))
	var group sync.WaitGroup
	workers := runtime.GOMAXPROCS(0)
	for w := range workers {
		group.Go(func() {
			for i := w; i < len(motions) && ctx.Err() == nil; i += workers {
				c, _ := s.match(motions[i])
				out[i] = tried{motions[i], c}
			}
		})
	}
	group.Wait()
	return out, ctx.Err()
}

func best(all []tried) tried {
	return slices.MaxFunc(all, func(a, b tried) int {
		switch {
		case a.match < b.match:
			return -1
		case a.match > b.match:
			return 1
		}
		return 0
	})
}

// everywhere searches the whole range on a coarse field and refuses a best
// place that does not stand out.
func (s *search) everywhere(ctx context.Context) (motion, error) {
	const turnStep = 2.0
	var motions []motion
	reach := int(mostShiftUM / s.a.step)
	across, down := float64(max(s.a.columns, s.b.columns)), float64(max(s.a.rows, s.b.rows))
	for turn := -mostTurnDeg; turn <= mostTurnDeg; turn += turnStep {
		for j := -reach; j <= reach; j++ {
			for i := -reach; i <= reach; i++ {
				if (across-math.Abs(float64(i)))*(down-math.Abs(float64(j))) < leastOverlap/2*across*down {
					continue // far too little in common, however it is turned
				}
				motions = append(motions, motion{float64(i) * s.a.step, float64(j) * s.a.step, turn})
			}
		}
	}
	all, err := s.all(ctx, motions)
	if err != nil {
		return motion{}, err
	}
	top := best(all)
	next := 0.0
	for _, t := range all {
		if math.Hypot(t.x-top.x, t.y-top.y) > elsewhereUM {
			next = math.Max(next, t.match)
		}
	}
	if top.match < standsOut*next {
		return motion{}, noMatch(fmt.Sprintf("two places match alike (%.2f and %.2f)", top.match, next), fmt.Sprintf("the best %.2f times as good as the next", standsOut))
	}
	return top.motion, nil
}

// near searches round a motion, then places the top between the grid points.
func (s *search) near(ctx context.Context, from motion) (motion, error) {
	const turnStep, turns, shifts = 0.5, 4, 3
	var motions []motion
	for k := -turns; k <= turns; k++ {
		for j := -shifts; j <= shifts; j++ {
			for i := -shifts; i <= shifts; i++ {
				motions = append(motions, motion{from.x + float64(i)*s.a.step, from.y + float64(j)*s.a.step, from.turn + float64(k)*turnStep})
			}
		}
	}
	all, err := s.all(ctx, motions)
	if err != nil {
		return motion{}, err
	}
	return s.top(best(all).motion, turnStep), nil
}

// top moves a motion to the top of the parabola through it and its neighbours,
// along each of the three in turn, twice.
func (s *search) top(m motion, turnStep float64) motion {
	for range 2 {
		for _, axis := range []struct {
			of   *float64
			step float64
		}{{&m.x, s.a.step}, {&m.y, s.a.step}, {&m.turn, turnStep}} {
			at := *axis.of
			value := func(d float64) float64 {
				*axis.of = at + d
				c, _ := s.match(m)
				return c
			}
			below, here, above := value(-axis.step), value(0), value(axis.step)
			*axis.of = at
			if curve := below - 2*here + above; curve < 0 {
				*axis.of = at + axis.step*math.Max(-1, math.Min(1, (below-above)/(2*curve)))
			}
		}
	}
	return m
}

// jackknife fills in shift and turn with the intervals that leaving out each
// quarter gives: variance = (k−1)/k · Σ(θᵢ − mean)², k = 4.
func (s *search) jackknife(ctx context.Context, found motion, m *Motion) error {
	const k = 4
	var parts [k]motion
	for q := range k {
		if err := ctx.Err(); err != nil {
			return err
		}
		one := *s
		one.left = q
		parts[q] = one.top(found, 0.5)
	}
	spread := func(of func(motion) float64, least float64) float64 {
		mean, sum := 0.0, 0.0
		for _, p := range parts {
			mean += of(p) / k
		}
		for _, p := range parts {
			sum += (of(p) - mean) * (of(p) - mean)
		}
		return math.Hypot(math.Sqrt((k-1.0)/k*sum), least)
	}
	const basis = "correlation of the band at the pigment epithelium; interval by leaving out each quarter of the overlap"
	// What rounding to the grid leaves: a tenth of a step at the top of a parabola.
	least := s.a.step / 10
	m.XUM = estimate.Normal(found.x, spread(func(p motion) float64 { return p.x }, least), basis)
	m.YUM = estimate.Normal(found.y, spread(func(p motion) float64 { return p.y }, least), basis)
	m.TurnDeg = estimate.Normal(found.turn, spread(func(p motion) float64 { return p.turn }, 0.05), basis)
	return nil
}
