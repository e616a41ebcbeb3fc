// Package pgtest gives tests a real PostgreSQL.
//
// # What it gives
//
// Database is the address of a fresh, empty database that is dropped when the
// test ends. Start is a server of the test's own, with or without real
// durability, that can be killed as a power cut would and started again on the
// same data.
//
// # Method
//
// Where LIMITANS_POSTGRES holds the address of a server whose user may create
// databases, Database uses that one. Otherwise the first call starts one
// throw-away server for the test process, from the programs of a Debian
// package or of PATH: initdb into a scratch folder, as the user postgres when
// the tests run as root (the server refuses root), on the loopback interface,
// on a free port, with a password made for it.
//
// A server outlives no test process: a watchman, a small shell that holds the
// other end of a pipe, stops it and removes its folder when the process ends
// in whatever way, a panic, a time-out and SIGKILL included.
//
// The shared server runs with fsync off, which is faster and loses nothing
// that matters when only processes die. Its default collation is that of
// English and not that of bytes, so that a query which leaves its order to the
// server's default is seen in tests.
//
// # Validity
//
// Unix only. Where PostgreSQL is not installed a test is skipped, and fails
// when LIMITANS_ORACLES is "required".
package pgtest
