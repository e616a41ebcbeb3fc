package stats

// window is where a log-concave function is worth adding up.
type window struct{ low, high, top float64 }

// negligible is the logarithm below the top at which an integrand is left out:
// e^−40 is beyond float64 beside one.
const negligible = 40

// concaveWindow finds the stretch around the top of a concave function f where
// it is within negligible of the top. guess and scale need only be of the
// right order.
func concaveWindow(f func(float64) float64, guess, scale float64) window {
	// Bracket the top by growing steps, then close in on it.
	low, high := guess-scale, guess+scale
	for step := scale; f(low) >= f(low+step/8) && step < 1e8; step *= 2 {
		low -= step
	}
	for step := scale; f(high) >= f(high-step/8) && step < 1e8; step *= 2 {
		high += step
	}
	at, top := goldenMaximum(f, low, high, 1e-4*scale)
	w := window{top: top}
	edge := func(sign float64) float64 {
		inside, outside := 0.0, scale
		for f(at+sign*outside) > top-negligible && outside < 1e9 {
			inside, outside = outside, 2*outside
		}
		for range 12 { // a rough edge is enough
			middle := (inside + outside) / 2
			if f(at+sign*middle) > top-negligible {
				inside = middle
			} else {
				outside = middle
			}
		}
		return at + sign*outside
	}
	w.low, w.high = edge(-1), edge(1)
	return w
}

// walk visits n+1 equally spaced points; their sum times step is the
// trapezium rule, which converges geometrically for smooth functions that have
// fallen off at both ends (Trefethen & Weideman, SIAM Rev 2014;56:385,
// doi:10.1137/130932132; from memory).
func (w window) walk(n int, visit func(x float64)) {
	for i := range n + 1 {
		visit(w.low + (w.high-w.low)*float64(i)/float64(n))
	}
}
