package integrate

// The Dormand-Prince pair. matrix[6] is also the row of weights of order 5:
// the last stage of a step is the first of the next.
//
//	0    |
//	1/5  | 1/5
//	3/10 | 3/40        9/40
//	4/5  | 44/45      −56/15       32/9
//	8/9  | 19372/6561 −25360/2187  64448/6561 −212/729
//	1    | 9017/3168  −355/33      46732/5247   49/176  −5103/18656
//	1    | 35/384      0           500/1113    125/192  −2187/6784   11/84
//
// Source: Dormand and Prince 1980, doi 10.1016/0771-050X(80)90013-3; from
// memory, proven by the order conditions in the tests.
var (
	nodes  = [stages]float64{0, 1.0 / 5, 3.0 / 10, 4.0 / 5, 8.0 / 9, 1, 1}
	matrix = [stages][stages - 1]float64{
		{},
		{1.0 / 5},
		{3.0 / 40, 9.0 / 40},
		{44.0 / 45, -56.0 / 15, 32.0 / 9},
		{19372.0 / 6561, -25360.0 / 2187, 64448.0 / 6561, -212.0 / 729},
		{9017.0 / 3168, -355.0 / 33, 46732.0 / 5247, 49.0 / 176, -5103.0 / 18656},
		{35.0 / 384, 0, 500.0 / 1113, 125.0 / 192, -2187.0 / 6784, 11.0 / 84},
	}
	// errorWeights is order 5 minus order 4.
	errorWeights = [stages]float64{71.0 / 57600, 0, -71.0 / 16695, 71.0 / 1920, -17253.0 / 339200, 22.0 / 525, -1.0 / 40}
	// denseWeights make the polynomial between the ends of order 4.
	denseWeights = [stages]float64{
		-12715105075.0 / 11282082432, 0, 87487479700.0 / 32700410799, -10690763975.0 / 1880347072,
		701980252875.0 / 199316789632, -1453857185.0 / 822651844, 69997945.0 / 29380423,
	}
)
