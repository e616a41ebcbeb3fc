// Package record holds the nouns of a macular surgeon's record as plain values:
// patient, eye, scan, hole figures, plan, operation, visit, agents, document,
// film, and what is valid about them. It knows no database, file or clock;
// times and randomness come in as arguments.
//
// # Identifiers apart
//
// What tells who somebody is (names, birth date, numbers, contact, distance)
// stands in [Person] and [FileOrigin]; what happened to the eyes stands in the
// clinical nouns, which point at a [Patient] that has no name. A de-identified
// view is a query that reads the kinds of [Kinds] that are not Identifying and
// passes them through [DeIdentify]. Clinical facts name those who acted by
// account, never by name.
//
// # Stored nouns
//
// Every noun that is stored is an [Entity]: it has an [ID], a version that the
// store counts, and nothing is deleted: a mistaken entry is struck out with a
// reason ([StrikeOut]) and stays legible.
//
// # Days
//
// Days of the trade are [Date], never a time: they may be known in part, and
// keep the text they came from. [ParseDate] asks when two readings are possible.
//
// # Validity
//
// Checks return [Finding] values: a stop, a question or a warning, with what
// was found and how to mend it. Nothing is corrected silently. Some stops can
// be overridden with a typed reason that stays in the record ([Override]).
package record
