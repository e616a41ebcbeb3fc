// Package evidence holds what is published on the results of macular surgery,
// pools it, and tells the closure that can be expected of a hole of a given
// size.
//
// # The table
//
// [Rows] gives 152 published groups of eyes with counts, source and how each is
// known: abstract or secondary; counts that were derived from a percentage and
// references recalled from memory are marked and can be left out ([Filter]). A
// row without a source is refused. [Corrections] lists every change made to the
// table with its reason.
//
// # Pooling
//
// [Units] makes the units that may be added: one a study, never a total beside
// its own strata, never two rows whose eyes may be the same, never a
// meta-analysis beside studies. [Pool] fits
//
//	rᵢ ~ Binomial(nᵢ, pᵢ),  logit pᵢ ~ Normal(μ, σ²)
//
// with exact binomial likelihood, integrated numerically, without continuity
// corrections. The middle unit has a profile-likelihood interval; spread and the
// range of a new unit are posterior (prior of σ: half-normal of 1), because few
// studies put the likelihood's spread at zero. One study alone keeps its own
// exact interval (Clopper and Pearson).
//
// # Closure by size
//
// [FitClosure] fits, to the published strata of membrane peel with gas or air,
//
//	logit p = α + β·(d − 500 µm)/100 µm + γ·[air] + u_study,  u ~ Normal(0, τ²)
//
// where the closure of a stratum is the mean of p over the diameters d in it: a
// lognormal with the printed mean and standard deviation, or those of a cohort
// of the trade where none is printed, cut at the stratum's ends. Flap, no peel,
// no face-down posture and duration enter as odds ratios of the published
// analyses of individual patients ([Effects]) and are not fitted, so that no
// trial counts twice. The posterior is sampled (importance sampling from a
// multivariate t, seed given); studies' u are integrated out.
//
// Prior: α ~ Normal(0, 5²), β ~ Normal(0, 1²), γ ~ Normal(0, 2²), τ half-normal
// of 1: weak beside the data (ours, no source).
//
// # Range of validity
//
// Minimum linear diameters from 150 to 1000 µm, primary holes, adults; below
// and above the published strata hold too few eyes and the answer is refused.
// The flap's odds ratio rests on few eyes below 400 and from 900 µm. Most rows
// are not randomised and some are of one surgeon; publication favours success.
// An expectation is for planning, and no promise to one eye.
//
// # Checks
//
// Pooled figures and posterior against R (testdata); each stratum predicted
// from the others ([Closure.LeaveOneOut]; docs/closure-calibration.png, drawn by
// `limitans evidence check --figure`); rates published without counts and the
// published slope beside the fitted curve.
package evidence
