package intake

import (
	"encoding/json"

	"limitans/internal/record"
	"limitans/oct"
)

// scaled is the part of a measurement's document that tells its scale.
type scaled struct {
	Scan struct {
		Scale *struct {
			Depth, Lateral, Slice struct {
				UM float64 `json:"um_per_sample"`
			}
		} `json:"scale"`
	} `json:"scan"`
}

// scaleDocument is a document that tells its scale alone.
func scaleDocument(scale oct.Scale) json.RawMessage {
	document, err := json.Marshal(map[string]any{"scan": map[string]any{"scale": scale}})
	if err != nil {
		return nil // numbers and words always have a JSON form, checked by oct.Volume.Check
	}
	return document
}

// sameScale reports figures that were measured on one scale; those that do not
// tell theirs are taken to be.
func sameScale(a, b *record.HoleFigures) bool {
	var first, second scaled
	if json.Unmarshal(a.Document, &first) != nil || json.Unmarshal(b.Document, &second) != nil ||
		first.Scan.Scale == nil || second.Scan.Scale == nil {
		return true
	}
	return *first.Scan.Scale == *second.Scan.Scale
}
