// Package demo invents a clinic: the Harbour Eye Unit of Port Selvane, a town
// that is on no map, with its staff, its batches of agents and its patients from
// the first visit to the last or to the day they stopped coming.
//
// # What it is for
//
// A person who looks at the tool for the first time sees a unit at work without
// seeing anybody's data; tests and benchmarks get a record of any size. Nothing
// in it is evidence: sizes, sight, pressures, closures and delays are drawn from
// plausible ranges by hand (common practice, no source) and no published figure
// is computed from them.
//
// # Method
//
// [New] takes a number of patients, a seed and the day that counts as today.
// Each patient has a stream of random numbers of its own, made from the seed and
// the patient's number, so that the clinic is the same on every run, patient k
// does not depend on how many there are, and a million can be told one after the
// other without being held in memory. A patient follows one course of the table
// [Courses]; what would happen after today has not happened yet, what a patient
// who stays away would have done is missing, as in life.
//
// How much gas or air a visit finds is the one thing that is computed: each filled
// eye follows one course sampled by package limitans/tamponade for its mixture and
// lens, and a reading misses it by the error that is stored with it. One patient is
// operated with gas a few days before today, whatever the day.
//
// Names are built from words that say that they are invented.
//
// # Assumptions and range
//
// 1 to 1,000,000 patients. The first visits lie up to four years before today.
// Everybody is seen by the same few people. Scans are phantoms (package
// limitans/oct/phantom) drawn to the size that the course tells.
package demo
