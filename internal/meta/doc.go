// Package meta holds the rules of this repository as tests, so that they run
// with go test on any machine and need no other tool.
//
// # What is ruled
//
// Imports go down only: sciences, then the record and the work, then the
// doors, then the commands; a science touches no file, network, clock, log or
// global random source. Every package has a doc.go and every exported
// identifier a comment that begins with its name. Files and functions stay
// short. No tracked file names a machine's own folders, a package registry or
// unfinished business. Test data says where it comes from and under which
// licence. Tests skip only for a reason that the test script can forbid.
//
// # Method
//
// Each rule is a function from sources to offences, one line each
// ("path:line: what"), and has a test of its own on a small bad sample: a rule
// that cannot fail is a defect. Exceptions stand in allow-lists with their
// reason; an exception that nothing needs any more is an offence itself.
//
// # Validity
//
// The rules read syntax, not types: a method value of the clock passed around
// under another name would not be seen. The compiled package is empty.
package meta
