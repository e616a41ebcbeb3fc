// Package paper makes the sheets that leave the screen: theatre sheet, mixing
// sheet and kit list for the people in the theatre, leaflet and wallet card for
// the patient.
//
// # One source
//
// An input ([Theatre], [Mixing], [Kit], [Leaflet], [Card]) is plain texts,
// figures and results of the sciences. Its Document method checks it and makes a
// [Document], blocks below each other; [Document.PDF] sets them on A4 or Letter,
// [Document.HTML] writes the same blocks as a page to read and print. No number
// is computed here but the level that a patient sees ([SeenFromFill]); the rest
// come from package tamponade, stain and oct/measure as the commands print them.
//
// # What every sheet promises
//
//   - The name of the patient and the side stand large in the head of every
//     page and again in its foot; cautions and the moment of printing in the foot.
//   - It is made for a black-and-white printer: roles are told by shape and word.
//   - A figure has its interval or says why it is not known.
//   - Nothing is cut: what does not fit one page goes on a second one that is
//     announced on the first; a text that fits no page is a fault.
//   - A telephone that is not told is a line to write on; no number stands in for it.
//     So is the patient of a mixing sheet that is made before there is one.
//   - A name is set as its script wants it; a letter that no font holds is a
//     fault and never a box.
//   - A recipe with a standing stop prints the stop and no numbers.
//   - A signed plan names its version; one that was replaced says so in a black
//     bar over the page.
//   - The same input gives the same bytes; time is part of the input.
//
// # Frames
//
// Sides are the patient's. The two small eyes beside the side are drawn as the
// patient faces the reader, so the right eye stands at the left. The circles of
// the leaflet are the patient's own view, head upright, so that in a right eye
// the nose lies at the left; see [SeenFromFill] for up and down.
//
// # Words
//
// What a patient reads comes from [Words], one file a language; only English is
// there. Sheets for the theatre are in English.
//
// # Sources
//
// Hazards of gas: Royal College of Ophthalmologists, safety alert of 18 December
// 2018 (secondary); Br Dent J 2008, doi 10.1038/bdj.2008.158 (full text), where a
// patient had been told of flying and not of anaesthetics; air counts as gas,
// J Med Case Rep 2025;19:11, doi 10.1186/s13256-024-05017-w (full text).
// Elbows: Holekamp et al., Arch Ophthalmol 1999;117:1607 (abstract). Clots: Wang
// et al., Taiwan J Ophthalmol 2016;6:96 (full text). Oil mistaken in scans of the
// head: Haldar et al., BMJ Case Rep 2018 (abstract). Not lying on the back, not
// driving, when to get help: common practice, no source. The wording is ours and
// was not tried with patients.
package paper
