// Package decide goes from the findings of one eye to a list of ways to treat
// it, each with what is done, what can be expected, what it costs, what it needs
// and why or why not.
//
// # The table
//
// What is offered, in which place and for which reasons stands in data/rules.csv,
// one row a statement, with its source and how that is known; data/README.md
// describes the columns. Limits such as the size from which a flap comes first
// stand in data/limits.csv, findings with their words in data/findings.csv. Go
// code reads the table and knows no medicine: a row is changed there.
//
// A row holds when all parts of its condition hold. A finding that was not told
// is neither yes nor no: only rows that ask for "unknown" hold then. A diameter
// is a distribution: its normal error, with that of one reading by a person
// (11 µm), is cut at the table's limits, the table is asked in every range, and
// rows carry the probability of the ranges in which they hold. Findings that
// contradict each other are a fault of code Conflict; nothing is corrected
// silently.
//
// # Order
//
// [OrderRule]. There is no score: an option stands where a row puts it, and the
// row is named. The surgeon may pick any option or another one.
//
// # What is expected
//
// A row names where an option's number comes from: the curve of closure over
// size, a pool of published groups, or single rows (package evidence). Where
// none supports a number the estimate is missing and says why. The closure of a
// hole whose diameter is uncertain has the range from both ends of the
// diameter's interval.
//
// An own series is weighed with what is published by a beta-binomial model: the
// share of a unit not yet seen, as the curve or the pool tells it, is taken for
// the beta distribution of the same mean and the same width of the central 95 %,
// and own counts update it,
//
//	p ~ Beta(a, b),  own k of n:  p | k ~ Beta(a + k, b + n − k).
//
// One published group alone, or groups that are all alike, do not tell how units
// differ; own results then stand beside them unweighed.
//
// Acuity: the mean that a new group would have, from published group means
// m₁…m_k, k ≥ 3, unweighted:
//
//	mean ± t(0.975, k−1)·s·√(1 + 1/k)
//
// because the scatter between patients was not printed in what was read.
//
// # Range of validity
//
// Adults. Conditions are those of [Condition]. Most published comparisons are
// not randomised; many rows of the table are common practice without a source
// and say so. The table supports a surgeon's decision and makes none.
//
// # Checks
//
// Hand-checked eyes in testdata/vignettes, among them every trade check; the
// weighing and group means against R.
package decide
