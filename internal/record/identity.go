package record

import "time"

// Person is who a patient is: everything that identifies. It points at the
// clinical [Patient]; nothing clinical points back.
type Person struct {
	Base
	PatientID   ID           `json:"patient_id"`
	Names       []PersonName `json:"names"`
	BirthDate   Date         `json:"birth_date"`
	UnitNumber  string       `json:"unit_number"` // text: leading zeros belong to it
	Identifiers []Identifier `json:"identifiers,omitempty"`
	Contacts    []Contact    `json:"contacts,omitempty"`
	Language    string       `json:"language,omitempty"` // for the leaflet, ISO 639-1
	// DistanceKm from home to the unit; far patients are lost more often.
	DistanceKm *float64 `json:"distance_km,omitempty"`
	// HomeAltitudeM and RouteAltitudeM (highest point of the way home) are in
	// metres above the sea: a gas bubble grows with height.
	HomeAltitudeM  *float64 `json:"home_altitude_m,omitempty"`
	RouteAltitudeM *float64 `json:"route_altitude_m,omitempty"`
	DiedOn         Date     `json:"died_on,omitzero"`
	Note           FreeText `json:"note,omitempty"`
}

// Kind is [KindPerson].
func (*Person) Kind() Kind { return KindPerson }

// Links tells what it belongs to.
func (p *Person) Links() Links { return Links{PersonID: p.ID, PatientID: p.PatientID} }

// PersonName is one way a person is written. Text is the whole name as it was
// given; the parts may be empty when nobody told them apart.
type PersonName struct {
	Text   string  `json:"text"`
	Family string  `json:"family,omitempty"`
	Given  string  `json:"given,omitempty"`
	Use    NameUse `json:"use,omitempty"`
}

// NameUse says which name it is.
type NameUse string

// The uses of a name.
const (
	NameOfficial NameUse = "official"
	NameFormer   NameUse = "former"
	NameOther    NameUse = "other"
)

// Identifier is a number somebody else gave: national number, insurance,
// another hospital.
type Identifier struct {
	System string `json:"system"` // who gave it
	Value  string `json:"value"`
}

// Contact is one way to reach the person or somebody near.
type Contact struct {
	Way   ContactWay `json:"way"`
	Value string     `json:"value"`
	Whose string     `json:"whose,omitempty"` // empty: the patient's own
}

// ContactWay says how.
type ContactWay string

// The ways to reach somebody.
const (
	ContactPhone   ContactWay = "phone"
	ContactMail    ContactWay = "mail"
	ContactAddress ContactWay = "address"
	ContactOther   ContactWay = "other"
)

// FileOrigin keeps what a file said about itself and could identify: its name,
// and the person and side in its header. The clinical noun knows only the hash.
type FileOrigin struct {
	Base
	OfKind        Kind      `json:"of_kind"` // scan, film or document
	OfID          ID        `json:"of_id"`
	PatientID     ID        `json:"patient_id"`
	SHA256        string    `json:"sha256"`
	Name          string    `json:"name"` // as it came, with its folder if that was told
	HeaderName    string    `json:"header_name,omitempty"`
	HeaderNumber  string    `json:"header_number,omitempty"`
	HeaderBirth   Date      `json:"header_birth,omitzero"`
	HeaderSide    FreeText  `json:"header_side,omitempty"`
	HeaderStation string    `json:"header_station,omitempty"`
	CameFrom      FreeText  `json:"came_from,omitempty"`
	ReceivedAt    time.Time `json:"received_at"`
}

// Kind is [KindFileOrigin].
func (*FileOrigin) Kind() Kind { return KindFileOrigin }

// Links tells what it belongs to.
func (f *FileOrigin) Links() Links {
	return Links{PatientID: f.PatientID, FileHashes: hashes(f.SHA256)}
}

// hashes leaves out empty ones.
func hashes(all ...string) []string {
	var out []string
	for _, h := range all {
		if h != "" {
			out = append(out, h)
		}
	}
	return out
}

// Merge says that two persons are one: absorbed is from now on read as
// survivor. Undoing is a further record that names the merge in Undoes; both
// stay. See [ResolvePersons].
type Merge struct {
	Base
	Survivor ID        `json:"survivor,omitempty"`
	Absorbed ID        `json:"absorbed,omitempty"`
	Undoes   ID        `json:"undoes,omitempty"` // an earlier merge; then Survivor and Absorbed are empty
	By       Actor     `json:"by"`
	At       time.Time `json:"at"`
	Reason   FreeText  `json:"reason"`
}

// Kind is [KindMerge].
func (*Merge) Kind() Kind { return KindMerge }

// Links tells what it belongs to.
func (m *Merge) Links() Links { return Links{PersonID: m.Survivor} }
