// Package tamponade computes what fills an eye after vitrectomy: how a gas
// bubble exchanges with blood, how large it is and when, which pressure it
// makes, which part of the retina it covers in which position, and how sure
// all that is.
//
// # Exchange
//
// The bubble holds amounts n of nitrogen, oxygen, carbon dioxide, nitrous oxide
// and one or more long-acting gases, saturated with water vapour at 37 °C. Each
// species has the partial pressure p = n/V. Its exchange with the tissue is
//
//	dn/dt = −g·S·(p − t),    Σ p = ambient + intraocular pressure − 47 mmHg
//
// with conductance g, tissue tension t, and S the share of the bubble's full
// exchange: its share of the cavity's volume (the published first-order law)
// or of the cavity's wall (contact-area law: Hartmann 2013, doi
// 10.5693/djo.01.2013.01.002; Bahill 2016, doi
// 10.18488/journal.9/2016.3.5/; abstracts). Aqueous humour flows in, and out
// by the pressure over the episcleral veins; what the bubble's change does not
// find room for raises the pressure. [Run] integrates this; [Fast] is its
// closed form at constant pressure, which answers in microseconds.
//
// # Calibration
//
// Conductances were fitted to the half-lives that people's eyes showed
// (Thompson 1989, doi 10.1001/archopht.1989.01070010705031; 1992, doi
// 10.1001/archopht.1992.01080230094028; abstracts); see [ExchangeParameters]
// and the table of published against computed values in [Comparison]. The
// published half-life of a mixture describes a course as if it were
// first-order, which it is not; [ApparentHalfLife] is therefore the mean of the
// first two halvings, counted from surgery.
//
// # Uncertainty
//
// [Sample] draws what is not known of an eye: its exchange, the fill, the
// mixture, the pressure, and which of the two laws it follows; every date that
// the [Courses] are asked for comes with the 2.5th and 97.5th percentile.
// [SampleSeen] narrows the samples by what was
// seen at visits (Bayes' rule, adaptive importance sampling) and calls a leak
// what exchange cannot explain. On simulated patients with known truth the
// intervals hold the truth in 93 to 97 of 100.
//
// # Posture
//
// The level is flat and the cavity a sphere: the bubble covers a cap of the
// wall round the point that is uppermost. [Position] gives that point for a
// head position, [MinimumFill] the fill that covers a target in it,
// [HoursOfSupport] the hours of a day's diary, [ProposeRota] a day for targets
// that want different positions.
//
// # Mixing, altitude, oil
//
// The files mixing*.go, altitude*.go, peak.go and oil*.go say their own method.
//
// # Range of validity
//
// Complete vitrectomy, one bubble, sea level to about 3,000 m of residence.
// Gas in an eye with vitreous (pneumatic retinopexy) exchanges by other areas:
// expansion is over-predicted by up to half (see Comparison). No date computed
// here is a permission to fly, to be given nitrous oxide or to dive: only an
// eye doctor who has seen the eye empty can end that.
package tamponade
