// Package intake brings files into the record: scans, films and documents, and
// the figures that are measured on a scan.
//
// # Keeping
//
// [Intake.Keep] looks at a file, streams it into the vault, and writes in one
// transaction the clinical noun, the origin of the file (its name and what its
// header says of a person, apart from the clinical noun) and, for a scan, the
// job that measures it. Before anything is kept:
//
//   - every place that tells a side is asked: the form or the eye that was
//     opened, the header, the name of the file. When they disagree nothing is
//     kept until a person has typed the side and a reason (record.CheckSides);
//   - the date of birth in a header is held against that of the person. Another
//     date stops; another number is told, because devices number by themselves;
//   - the same content of the same eye is kept once. The same content in another
//     eye stops: a scan shows one eye, and one of the two is a mistake.
//
// A scan is looked at as its content alone, without its name, its folder or a
// side file beside it, because that is what is measured later. Where a side
// file lies beside it [OpenFile] refuses: a zip of both carries what it says.
//
// # Measuring
//
// A job of the kind "scan.measure" takes a scan from the vault, each byte
// compared with its hash, measures it (package oct/measure) with the axial
// length of the eye where the rules of the record allow that
// (record.UsableAxialLength), and writes the figures. Where the record has axial
// lengths and none may be used, that in the header of the scan is not used
// either: it is likely to be the same measurement.
//
// The figures are written under the lock of the record after a look for figures
// of the same scan, program version and axial length, so that a job that runs
// twice, in one process or in two, leaves one set of figures. They are not
// written with the end of the job in one transaction; a process that is killed
// between the two leaves a job that is run again and finds its figures.
//
// # Memory
//
// A film is never in memory; nor is a scan while it is kept, but for its header,
// and its pixels where they are few (see headMost and glanceLimits). A scan too
// large for that tells its size and scale when it is measured, which takes the
// memory of the whole volume.
//
// # Validity
//
// A scan is one file; a folder of slices is packed into a zip first. A film is
// one clip. What was stored in the vault and then refused by the record stays
// in the vault, referred to by nothing.
package intake
