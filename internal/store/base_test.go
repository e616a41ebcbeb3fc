package store_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

func TestRewrite(t *testing.T) {
	for _, test := range []struct{ query, want string }{
		{"select 1", "select 1"},
		{"select ? , ?", "select $1 , $2"},
		{"select '?' , ? , \"a?\" , ?", "select '?' , $1 , \"a?\" , $2"},
		{"select 'it''s ?' , ?", "select 'it''s ?' , $1"},
		{"-- which?\nselect ?", "-- which?\nselect $1"},
		{"select /* ? */ ?", "select /* ? */ $1"},
		{"select 'open ?", "select 'open ?"},
		{"select ? -- end?", "select $1 -- end?"},
		{"values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", "values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)"},
	} {
		if got := store.PostgreSQL.Rewrite(test.query); got != test.want {
			t.Errorf("%q becomes %q, want %q", test.query, got, test.want)
		}
		if got := store.SQLite.Rewrite(test.query); got != test.query {
			t.Errorf("SQLite: %q becomes %q", test.query, got)
		}
	}
}

func TestOpenWantsOnePlace(t *testing.T) {
	for name, o := range map[string]store.Options{
		"none": {}, "both": {Folder: t.TempDir(), Address: "postgres://localhost/x"},
		"no address":        {Address: "mysql://localhost/x"},
		"unreadable":        {Address: "postgres://user:secret@%%/x"},
		"file for a folder": {Folder: fileAt(t, "taken")},
	} {
		_, err := store.Open(background, o)
		if fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", name, err)
		}
		if err != nil && strings.Contains(err.Error(), "secret") {
			t.Errorf("%s: the message tells the password: %v", name, err)
		}
	}
}

func fileAt(t *testing.T, content string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestOpenRefusesWhatIsNoRecord(t *testing.T) {
	folder := t.TempDir()
	if err := os.WriteFile(filepath.Join(folder, store.FileName), []byte(strings.Repeat("no database ", 400)), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Open(background, store.Options{Folder: folder}); fault.CodeOf(err) != fault.Malformed {
		t.Errorf("a file that is no database: %v", err)
	}

	folder = t.TempDir()
	s := open(t, store.Options{Folder: folder})
	if _, err := s.Writer().Exec(background, "pragma application_id = 7"); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Open(background, store.Options{Folder: folder}); fault.CodeOf(err) != fault.Unsupported {
		t.Errorf("another program's database: %v", err)
	}
}

func TestEveryConnectionHasItsOptions(t *testing.T) {
	s := open(t, store.Options{Folder: t.TempDir()})
	for _, test := range []struct {
		handle       store.Handle
		pragma, want string
	}{
		{s.Writer(), "foreign_keys", "1"},
		{s.Writer(), "journal_mode", "wal"},
		{s.Writer(), "synchronous", "2"}, // FULL
		{s.Writer(), "busy_timeout", "10000"},
		{s.Reader(), "query_only", "1"},
		{s.Reader(), "busy_timeout", "10000"},
	} {
		var got string
		if err := test.handle.QueryRow(background, "pragma "+test.pragma).Scan(&got); err != nil || got != test.want {
			t.Errorf("%s is %q (%v), want %q", test.pragma, got, err, test.want)
		}
	}
}

func TestReaderCannotWrite(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		_, err := s.Reader().Exec(background, "insert into history_head (id, entries, hash) values (1, 9, '')")
		if fault.CodeOf(err) != fault.Invalid {
			t.Errorf("writing through the reader: %v", err)
		}
	})
}

func TestWriteIsAllOrNothing(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		patient, _, _ := newMaker(t, 2).eyeOf("Amaryllis Quell", "U-1")
		refused := errors.New("changed my mind")
		err := s.Write(background, surgeon, func(tx *store.Tx) error {
			if err := putAll(tx, patient); err != nil {
				return err
			}
			return refused
		})
		if !errors.Is(err, refused) {
			t.Errorf("Write returns %v", err)
		}
		if _, err := s.Get(background, record.KindPatient, patient.ID); fault.CodeOf(err) != fault.NotFound {
			t.Errorf("after a refused change: %v", err)
		}
		if head, err := s.Head(background); err != nil || head.Entries != 0 {
			t.Errorf("the history has %d entries (%v)", head.Entries, err)
		}
		if err := s.Write(background, record.Actor{}, func(*store.Tx) error { return nil }); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("nobody may write: %v", err)
		}
	})
}

func TestSecondOpenSeesTheSameRecord(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		place := e.place(t)
		first := open(t, place)
		_, person, _ := newMaker(t, 3).storedEye(first, "Amaryllis Quell", "U-1")
		second := open(t, place)
		if got := get(t, second, person); got.Names[0].Text != "Amaryllis Quell" || got.Version != 1 {
			t.Errorf("the second sees %+v", got)
		}
		if second.Where() == "" || (second.Folder() == "") == (e.dialect == store.SQLite) || second.Dialect() != e.dialect {
			t.Errorf("where %q, folder %q, engine %q", second.Where(), second.Folder(), second.Dialect())
		}
	})
}

// Acuity is stored as it was understood on the day, side and letters included:
// a later parser does not read it anew.
func TestAcuityIsStoredAsUnderstood(t *testing.T) {
	onBoth(t, func(t *testing.T, e engine) {
		s := open(t, e.place(t))
		m := newMaker(t, 1)
		_, _, right := m.storedEye(s, "Amaryllis Quell", "U-1")
		visit := m.visit(right, "2026-02-01")
		visit.Acuities = []record.AcuityEntry{acuityOf("6/9-2 OD"), acuityOf("6/18 partial"), acuityOf("N/A")}
		put(t, s, visit)
		got := get(t, s, visit)
		for i, a := range visit.Acuities {
			want, stored := a.Understood[0], got.Acuities[i].Understood[0]
			if stored.Understood != want.Understood || stored.Side != want.Side || stored.LettersMissed != want.LettersMissed ||
				stored.LettersGained != want.LettersGained || stored.Partial != want.Partial || stored.Missing != want.Missing {
				t.Errorf("%q: %+v, want %+v", string(a.Raw), stored, want)
			}
		}
		if first := got.Acuities[0].Understood[0]; first.Side != eye.Right || first.LettersMissed != 2 || first.Understood == "" {
			t.Errorf("%+v", first)
		}
	})
}
