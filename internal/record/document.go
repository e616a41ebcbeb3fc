package record

// Document is a letter, consent, sheet or card that belongs to an eye.
type Document struct {
	Base
	PatientID   ID           `json:"patient_id"`
	EyeID       ID           `json:"eye_id,omitempty"`
	OperationID ID           `json:"operation_id,omitempty"`
	Sort        DocumentSort `json:"sort"`
	On          Date         `json:"on"`
	File        FileRef      `json:"file"`
	Title       FreeText     `json:"title,omitempty"`
	Signed      *Signature   `json:"signed,omitempty"`
	// Mixing is told of a mixing sheet that is signed in the program by two people;
	// one on paper that was brought in has none, and is not signed here.
	Mixing *Mixing  `json:"mixing,omitempty"`
	Note   FreeText `json:"note,omitempty"`
}

// Kind is [KindDocument].
func (*Document) Kind() Kind { return KindDocument }

// Links tells what it belongs to.
func (d *Document) Links() Links {
	return Links{PatientID: d.PatientID, EyeID: d.EyeID, OperationID: d.OperationID, Day: d.On, FileHashes: hashes(d.File.SHA256)}
}

// DocumentSort says what a document is.
type DocumentSort string

// The sorts of documents.
const (
	DocumentConsent      DocumentSort = "consent"
	DocumentLetter       DocumentSort = "letter"
	DocumentTheatreSheet DocumentSort = "theatre_sheet"
	DocumentMixingSheet  DocumentSort = "mixing_sheet"
	DocumentLeaflet      DocumentSort = "leaflet"
	DocumentImplantCard  DocumentSort = "implant_card"
	DocumentPicture      DocumentSort = "picture"
	DocumentOther        DocumentSort = "other"
)
