package web

import (
	"bytes"
	"context"
	"encoding/hex"
	"slices"
	"strings"
	"sync"
	"time"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// caseIndex finds eyes by their pseudonyms, and lists them in the order of these,
// which tells nothing. A pseudonym in an address leads back to its eye with the
// unit's key alone, so the way back is reckoned once from the identifiers of all
// eyes and kept in memory, 28 bytes an eye; neither the record nor an address holds
// it.
type caseIndex struct {
	store *store.Store
	key   []byte

	mu      sync.Mutex
	rows    []caseRow // by pseudonym
	entries int64     // of the history when it was last looked for new eyes
	looked  time.Time
}

// caseRow is a pseudonym and an identifier without their punctuation.
type caseRow struct {
	code [12]byte
	id   [16]byte
}

// The bounds of the index: eyes, and how long it stays as it is before new eyes are
// looked for.
const (
	mostCases  = 5_000_000 // 140 MB
	caseMoment = 10 * time.Second
)

// codeOfCase reads a pseudonym as it stands in an address.
func codeOfCase(text string) (code [12]byte, err error) {
	digits, is := strings.CutPrefix(text, "v")
	if n, bad := hex.Decode(code[:], []byte(digits[:min(len(digits), 24)])); !is || bad != nil || n != 12 || len(digits) != 24 {
		return code, noCase()
	}
	return code, nil
}

func noCase() error {
	return &fault.Error{Code: fault.NotFound, Where: "case", What: "there is no such case", Mend: "start at the list of cases"}
}

// pseudonym and eye write a row out.
func (r caseRow) pseudonym() record.ID { return record.ID("v" + hex.EncodeToString(r.code[:])) }

func (r caseRow) eye() record.ID {
	h := hex.EncodeToString(r.id[:])
	return record.ID(h[:8] + "-" + h[8:12] + "-" + h[12:16] + "-" + h[16:20] + "-" + h[20:])
}

// find gives the eye behind a pseudonym. Error: NotFound.
func (x *caseIndex) find(ctx context.Context, pseudonym string, now time.Time) (record.ID, error) {
	code, err := codeOfCase(pseudonym)
	if err != nil {
		return "", err
	}
	x.mu.Lock()
	defer x.mu.Unlock()
	if err := x.refresh(ctx, now); err != nil {
		return "", err
	}
	at, is := x.place(code)
	if !is {
		return "", noCase()
	}
	return x.rows[at].eye(), nil
}

func (x *caseIndex) place(code [12]byte) (int, bool) {
	return slices.BinarySearchFunc(x.rows, code, func(r caseRow, c [12]byte) int { return bytes.Compare(r.code[:], c[:]) })
}

// after lists the eyes behind the next pseudonyms after one, and whether there are
// more.
func (x *caseIndex) after(ctx context.Context, pseudonym string, limit int, now time.Time) (ids []record.ID, next string, err error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	if err := x.refresh(ctx, now); err != nil {
		return nil, "", err
	}
	at := 0
	if pseudonym != "" {
		code, err := codeOfCase(pseudonym)
		if err != nil {
			return nil, "", err
		}
		var is bool
		if at, is = x.place(code); is {
			at++
		}
	}
	end := min(at+limit, len(x.rows))
	for _, r := range x.rows[at:end] {
		ids = append(ids, r.eye())
	}
	if end < len(x.rows) && end > 0 {
		next = string(x.rows[end-1].pseudonym())
	}
	return ids, next, nil
}

// prime reckons the pseudonyms ahead of the first question.
func (x *caseIndex) prime(ctx context.Context, now time.Time) error {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.refresh(ctx, now)
}

// refresh takes up eyes that are new.
func (x *caseIndex) refresh(ctx context.Context, now time.Time) error {
	if !x.looked.IsZero() && now.Sub(x.looked).Abs() < caseMoment {
		return nil
	}
	ids, entries, err := x.store.EyesSince(ctx, x.entries)
	if err != nil {
		return err
	}
	if len(x.rows)+len(ids) > mostCases {
		return &fault.Error{Code: fault.TooLarge, Where: "cases", What: "the record holds more eyes than the list of cases can", Expected: "at most 5,000,000"}
	}
	for _, id := range ids {
		var row caseRow
		if id.Check() != nil {
			continue // not one of this record's; it cannot be shown
		}
		if _, err := hex.Decode(row.id[:], []byte(strings.ReplaceAll(string(id), "-", ""))); err != nil {
			continue
		}
		if row.code, err = codeOfCase(string(record.Pseudonym(x.key, id))); err != nil {
			return err
		}
		x.rows = append(x.rows, row)
	}
	if len(ids) > 0 {
		slices.SortFunc(x.rows, func(a, b caseRow) int { return bytes.Compare(a.code[:], b.code[:]) })
		x.rows = slices.Compact(x.rows)
	}
	x.entries, x.looked = entries, now
	return nil
}
