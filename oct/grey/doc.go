// Package grey shows samples of a scan as grey values.
//
// # Method
//
// A [Window] is the range of samples that is shown from black to white, linear
// between: for scans of 8 bits the whole range, for deeper ones from the darkest
// to the brightest thousandth of the samples ([WindowOf]; ours, no source),
// because a file of 16 bits rarely uses its range. All pictures of one scan have
// one window, so that slices can be compared.
//
// # Validity
//
// A picture is for looking; nothing is measured on it. Samples outside the window
// are black or white.
package grey
