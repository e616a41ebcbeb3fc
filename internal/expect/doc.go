// Package expect holds what the tests of several sciences say in the same words:
// that a number lies near another, and that a call must succeed. Only tests
// import it.
package expect
