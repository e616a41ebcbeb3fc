// Package limitans holds the texts that the program must carry with it: its
// licence and the notices of the software of others that is linked into it. It
// computes nothing.
package limitans
