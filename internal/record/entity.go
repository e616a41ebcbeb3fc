package record

import (
	"fmt"
	"time"

	"limitans/fault"
)

// Kind names a stored noun. Its text is stable: it is stored.
type Kind string

// The kinds; [Kinds] is their table.
const (
	KindPatient    Kind = "patient"
	KindPerson     Kind = "person"
	KindFileOrigin Kind = "file_origin"
	KindMerge      Kind = "merge"
	KindEye        Kind = "eye"
	KindScan       Kind = "scan"
	KindFigures    Kind = "hole_figures"
	KindPlan       Kind = "plan"
	KindOperation  Kind = "operation"
	KindVisit      Kind = "visit"
	KindBatch      Kind = "batch"
	KindFilm       Kind = "film"
	KindDocument   Kind = "document"
	KindContact    Kind = "contact_attempt"
	KindUnit       Kind = "unit"
)

// Entity is a stored noun. Pointers to the nouns of this package implement it.
type Entity interface {
	// Kind names the noun.
	Kind() Kind
	// Identity gives the part that every noun has, to read or to set.
	Identity() *Base
	// Links tells what the noun belongs to, for indexes.
	Links() Links
}

// Base is the part that every stored noun has.
type Base struct {
	ID        ID         `json:"id"`
	Version   int64      `json:"version"` // 0 before it is stored first; the store counts
	StruckOut *StrikeOut `json:"struck_out,omitempty"`
}

// Identity gives the part that every noun has, to read or to set.
func (b *Base) Identity() *Base { return b }

// Struck reports whether the noun was struck out. It then counts for nothing
// but stays legible.
func (b *Base) Struck() bool { return b.StruckOut != nil }

// StrikeOut marks a mistaken entry. Nothing is deleted.
type StrikeOut struct {
	By     Actor     `json:"by"`
	At     time.Time `json:"at"`
	Reason FreeText  `json:"reason"` // never empty
}

// Links are what a noun belongs to; empty where it does not apply.
type Links struct {
	PersonID    ID
	PatientID   ID
	EyeID       ID
	OperationID ID
	BatchIDs    []ID
	FileHashes  []string // content hashes of the files it refers to
	Day         Date     // the day of the trade it belongs to
}

// AccountID names an account. Who that is stands with the accounts, not in the
// clinical record.
type AccountID string

// Actor is who acted and from where.
type Actor struct {
	AccountID AccountID `json:"account"`
	Place     FreeText  `json:"place"` // workstation, address of the client, or "command line"
}

// FreeText is what people typed in their own words. It may name people and is
// therefore dropped from every de-identified view.
type FreeText string

// KindInfo is one row of the table of kinds.
type KindInfo struct {
	Kind Kind
	// Name is the word for people.
	Name string
	// Identifying kinds are never read for a de-identified view.
	Identifying bool
	// New makes an empty noun of the kind.
	New func() Entity
}

var kinds = []KindInfo{
	{KindPatient, "patient", false, func() Entity { return new(Patient) }},
	{KindPerson, "person", true, func() Entity { return new(Person) }},
	{KindFileOrigin, "origin of a file", true, func() Entity { return new(FileOrigin) }},
	{KindMerge, "merge of two persons", true, func() Entity { return new(Merge) }},
	{KindEye, "eye", false, func() Entity { return new(Eye) }},
	{KindScan, "scan", false, func() Entity { return new(Scan) }},
	{KindFigures, "hole figures", false, func() Entity { return new(HoleFigures) }},
	{KindPlan, "plan", false, func() Entity { return new(Plan) }},
	{KindOperation, "operation", false, func() Entity { return new(Operation) }},
	{KindVisit, "visit", false, func() Entity { return new(Visit) }},
	{KindBatch, "batch of an agent", false, func() Entity { return new(Batch) }},
	{KindFilm, "film", false, func() Entity { return new(Film) }},
	{KindDocument, "document", false, func() Entity { return new(Document) }},
	{KindContact, "attempt to reach the patient", false, func() Entity { return new(ContactAttempt) }},
	{KindUnit, "unit", true, func() Entity { return new(Unit) }},
}

// Kinds returns the table of all stored nouns.
func Kinds() []KindInfo { return append([]KindInfo(nil), kinds...) }

// New makes an empty noun of a kind; a fault when there is no such kind.
func New(kind Kind) (Entity, error) {
	for _, k := range kinds {
		if k.Kind == kind {
			return k.New(), nil
		}
	}
	return nil, &fault.Error{Code: fault.Unsupported, Where: "record", What: fmt.Sprintf("there is no kind %q", string(kind))}
}
