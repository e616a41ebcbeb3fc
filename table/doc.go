// Package table reads the small tables from the literature that the sciences
// carry with them as comma-separated text.
//
// A table has a heading and at least one row, all of one width. Nothing is
// guessed: a row of another width, a cell that is no number or a table without
// rows is a fault of this program, because the tables are built into it. The
// form is RFC 4180 as package encoding/csv reads it.
package table
