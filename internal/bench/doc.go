// Package bench holds the calculators that need no patient: bubble, mixture,
// height, flow, light, dye, ports, acuity and closure. Each is a [Question] as
// people put it, with the flags of the command of the same name as its fields,
// and an [Answer]: a [Sheet] for people, a document for programs and, where there
// is one, a drawing.
//
// The commands print answers, the pages of the bench and the stations of an eye
// show them; neither computes. The numbers are those of the sciences
// (limitans/tamponade, fluidics, light, stain, eye, acuity, evidence), whose
// documentation states method, error, range of validity and sources.
//
// # Faults
//
// What cannot be asked is a fault of code Invalid whose place is the flag,
// "--percent", so that a command names it and a page finds its field ([Field]).
// What stops an act is no fault: it stands on the sheet, and [Answer.Stopped]
// says so in one line.
package bench
