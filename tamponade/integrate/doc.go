// Package integrate solves ordinary differential equations y' = f(t, y) from a
// given start, step by step, with a bound on the error of each step.
//
// # Method
//
// The explicit Runge-Kutta pair of Dormand and Prince, order 5 with an embedded
// order 4 (J Comput Appl Math 1980;6:19-26, doi 10.1016/0771-050X(80)90013-3;
// coefficients from memory, proven by the order conditions in the tests). The
// step is chosen by a proportional-integral rule (Gustafsson 1991, doi
// 10.1145/210232.210242; constants of Hairer, Nørsett and Wanner, Solving
// Ordinary Differential Equations I, second edition, section II.4 and IV.2;
// from memory). Between the ends of a step a polynomial of degree 4 is given
// (same book, section II.6), on which events are located.
//
// # Assumptions and validity
//
// Smooth right-hand sides. A jump in f belongs at the end of one call and the
// start of the next. A problem so stiff that the steps are ruled by stability
// is refused (fault code NotMeasurable) after a fixed number of steps instead
// of running for ever. The error bound holds for each step, not for the sum.
package integrate
