package account

import (
	"context"
	"errors"
	"fmt"
)

// Colleagues lists the active accounts by their shown names, without anything
// that lets somebody in: for naming who operated, mixed or checked. Every page
// that is for people who are signed in may ask.
func (g *Gate) Colleagues(ctx context.Context) (list []Account, err error) {
	rows, err := g.store.Reader().Query(ctx, `select `+accountColumns+` from account where active = 1 order by shown_name, id`)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		a, err := scanAccount(rows)
		if err != nil {
			return nil, fmt.Errorf("reading the accounts: %w", err)
		}
		a.hash, a.factorSecret = "", ""
		list = append(list, a)
	}
	return list, rows.Err()
}
