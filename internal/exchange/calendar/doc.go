// Package calendar writes appointments as an iCalendar object, RFC 5545 (the
// standard's rules below are from memory; they are checked by another parser in
// the tests), for the calendar of a clinic or a patient.
//
// # What is written
//
// One VCALENDAR of VEVENTs, lines ended by CR LF and folded at 75 octets between
// characters, text escaped. A visit of a day is a DATE and does not take the day
// up (TRANSP:TRANSPARENT); one with a time is written in UTC, so that no zone
// table is needed: a local time that a change of clocks leaves out or has twice
// is refused. An alarm is a VALARM that displays, before the start.
//
// The UID of a visit stays the same for good and SEQUENCE counts its versions,
// so that a calendar replaces what it holds; DTSTAMP is the caller's time. The
// same input gives the same octets.
//
// # What is not
//
// Nothing identifying: the words for a visit name the side and the reason, and
// the UID is a digest of the entry's ID, from which the ID cannot be found. A
// name stands in a file only where the caller puts it into its own words. Every
// event is CLASS:PRIVATE. No METHOD is written and nothing is sent to anyone.
//
// # Refused
//
// Text that is not UTF-8 or holds control characters other than line feed and
// tab, which the standard has no place for; two events of one UID; no event at
// all; years other than 1 to 9999. On a fault nothing has been written.
package calendar
