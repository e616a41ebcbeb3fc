// Command limitans is the command line of limitans: one file a verb, no logic of
// its own. A verb parses its flags, calls the packages below and prints.
//
// Results go to standard output, progress and the one line that says what went
// wrong to standard error. Exit codes: 0 done, 1 could not measure, 2 wrong use,
// 3 an answer that says stop.
package main
