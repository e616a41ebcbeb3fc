// Package follow finds what in the record waits for a person.
//
// # What is found
//
// [Look] goes through all eyes and lists three things that the tool must not
// settle by itself: entries that were changed by two people at once and are not
// decided ([store.Contest]); entries that disagree with each other, eye by eye
// (record.CheckCourse and record.CheckEyes: a removal before every filling,
// figures before their scan, two right eyes); and persons that may be one
// (record.ProposeDuplicates). Nothing is changed, least of all merged.
//
// # Range
//
// One snapshot of each eye, not one of all: what is written meanwhile may be in
// it or not. All persons are held in memory to compare them, about 1 kB each.
package follow
