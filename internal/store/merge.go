package store

import (
	"context"

	"limitans/internal/record"
)

// deriveMerges finds anew who is read as whom, when a merge came, was undone or
// was struck out. Merges that contradict each other are refused by the rules of
// package record, and with them the transaction.
func (tx *Tx) deriveMerges(ctx context.Context) error {
	if !tx.mergesMove {
		return nil
	}
	var merges []*record.Merge
	err := tx.each(ctx, queries["merges that stand"], nil, func(scan func(...any) error) error {
		var body string
		if err := scan(&body); err != nil {
			return err
		}
		e, err := decode(record.KindMerge, body)
		if err != nil {
			return err
		}
		merges = append(merges, e.(*record.Merge))
		return nil
	})
	if err != nil {
		return err
	}
	persons, err := record.ResolvePersons(merges)
	if err != nil {
		return err
	}
	if _, err := tx.exec(ctx, queries["forget who is who"]); err != nil {
		return err
	}
	done := map[record.ID]bool{}
	for _, m := range merges {
		survivor := persons.Survivor(m.Absorbed)
		if m.Absorbed == "" || survivor == m.Absorbed || done[m.Absorbed] {
			continue
		}
		done[m.Absorbed] = true
		if _, err := tx.exec(ctx, queries["add who is who"], string(m.Absorbed), string(survivor)); err != nil {
			return err
		}
	}
	return nil
}

// Merge says that two persons are one: absorbed is read as survivor from now
// on. Nothing of either is changed. Errors: those of [Tx.Put] and of
// record.ResolvePersons.
func (tx *Tx) Merge(ctx context.Context, survivor, absorbed record.ID, reason string) (record.ID, error) {
	return tx.putMerge(ctx, &record.Merge{Survivor: survivor, Absorbed: absorbed}, reason)
}

// UndoMerge undoes a merge, or an earlier undoing. Both stay in the record.
func (tx *Tx) UndoMerge(ctx context.Context, merge record.ID, reason string) (record.ID, error) {
	return tx.putMerge(ctx, &record.Merge{Undoes: merge}, reason)
}

func (tx *Tx) putMerge(ctx context.Context, m *record.Merge, reason string) (record.ID, error) {
	id, err := tx.NewID()
	if err != nil {
		return "", err
	}
	m.ID, m.By, m.At, m.Reason = id, tx.actor, tx.at, record.FreeText(reason)
	_, err = tx.Put(ctx, m, reason)
	return id, err
}
