package scan

// namedBytes is one input file taken into memory: its base name, used in
// messages and for ordering, and its content. Readers decide by Data, never by
// Name, what kind of file it is.
type namedBytes struct {
	Name string
	Data []byte
}
