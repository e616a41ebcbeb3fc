// Package report renders the result of a measurement for people as plain text
// and for programs as a JSON document. Both carry the standing cautions; every
// figure carries its 95 % interval, and a figure that is missing says why.
// Nothing is computed here.
package report
