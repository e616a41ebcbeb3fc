// Package stats holds the statistics that a plan, an audit and a series of
// operations need: small numbers, counts of events, paired eyes, times that
// end early, records watched case by case.
//
// # What is computed
//
//	one proportion        [Proportion], [Wilson] (the default), [ClopperPearson], [MidP], [Jeffreys], [ZeroEventsUpper]; a rate: [PoissonRate]
//	two proportions       [NewcombeDifference], [NewcombePairedDifference], [FisherExact], [ChiSquareTable], [McNemar]
//	means and ranks       [PairedT], [WelchT], [WilcoxonSignedRank], [MannWhitney], [Pearson], [Spearman], [Kendall]
//	time to an event      [KaplanMeier], [LogRank], [Cox]
//	regression            [LinearRegression], [LogisticRegression], [FirthRegression], [BinomialRegression], [PoissonRegression]
//	units that resemble   [FitBinomialNormal], [FitBinomialNormalRegression], [FitBetaBinomial], [FitHierarchicalBinomial], [Pool], [FitHierarchicalNormal]
//	belief                [BetaDistribution], [ProbabilityGreater]
//	charts                [RiskAdjustedCUSUM], [RunLength], [LearningCurveCUSUM], [RiskAdjustedEWMAPath], [NewGapChart], [FunnelLimit]
//	planning              [SampleSizeForWidth], [PowerOfExactFlag], [RepeatedLooksError]
//	missing outcomes      [BoundMissing], [RateIfMissingDiffer], [PoolImputations]
//	agreement             [BlandAltman], [IntraclassCorrelation], [CohenKappa]
//
// # Method
//
// Exact distributions where they can be had, numerical integration to rounding
// where not, and normal approximations only where a function says so. Models
// are fitted by Newton's method in standardised units; a likelihood without a
// maximum is an error and not a large number. Special functions, matrices and
// quadrature points are gonum's. Nothing is drawn at random except in
// [SimulateRunLength], which takes its seed.
//
// # Assumptions and range
//
// Cases are independent unless a function says otherwise: two eyes of one
// person are not, and [RegressionModel.ClusterRobustErrors] is the least that
// is due to them. A p value or an interval that is looked at after every case
// does not mean what it says ([RepeatedLooksError]); a chart does. Counts go up
// to 2^40. Missing values are refused, so that the caller counts them.
//
// Limits that pass the ends of their range by construction (Wald,
// Agresti-Coull, funnel) are given as computed. Where a limit ends at 0 or 1
// because the quantity does, the function says so.
//
// # Checks
//
// Every row of testdata/stat-vectors.csv is recomputed: published figures, R
// 4.2.2, and the certified values of the NIST Statistical Reference Datasets.
// Properties and coverage are checked by simulation, and SciPy is asked where
// it is installed. Each function names its source and how it is known: read,
// abstract, secondary or from memory.
package stats
