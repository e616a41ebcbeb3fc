// Package acuity reads visual acuity as people write it and says what the
// writing means: a chart value with its logMAR, a category off the chart, a
// near value, something that cannot be used, or a question.
//
// # What is computed
//
//	MAR           detail size at the limit of reading, minutes of arc
//	decimal       V = 1 / MAR = test distance / Snellen denominator
//	logMAR        −log10(V) = log10(denominator / numerator)
//	letter score  L = 85 − 50·logMAR,  logMAR = (85 − L) / 50
//
// [Conversions] lists each rule with its range, source and how it is known.
//
// # What is never done
//
// A text with two readings is not guessed: its kind is [Ask] and the readings
// are listed. What cannot be read is [Unusable] with a reason; it is neither
// zero nor dropped. Light perception and no light perception have no logMAR.
// Counting fingers and hand movements get one only through a named
// [LowVisionScheme]. Near values need their reading distance. Chart lines off
// the 0.1 logMAR grid keep their exact value. The text as typed stays in
// [Entry.Raw].
//
// # Assumptions
//
// A missed or extra letter counts 0.02 logMAR whatever the line, because the
// chart is not known; Snellen lines do not have five letters, so such values
// are marked approximate and the credit can be switched off. A whole number of
// three or less without a unit, and any decimal number up to 2, can be decimal
// acuity or logMAR: [DecideNotation] decides for a whole column, never for one
// row. A fraction over 10 has the same acuity as tenths of decimal acuity and
// as a Snellen fraction; only its test distance is open.
//
// # Range of validity
//
// Accepted chart values lie between [MinLogMAR] and [MaxLogMAR]; outside, the
// text is unusable. Letter scores are 0 to 100; where the formula leaves that
// range no score is given.
package acuity
