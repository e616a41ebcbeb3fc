package eye

import (
	"fmt"
	"strings"

	"limitans/fault"
)

// Laterality says which eye.
type Laterality int

// The sides. A side is never guessed: what is not told stays SideUnknown.
const (
	SideUnknown Laterality = iota
	Right
	Left
)

// String returns the whole word, as on screens and sheets.
func (l Laterality) String() string {
	switch l {
	case Right:
		return "Right"
	case Left:
		return "Left"
	}
	return "Unknown"
}

// MarshalText writes "right", "left" or "unknown".
func (l Laterality) MarshalText() ([]byte, error) {
	return []byte(strings.ToLower(l.String())), nil
}

// UnmarshalText reads what [ParseLaterality] reads.
func (l *Laterality) UnmarshalText(text []byte) error {
	if strings.EqualFold(string(text), "unknown") {
		*l = SideUnknown
		return nil
	}
	side, err := ParseLaterality(string(text))
	*l = side
	return err
}

// ParseLaterality reads a side as people and files write it: right, left,
// R, L, OD, OS, RE, LE, in any case.
func ParseLaterality(text string) (Laterality, error) {
	switch strings.ToUpper(strings.TrimSpace(text)) {
	case "RIGHT", "R", "OD", "RE":
		return Right, nil
	case "LEFT", "L", "OS", "LE":
		return Left, nil
	}
	return SideUnknown, &fault.Error{
		Code:     fault.Invalid,
		Where:    "eye",
		What:     fmt.Sprintf("%q does not name a side", text),
		Expected: "right or left",
	}
}
