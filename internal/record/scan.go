package record

import "limitans/eye"

// FileRef names a file in the vault by its content. Its original name may
// identify and stands in [FileOrigin].
type FileRef struct {
	SHA256    string `json:"sha256"` // lower-case hexadecimal
	Bytes     int64  `json:"bytes"`
	MediaType string `json:"media_type,omitempty"`
}

// Scan is one OCT volume or picture of an eye.
type Scan struct {
	Base
	PatientID ID      `json:"patient_id"`
	EyeID     ID      `json:"eye_id"`
	Taken     Date    `json:"taken"`
	TakenAt   Clock   `json:"taken_at,omitempty"`
	File      FileRef `json:"file"`
	Format    string  `json:"format,omitempty"` // as the reader names it
	// SideSources are all places that told the side; see [CheckSides].
	SideSources []SideSource `json:"side_sources,omitempty"`
	Slices      int          `json:"slices,omitempty"`
	Rows        int          `json:"rows,omitempty"`
	Columns     int          `json:"columns,omitempty"`
	// MicrometresPerSample along depth, lateral and between slices; nil where unknown.
	DepthUM   *float64 `json:"depth_um,omitempty"`
	LateralUM *float64 `json:"lateral_um,omitempty"`
	SliceUM   *float64 `json:"slice_um,omitempty"`
	// ScaleTrust says who told the scale, see the Scale constants.
	ScaleTrust string     `json:"scale_trust,omitempty"`
	Flipped    bool       `json:"flipped,omitempty"` // turned over on a person's yes
	Device     FreeText   `json:"device,omitempty"`
	Note       FreeText   `json:"note,omitempty"`
	Overrides  []Override `json:"overrides,omitempty"`
}

// Kind is [KindScan].
func (*Scan) Kind() Kind { return KindScan }

// Links tells what it belongs to.
func (s *Scan) Links() Links {
	return Links{PatientID: s.PatientID, EyeID: s.EyeID, Day: s.Taken, FileHashes: hashes(s.File.SHA256)}
}

// SideSource is one place that tells a side: the form, the header, the name of
// the file, a person who typed it.
type SideSource struct {
	Source SideFrom       `json:"source"`
	Text   FreeText       `json:"text"` // as it stood there
	Side   eye.Laterality `json:"side"`
}

// SideFrom names a place that tells a side.
type SideFrom string

// The places that tell a side.
const (
	SideFromForm   SideFrom = "form"
	SideFromHeader SideFrom = "file header"
	SideFromName   SideFrom = "file name"
	SideFromPlan   SideFrom = "plan"
	SideFromRecord SideFrom = "eye in the record"
	SideFromRow    SideFrom = "row of the sheet"
	SideTyped      SideFrom = "typed by a person"
)

// The words of [Scan.ScaleTrust], from best to none.
const (
	ScaleFromFile = "file"    // a standard attribute of the file gave it
	ScaleFromUser = "user"    // a person gave it
	ScaleAssumed  = "assumed" // a stated assumption
	ScaleUnknown  = "unknown" // no micrometres
)

// scaleTrustKnown reports one of the words, or none.
func scaleTrustKnown(word string) bool {
	switch word {
	case "", ScaleFromFile, ScaleFromUser, ScaleAssumed, ScaleUnknown:
		return true
	}
	return false
}
