package backup

import (
	"bufio"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"fmt"
	"io"
	"slices"
	"strings"

	"limitans/fault"
	"limitans/internal/store"
	"limitans/internal/vault"
)

// ReadHead reads what a backup is, without checking the rest.
func ReadHead(path string, keys ...string) (Head, error) {
	r, err := open(path, keys)
	if err != nil {
		return Head{}, err
	}
	defer r.file.Close()
	return r.head()
}

// Check reads a whole backup and compares every part with its sum. It restores
// nothing.
func Check(ctx context.Context, path string, keys ...string) (*Summary, error) {
	r, err := open(path, keys)
	if err != nil {
		return nil, err
	}
	defer r.file.Close()
	head, err := r.head()
	if err != nil {
		return nil, err
	}
	summary := &Summary{Head: head, Encrypted: r.encrypted}
	s, err := r.all(ctx, handler{
		rows: func(table string, columns []column, lines *bufio.Scanner) (n int64, err error) {
			for ; lines.Scan(); n++ {
				if _, err := parseRow(lines.Bytes(), columns); err != nil {
					return n, damaged(path, "table %s: %v", table, err)
				}
			}
			return n, nil
		},
		file: func(hash string, size int64, content io.Reader) error {
			summary.Files++
			summary.FileBytes += size
			return sameContent(path, hash, content)
		},
	})
	if err != nil {
		return nil, err
	}
	summary.Rows = s.Rows
	return summary, nil
}

// sameContent reads a file of the vault and compares it with its name.
func sameContent(path, hash string, content io.Reader) error {
	sum := sha256.New()
	if _, err := io.Copy(sum, content); err != nil {
		return err
	}
	if hex.EncodeToString(sum.Sum(nil)) != hash {
		return damaged(path, "file %s has another content", hash)
	}
	return nil
}

// Restore brings a backup into a record that is empty and at the same version
// of its tables as the backup (see [ReadHead]), and its files into the vault; a
// nil vault leaves the files out. When an error is returned the record is as
// empty as before; the vault may have files that nothing refers to.
//
// Errors: Conflict when the record is not empty; Malformed when anything in the
// backup is not what was written; what the record and the vault return.
func Restore(ctx context.Context, path string, s *store.Store, v *vault.Vault, keys ...string) (*Summary, error) {
	r, err := open(path, keys)
	if err != nil {
		return nil, err
	}
	defer r.file.Close()
	head, err := r.head()
	if err != nil {
		return nil, err
	}
	version, err := s.Version(ctx)
	if err != nil {
		return nil, err
	}
	if err := head.check(path, version); err != nil {
		return nil, err
	}
	if head.TableVersion != version {
		return nil, &fault.Error{Code: fault.Internal, Where: s.Where(), What: fmt.Sprintf("the tables have version %d, those of the backup %d", version, head.TableVersion)}
	}
	tx, err := s.Writer().Pool().BeginTx(ctx, nil)
	if err != nil {
		return nil, err
	}
	defer tx.Rollback()
	l := &loader{ctx: ctx, path: path, tx: tx, dialect: s.Dialect(), tables: map[string]table{}}
	if err := l.prepare(s.Where()); err != nil {
		return nil, err
	}
	summary := &Summary{Head: head, Encrypted: r.encrypted}
	list, err := r.all(ctx, handler{
		rows: l.rows,
		file: func(hash string, size int64, content io.Reader) error {
			summary.Files++
			summary.FileBytes += size
			if v == nil {
				return sameContent(path, hash, content)
			}
			kept, err := v.Put(ctx, content, nil)
			if err != nil {
				return err
			}
			if kept.Hash.String() != hash {
				return damaged(path, "file %s has another content", hash)
			}
			return nil
		},
	})
	if err != nil {
		return nil, err
	}
	summary.Rows = list.Rows
	if err := l.complete(list.Rows); err != nil {
		return nil, err
	}
	return summary, tx.Commit()
}

// loader writes rows into an empty record within one transaction.
type loader struct {
	ctx     context.Context
	path    string
	tx      *sql.Tx
	dialect store.Dialect
	tables  map[string]table
}

// seeded are tables in which a new record has a row already; it gives way.
var seeded = []string{"history_head"}

// prepare checks that the record is empty and makes room.
func (l *loader) prepare(where string) error {
	list, err := tablesOf(l.ctx, l.tx, l.dialect, where)
	if err != nil {
		return err
	}
	if l.dialect == store.SQLite {
		if _, err := l.tx.ExecContext(l.ctx, "pragma defer_foreign_keys = on"); err != nil {
			return err
		}
	}
	var entries int64
	if err := l.tx.QueryRowContext(l.ctx, "select entries from history_head").Scan(&entries); err != nil {
		return err
	}
	for _, t := range list {
		l.tables[t.name] = t
		var rows int64
		if err := l.tx.QueryRowContext(l.ctx, "select count(*) from (select 1 from "+quoted(t.name)+" limit 1) as r").Scan(&rows); err != nil {
			return err
		}
		isSeeded := slices.Contains(seeded, t.name)
		if entries > 0 || rows > 0 && !isSeeded {
			return &fault.Error{
				Code: fault.Conflict, Where: where, What: "the record is not empty (table " + t.name + ")",
				Mend: "restore into a new data folder or a new database; nothing was changed",
			}
		}
		if isSeeded {
			if _, err := l.tx.ExecContext(l.ctx, "delete from "+quoted(t.name)); err != nil {
				return err
			}
		}
	}
	return nil
}

// mostParameters of one statement, below the limits of both engines (32,766
// and 65,535).
const mostParameters = 30000

// rows writes one part of a table, many rows a statement.
func (l *loader) rows(name string, columns []column, lines *bufio.Scanner) (int64, error) {
	t, known := l.tables[name]
	if !known || !slices.Equal(t.columns, columns) {
		return 0, damaged(l.path, "table %s does not have the columns of its version", name)
	}
	count, most := int64(0), mostParameters/len(columns)
	var values []any
	flush := func(rows int) error {
		if rows == 0 {
			return nil
		}
		_, err := l.tx.ExecContext(l.ctx, l.dialect.Rewrite(t.insertion(rows)), values...)
		values = values[:0]
		if err != nil {
			return fmt.Errorf("table %s: %w", name, err)
		}
		return nil
	}
	waiting := 0
	for lines.Scan() {
		row, err := parseRow(lines.Bytes(), columns)
		if err != nil {
			return count, damaged(l.path, "table %s: %v", name, err)
		}
		values = append(values, row...)
		count++
		if waiting++; waiting == most {
			if err := flush(waiting); err != nil {
				return count, err
			}
			waiting = 0
		}
	}
	return count, flush(waiting)
}

// complete refuses a backup that lacks a table.
func (l *loader) complete(rows map[string]int64) error {
	var missing []string
	for name := range l.tables {
		if _, ok := rows[name]; !ok {
			missing = append(missing, name)
		}
	}
	if len(missing) > 0 {
		slices.Sort(missing)
		return damaged(l.path, "it lacks the tables %s", strings.Join(missing, ", "))
	}
	return nil
}
