package backup

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"limitans/fault"
	"limitans/internal/store"
)

// columnType is how a value is written into the file, whatever the engine calls it.
type columnType string

const (
	textColumn    columnType = "text"
	integerColumn columnType = "integer"
	realColumn    columnType = "real"
	bytesColumn   columnType = "bytes"
)

// engineTypes translates what the two engines call their types.
var engineTypes = map[string]columnType{
	"text": textColumn, "integer": integerColumn, "int": integerColumn, "bigint": integerColumn, "real": realColumn,
	"double precision": realColumn, "blob": bytesColumn, "bytea": bytesColumn,
}

type column struct {
	Name string     `json:"name"`
	Type columnType `json:"type"`
}

// table is one table of the database with the order in which its rows are read.
type table struct {
	name    string
	columns []column
	key     []string // primary key
	parents []string // tables that its foreign keys point at, itself left out
}

// queries that ask each engine for the tables, columns and keys of the schema
// in use. Each returns rows of text.
const (
	sqliteColumns = `
		select t.name, c.name, lower(c.type) from sqlite_master t join pragma_table_xinfo(t.name) c
		where t.type = 'table' and t.name not like 'sqlite\_%' escape '\' and c.hidden = 0 order by t.name, c.cid`
	sqliteKeys = `
		select t.name, c.name from sqlite_master t join pragma_table_info(t.name) c
		where t.type = 'table' and t.name not like 'sqlite\_%' escape '\' and c.pk > 0 order by t.name, c.pk`
	sqliteParents = `
		select distinct t.name, f."table" from sqlite_master t join pragma_foreign_key_list(t.name) f
		where t.type = 'table' order by 1, 2`
	postgresColumns = `
		select c.relname::text, a.attname::text, format_type(a.atttypid, null)
		from pg_class c join pg_attribute a on a.attrelid = c.oid
		where c.relkind = 'r' and c.relnamespace = current_schema()::regnamespace
		and a.attnum > 0 and not a.attisdropped and a.attgenerated = '' order by c.relname, a.attnum`
	postgresKeys = `
		select c.relname::text, a.attname::text
		from pg_class c join pg_index i on i.indrelid = c.oid and i.indisprimary
		join lateral unnest(i.indkey::int2[]) with ordinality k(number, place) on true
		join pg_attribute a on a.attrelid = c.oid and a.attnum = k.number
		where c.relkind = 'r' and c.relnamespace = current_schema()::regnamespace order by c.relname, k.place`
	postgresParents = `
		select distinct c.relname::text, p.relname::text
		from pg_constraint f join pg_class c on c.oid = f.conrelid join pg_class p on p.oid = f.confrelid
		where f.contype = 'f' and c.relnamespace = current_schema()::regnamespace order by 1, 2`
)

// tablesOf lists the tables that a backup holds, parents before children.
func tablesOf(ctx context.Context, tx *sql.Tx, dialect store.Dialect, where string) ([]table, error) {
	columns, keys, parents := sqliteColumns, sqliteKeys, sqliteParents
	if dialect == store.PostgreSQL {
		columns, keys, parents = postgresColumns, postgresKeys, postgresParents
	}
	byName := map[string]*table{}
	read := func(query string, width int, take func(row []string) error) error {
		rows, err := tx.QueryContext(ctx, query)
		if err != nil {
			return err
		}
		defer rows.Close()
		row, into := make([]string, width), make([]any, width)
		for i := range row {
			into[i] = &row[i]
		}
		for rows.Next() {
			if err := rows.Scan(into...); err != nil {
				return err
			}
			if _, out := leftOut[row[0]]; out || strings.HasPrefix(row[0], leftOutPrefix) {
				continue
			}
			if err := take(row); err != nil {
				return err
			}
		}
		return rows.Err()
	}
	err := read(columns, 3, func(row []string) error {
		t := byName[row[0]]
		if t == nil {
			t = &table{name: row[0]}
			byName[row[0]] = t
		}
		sort, known := engineTypes[row[2]]
		if !known {
			return &fault.Error{Code: fault.Internal, Where: where, What: fmt.Sprintf("column %s of table %s has a type that backups do not know: %s", row[1], row[0], row[2])}
		}
		t.columns = append(t.columns, column{row[1], sort})
		return nil
	})
	if err != nil {
		return nil, err
	}
	if err := read(keys, 2, func(row []string) error { byName[row[0]].key = append(byName[row[0]].key, row[1]); return nil }); err != nil {
		return nil, err
	}
	err = read(parents, 2, func(row []string) error {
		if row[0] != row[1] {
			byName[row[0]].parents = append(byName[row[0]].parents, row[1])
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return inOrder(byName, where)
}

// inOrder sorts tables so that each comes after those its foreign keys point
// at, else by name.
func inOrder(byName map[string]*table, where string) ([]table, error) {
	var names []string
	for name := range byName {
		names = append(names, name)
	}
	slices.Sort(names)
	var out []table
	done := map[string]bool{}
	for len(out) < len(names) {
		before := len(out)
		for _, name := range names {
			t := byName[name]
			if done[name] || slices.ContainsFunc(t.parents, func(p string) bool { return byName[p] != nil && !done[p] }) {
				continue
			}
			done[name] = true
			out = append(out, *t)
		}
		if len(out) == before {
			return nil, &fault.Error{Code: fault.Internal, Where: where, What: "the tables point at each other in a circle"}
		}
	}
	for _, t := range out {
		if len(t.key) == 0 {
			return nil, &fault.Error{Code: fault.Internal, Where: where, What: "table " + t.name + " has no primary key"}
		}
	}
	return out, nil
}

// quoted makes an identifier safe in a query.
func quoted(names ...string) string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = `"` + strings.ReplaceAll(n, `"`, `""`) + `"`
	}
	return strings.Join(out, ", ")
}

func (t *table) names() []string {
	out := make([]string, len(t.columns))
	for i, c := range t.columns {
		out[i] = c.Name
	}
	return out
}

// selection reads all rows in the order of the primary key.
func (t *table) selection() string {
	return "select " + quoted(t.names()...) + " from " + quoted(t.name) + " order by " + quoted(t.key...)
}

// insertion writes a number of rows.
func (t *table) insertion(rows int) string {
	one := "(" + strings.TrimSuffix(strings.Repeat("?, ", len(t.columns)), ", ") + ")"
	return "insert into " + quoted(t.name) + " (" + quoted(t.names()...) + ") values " +
		strings.TrimSuffix(strings.Repeat(one+", ", rows), ", ")
}
