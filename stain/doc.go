// Package stain prepares vital dyes for surgery of the macula: strengths both
// ways, mixing, glucose and osmolarity, contact times, and what must not go in.
//
// # Method
//
// A strength is weight by volume: 1 % is 1 g in 100 mL, 10 mg/mL. A bare number
// has two readings ten times apart and is asked back, never guessed. Mixing is by
// volume,
//
//	c = Σ V·c / Σ V,    osmolarity = Σ V·o / Σ V,
//
// and a solution's ideal osmolarity is 1000·Σ n·g/M, with n particles of molar
// mass M and g grams per litre. Real salt solutions reach about 0.93 of it; the
// interval goes down to there.
//
// A [Sheet] holds the recipe with its stops and warnings. A stop stands for a
// dye of the deny-list or of no list, for a strength with two readings or above
// the unit's limit, for a mixture below 257 mOsm/L (water alone always), for
// glucose from 10 % on, and for a contact longer than anything published; with
// indocyanine dyes also for glucose above 5 %, for more than 385 mOsm/L and for
// a sum of contacts above the limit of one.
//
// # Assumptions and validity
//
// Volumes add without shrinking; each is measured within 5 % (ours). Limits are
// published or customary ones as the tables say, line by line, and are shown to
// the surgeon as information; labels and the unit's protocol stand above them.
// Contact times of several applications are summed, never averaged. No figure
// here says that a dye is safe.
//
// # Sources
//
// Costa et al., IOVS 2009;50:385 (nine dyes in saline or glucose: 257 to 385
// mOsm); Maia 2011 (270 to 320 mOsm; both abstracts); Graefes 2010, doi
// 10.1007/s00417-010-1508-5 (glucose, abstract); the rest stands in the tables.
package stain
