package vault

import (
	"context"
	"strings"
	"time"

	"limitans/fault"
)

// Swept is what Sweep did.
type Swept struct {
	Removed int // unfinished uploads
	Kept    int // younger, going on, of a referenced content, or not made by this package
}

// Sweep removes unfinished uploads whose last change is before olderThan; a day
// ago is sensible, for an upload over a slow line rests between two parts. It
// never removes a content, referenced or not: nothing in this package does. An
// upload that has all its bytes, so that its hash is known, is also kept when
// referenced says that the record has it; an error of referenced stops the
// sweep.
func (v *Vault) Sweep(ctx context.Context, referenced func(Hash) (bool, error), olderThan time.Time) (Swept, error) {
	var swept Swept
	if err := v.writable(); err != nil {
		return swept, err
	}
	var old []string
	err := v.backend.unfinished(ctx, func(id string, changed time.Time) error {
		if changed.Before(olderThan) {
			old = append(old, id)
		} else {
			swept.Kept++
		}
		return nil
	})
	if err != nil {
		return swept, err
	}
	for _, id := range old {
		removed, err := v.sweepOne(ctx, id, referenced)
		if err != nil {
			return swept, err
		}
		if removed {
			swept.Removed++
		} else {
			swept.Kept++
		}
	}
	return swept, nil
}

func (v *Vault) sweepOne(ctx context.Context, id string, referenced func(Hash) (bool, error)) (bool, error) {
	if !uploadIDs.MatchString(strings.TrimSuffix(id, newFile)) {
		return false, nil // not ours; Verify names it
	}
	if strings.HasSuffix(id, newFile) {
		return true, v.backend.discard(ctx, id)
	}
	u, err := v.takeUp(ctx, id)
	switch {
	case isCode(err, fault.Conflict):
		return false, nil // it is going on
	case isCode(err, fault.NotFound), isCode(err, fault.Malformed):
		// There is no state, or a damaged one.
		return true, v.backend.discard(ctx, id)
	case err != nil:
		return false, err
	}
	if u.state.complete {
		var h Hash
		copy(h[:], u.hash.Sum(nil))
		keep, err := referenced(h)
		if err != nil || keep {
			u.end()
			return false, err
		}
	}
	return true, u.drop(ctx)
}
