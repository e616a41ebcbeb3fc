package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"reflect"
	"strings"

	"limitans/internal/record"
)

// stretchLength is how many nouns are compared at a time: enough that the
// number of queries does not matter, few enough that memory does not.
const stretchLength = 500

// stored is a row as it stands in its table.
type stored struct {
	id      string
	version int64
	struck  int64
	body    string
	values  []any
}

// verifyKind compares all nouns of a kind, stretch by stretch of their
// identifiers.
func (tx *Tx) verifyKind(ctx context.Context, r *Report, kind record.Kind) error {
	t := nounTables[kind]
	query := "select id, version, struck, body, " + strings.Join(t.columns, ", ") + " from " + t.name + " where id > ? order by id limit ?"
	for last := ""; ; {
		var stretch []stored
		err := tx.each(ctx, query, []any{last, stretchLength}, func(scan func(...any) error) error {
			n := stored{values: make([]any, len(t.columns))}
			targets := []any{&n.id, &n.version, &n.struck, &n.body}
			for i := range n.values {
				targets = append(targets, &n.values[i])
			}
			err := scan(targets...)
			stretch = append(stretch, n)
			return err
		})
		if err != nil {
			return err
		}
		if len(stretch) == 0 {
			return nil
		}
		last = stretch[len(stretch)-1].id
		r.Nouns += int64(len(stretch))
		if err := tx.verifyVersions(ctx, r, kind, stretch); err != nil {
			return err
		}
		if err := tx.verifyColumns(ctx, r, kind, stretch); err != nil {
			return err
		}
	}
}

// verifyVersions holds each noun to its entries: versions 1, 2, 3, … without a
// gap, each starting from the text that the one before left, the last one as it
// stands. The stretch is in the order of its identifiers, as the entries are.
func (tx *Tx) verifyVersions(ctx context.Context, r *Report, kind record.Kind, stretch []stored) error {
	at, version, text := 0, int64(0), ""
	finish := func() {
		n := stretch[at]
		where := string(kind) + " " + n.id
		switch {
		case version == 0:
			r.add(where, "the history does not know it")
		case version != n.version:
			r.add(where, "it is at version %d, but the history leads to version %d", n.version, version)
		case text != n.body:
			r.add(where, "it is not what the history says of its version %d: it was changed by other means", version)
		}
		at, version, text = at+1, 0, ""
	}
	err := tx.each(ctx, queries["versions of stretch"], []any{string(kind), stretch[0].id, stretch[len(stretch)-1].id}, func(scan func(...any) error) error {
		var id, before, after string
		var v int64
		if err := scan(&id, &v, &before, &after); err != nil {
			return err
		}
		for at < len(stretch) && stretch[at].id < id {
			finish()
		}
		if at == len(stretch) || stretch[at].id != id {
			return nil // a stranger; found by verifyStrangers
		}
		where := string(kind) + " " + id
		if v != version+1 {
			r.add(where, "version %d follows version %d in the history", v, version)
		}
		if before != text {
			r.add(where, "version %d does not start from what version %d left", v, version)
		}
		version, text = v, after
		return nil
	})
	for err == nil && at < len(stretch) {
		finish()
	}
	return err
}

// verifyColumns makes the columns and lists of each noun anew from its body and
// compares them with what is stored.
func (tx *Tx) verifyColumns(ctx context.Context, r *Report, kind record.Kind, stretch []stored) error {
	low, high := stretch[0].id, stretch[len(stretch)-1].id
	lists, err := tx.storedLists(ctx, kind, low, high)
	if err != nil {
		return err
	}
	t := nounTables[kind]
	for _, n := range stretch {
		where := string(kind) + " " + n.id
		e, err := decode(kind, n.body)
		if err != nil {
			r.add(where, "its body cannot be read: %v", err)
			continue
		}
		p, err := project(e)
		if err != nil {
			r.add(where, "%v", err)
			continue
		}
		base := e.Identity()
		if string(base.ID) != n.id || base.Version != n.version || base.Struck() != (n.struck != 0) {
			r.add(where, "identifier, version or strike-out of its row and of its body differ")
		}
		for i, value := range n.values {
			if plain(value) != p.values[i] {
				r.add(where, "column %s holds %v, its body says %v", t.columns[i], shown(plain(value)), shown(p.values[i]))
			}
		}
		for _, list := range append([]table{fileTable}, listTables[kind]...) {
			if !reflect.DeepEqual(lists[list.name][n.id], p.lists[list.name]) {
				r.add(where, "its rows in table %s are not what its body says", list.name)
			}
			delete(lists[list.name], n.id)
		}
	}
	for name, left := range lists {
		for id := range left {
			r.add(string(kind)+" "+id, "table %s has rows of it, but it is not in the record", name)
		}
	}
	return nil
}

// storedLists reads the rows of all lists of a stretch, by table and noun.
func (tx *Tx) storedLists(ctx context.Context, kind record.Kind, low, high string) (map[string]map[string][][]any, error) {
	all := map[string]map[string][][]any{}
	for _, t := range append([]table{fileTable}, listTables[kind]...) {
		owner, extra := 0, ""
		args := []any{low, high}
		if t.name == fileTable.name {
			owner, extra, args = 1, "kind = ? and ", []any{string(kind), low, high}
		}
		key := t.columns[owner]
		query := fmt.Sprintf("select %s from %s where %s%s >= ? and %s <= ? order by %s, position", strings.Join(t.columns, ", "), t.name, extra, key, key, key)
		found := map[string][][]any{}
		err := tx.each(ctx, query, args, func(scan func(...any) error) error {
			row := make([]any, len(t.columns))
			targets := make([]any, len(row))
			for i := range row {
				targets[i] = &row[i]
			}
			if err := scan(targets...); err != nil {
				return err
			}
			for i := range row {
				row[i] = plain(row[i])
			}
			id, is := row[owner].(string)
			if !is {
				return errors.New("a list without an owner")
			}
			found[id] = append(found[id], row)
			return nil
		})
		if err != nil {
			return nil, err
		}
		all[t.name] = found
	}
	return all, nil
}

// plain brings a value from either driver to the types that project gives.
func plain(v any) any {
	switch v := v.(type) {
	case []byte:
		return string(v)
	case sql.RawBytes:
		return string(v)
	}
	return v
}

// shown is a value for people: what identifies stays out of a report.
func shown(v any) any {
	switch v := v.(type) {
	case nil:
		return "nothing"
	case string:
		if record.ID(v).Check() == nil {
			return v
		}
		return fmt.Sprintf("a text of %d bytes", len(v))
	}
	return v
}
