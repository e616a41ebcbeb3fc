// Package estimate holds a number together with what is known about it.
//
// limitans never shows a clinical number alone: an [Estimate] carries a value,
// the 95 % interval around it and the basis, one sentence on where the
// interval comes from. A figure that could not be measured is also an
// estimate; its value is missing and its basis says why.
package estimate
