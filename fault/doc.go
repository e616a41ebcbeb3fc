// Package fault is the one error type of limitans: a sentence for people and a
// code for programs.
//
// A fault says what is wrong, where, what was expected and how to mend it, in
// one line. Codes separate cases that callers treat differently: input that
// breaks its own format (Malformed) is not input that is valid but not
// supported (Unsupported), and neither is a use mistake (Invalid) or a scan
// that cannot be measured (NotMeasurable).
//
// Any error that is not a fault counts as Internal.
package fault
