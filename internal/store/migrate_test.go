package store_test

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// migrations lists the numbers and names of one set.
func migrations(t *testing.T, dialect store.Dialect) []string {
	t.Helper()
	files, err := fs.Glob(os.DirFS("migrations"), string(dialect)+"/*.sql")
	if err != nil || len(files) == 0 {
		t.Fatalf("no migration of %s found (%v)", dialect, err)
	}
	var names []string
	for _, f := range files {
		names = append(names, filepath.Base(f))
	}
	return names
}

func versionOf(t *testing.T, name string) int64 {
	t.Helper()
	number, _, _ := strings.Cut(name, "_")
	v, err := strconv.ParseInt(number, 10, 64)
	if err != nil || v < 1 {
		t.Fatalf("migration %s has no number", name)
	}
	return v
}

func TestBothSetsOfMigrationsHaveTheSameNumbers(t *testing.T) {
	lite, pg := migrations(t, store.SQLite), migrations(t, store.PostgreSQL)
	if !slices.Equal(lite, pg) {
		t.Errorf("SQLite has %v, PostgreSQL has %v", lite, pg)
	}
	for _, dialect := range []store.Dialect{store.SQLite, store.PostgreSQL} {
		for _, name := range migrations(t, dialect) {
			text, err := os.ReadFile(filepath.Join("migrations", string(dialect), name))
			if err != nil {
				t.Fatal(err)
			}
			if strings.Contains(string(text), "+goose Down") {
				t.Errorf("%s %s goes backward", dialect, name)
			}
		}
	}
}

// schema lists the columns of all tables, which both engines must agree on.
func schema(t *testing.T, s *store.Store) []string {
	t.Helper()
	query := `select m.name || '.' || p.name from sqlite_master m, pragma_table_info(m.name) p
		where m.type = 'table' and m.name not like 'sqlite_%' and m.name <> 'goose_db_version' order by 1`
	if s.Dialect() == store.PostgreSQL {
		query = `select table_name || '.' || column_name from information_schema.columns
			where table_schema = 'public' and table_name <> 'goose_db_version' order by 1`
	}
	rows, err := s.Reader().Query(background, query)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = rows.Close() }()
	var list []string
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			t.Fatal(err)
		}
		list = append(list, name)
	}
	if err := rows.Err(); err != nil || len(list) == 0 {
		t.Fatalf("%d columns (%v)", len(list), err)
	}
	slices.Sort(list)
	return list
}

func TestBothEnginesHaveTheSameTables(t *testing.T) {
	schemas := map[store.Dialect][]string{}
	onBoth(t, func(t *testing.T, e engine) { schemas[e.dialect] = schema(t, open(t, e.place(t))) })
	if len(schemas) == 2 && !slices.Equal(schemas[store.SQLite], schemas[store.PostgreSQL]) {
		t.Errorf("SQLite: %v\nPostgreSQL: %v", schemas[store.SQLite], schemas[store.PostgreSQL])
	}
}

// TestMigrationFromEveryVersion writes a record with the tables of each earlier
// version and opens it with this program.
func TestMigrationFromEveryVersion(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		names := migrations(t, e.dialect)
		newest := versionOf(t, names[len(names)-1])
		for _, name := range append([]string{"00000_nothing"}, names...) {
			t.Run(name, func(t *testing.T) {
				version := int64(0)
				if name != "00000_nothing" {
					version = versionOf(t, name)
				}
				place := e.place(t)
				place.Now, place.Random = clock(), seeded(3)
				old, err := store.OpenAt(background, place, version)
				if err != nil {
					t.Fatal(err)
				}
				var visit *record.Visit
				if version >= 1 {
					_, _, visit, _ = sample(t, old, newMaker(t, 1))
				}
				if err := old.Close(); err != nil {
					t.Fatal(err)
				}
				s := open(t, place)
				if got, err := s.Version(background); err != nil || got != newest {
					t.Errorf("version %d (%v), want %d", got, err, newest)
				}
				mustVerify(t, s)
				if visit != nil {
					if got := get(t, s, visit); got.Note != "one" || got.Version != 2 {
						t.Errorf("the visit reads %+v", got)
					}
				}
				newMaker(t, 4).storedEye(s, "Bartholo Vint", "U-2")
			})
		}
	})
}

func TestNewerRecordIsRefused(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		place := e.place(t)
		s := open(t, place)
		newest, err := s.Version(background)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := s.Writer().Exec(background, fmt.Sprintf("insert into goose_db_version (version_id, is_applied) values (%d, %s)", newest+1,
			map[store.Dialect]string{store.SQLite: "1", store.PostgreSQL: "true"}[e.dialect])); err != nil {
			t.Fatal(err)
		}
		_, err = store.Open(background, place)
		if fault.CodeOf(err) != fault.Unsupported || !strings.Contains(err.Error(), "newer program") {
			t.Errorf("opening it: %v", err)
		}
	})
}

func TestManyProcessesOpenANewRecordAtOnce(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		place := e.place(t)
		place.Now, place.Random = clock(), seeded(3)
		var wg sync.WaitGroup
		for range 4 {
			wg.Go(func() {
				s, err := store.Open(background, place)
				if err != nil {
					t.Error(err)
					return
				}
				if err := s.Close(); err != nil {
					t.Error(err)
				}
			})
		}
		wg.Wait()
	})
}

// TestEveryQueryIsUsed looks for each query's name in the code, and for each
// name in the code among the queries.
func TestEveryQueryIsUsed(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil || len(files) == 0 {
		t.Fatal("no code found")
	}
	var code strings.Builder
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.HasSuffix(f, "_test.go") {
			code.Write(text)
		}
	}
	for name, query := range store.QueryTexts {
		if !strings.Contains(code.String(), `"`+name+`"`) {
			t.Errorf("nothing uses the query %q", name)
		}
		if query == "" {
			t.Errorf("the query %q is empty", name)
		}
	}
	for _, use := range regexp.MustCompile(`queries\["([^"]+)"\]`).FindAllStringSubmatch(code.String(), -1) {
		if _, is := store.QueryTexts[use[1]]; !is {
			t.Errorf("there is no query %q", use[1])
		}
	}
}
