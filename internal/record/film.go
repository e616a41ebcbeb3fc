package record

// Film is the recording of an operation: one or more clips in their order.
type Film struct {
	Base
	PatientID   ID        `json:"patient_id"`
	EyeID       ID        `json:"eye_id"`
	OperationID ID        `json:"operation_id,omitempty"`
	On          Date      `json:"on"`
	Clips       []Clip    `json:"clips,omitempty"`
	Chapters    []Chapter `json:"chapters,omitempty"`
	// SideSources are all places that told the side; see [CheckSides].
	SideSources []SideSource `json:"side_sources,omitempty"`
	// Consent of the patient to show the film, as recorded in a document.
	ConsentDocumentID ID         `json:"consent_document_id,omitempty"`
	HasSound          Answer     `json:"has_sound,omitempty"`
	FaceOrNameVisible Answer     `json:"face_or_name_visible,omitempty"`
	Overrides         []Override `json:"overrides,omitempty"`
	Note              FreeText   `json:"note,omitempty"`
}

// Kind is [KindFilm].
func (*Film) Kind() Kind { return KindFilm }

// Links tells what it belongs to.
func (f *Film) Links() Links {
	l := Links{PatientID: f.PatientID, EyeID: f.EyeID, OperationID: f.OperationID, Day: f.On}
	for _, c := range f.Clips {
		l.FileHashes = append(l.FileHashes, hashes(c.File.SHA256)...)
	}
	return l
}

// Clip is one file of a film. The recorder's own stamp is kept as it was, right
// or wrong; the place on the time line comes from the order and the offset.
type Clip struct {
	Number        int      `json:"number"` // 1, 2, … in the order of the operation
	File          FileRef  `json:"file"`
	DurationS     *float64 `json:"duration_s,omitempty"`
	OffsetS       *float64 `json:"offset_s,omitempty"`       // start on the operation's elapsed time
	RecorderStamp FreeText `json:"recorder_stamp,omitempty"` // as the recorder wrote it
}

// Chapter is a marked stretch, in seconds of the film's time line.
type Chapter struct {
	Step  StepCode `json:"step,omitempty"`
	Title FreeText `json:"title,omitempty"`
	FromS float64  `json:"from_s"`
	ToS   float64  `json:"to_s"`
}
