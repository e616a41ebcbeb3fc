package store

import "context"

// deriveMerges finds anew who is read as whom, when a merge came or was undone.
func (tx *Tx) deriveMerges(context.Context) error {
	if !tx.mergesMove {
		return nil
	}
	return nil
}
