package store

import (
	"encoding/base64"
	"encoding/json"

	"limitans/fault"
	"limitans/internal/record"
)

// Page says which stretch of a list is wanted.
type Page struct {
	// After is the Next of the stretch before; empty for the first.
	After string
	// Limit is how many rows at most, 1 to MaxPage; 0 means DefaultPage.
	Limit int
}

// The sizes of a page in rows: DefaultPage fills a screen, MaxPage bounds the
// memory of one answer.
const (
	DefaultPage = 50
	MaxPage     = 1000
)

// rowLimit is how many rows to ask for: one more than the page, which tells
// whether there is a next one.
func (p Page) rowLimit() (int, error) {
	switch {
	case p.Limit == 0:
		return DefaultPage + 1, nil
	case p.Limit < 0 || p.Limit > MaxPage:
		return 0, &fault.Error{Code: fault.Invalid, Where: "page", What: "its size is out of range", Expected: "1 to 1000 rows"}
	}
	return p.Limit + 1, nil
}

// position is the place of a row in a list, by what the list is ordered by.
type position struct {
	Part   int       `json:"p,omitempty"` // of a list of several parts
	Text   string    `json:"t,omitempty"`
	Number int64     `json:"n,omitempty"`
	ID     record.ID `json:"i,omitempty"`
	Text2  string    `json:"u,omitempty"`
}

func (p position) String() string {
	b, err := json.Marshal(p)
	if err != nil {
		return "" // texts and numbers always have a JSON form
	}
	return base64.RawURLEncoding.EncodeToString(b)
}

// parsePosition reads what String wrote; the empty text is the beginning.
func parsePosition(text string) (position, error) {
	var p position
	if text == "" {
		return p, nil
	}
	b, err := base64.RawURLEncoding.DecodeString(text)
	if err == nil {
		err = json.Unmarshal(b, &p)
	}
	if err != nil {
		return p, &fault.Error{Code: fault.Invalid, Where: "page", What: "the mark of its beginning cannot be read", Mend: "start again at the first page", Cause: err}
	}
	return p, nil
}
