package main

import (
	"bytes"
	"database/sql"
	"encoding/json"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"limitans/internal/store"
)

// invented makes a data folder with an invented clinic of two patients and one
// small file.
func invented(t *testing.T) string {
	t.Helper()
	folder := filepath.Join(t.TempDir(), "data")
	if code, _, stderr := runCommand("clinic", "--data", folder, "--patients", "2", "--drawn", "1"); code != exitDone {
		t.Fatal(stderr)
	}
	return folder
}

// verified runs verify and returns what it found.
func verified(t *testing.T, folder string, more ...string) (code int, found verification) {
	t.Helper()
	code, stdout, stderr := runCommand(append([]string{"verify", "--json", "--data", folder}, more...)...)
	if err := json.Unmarshal([]byte(stdout), &found); err != nil {
		t.Fatalf("%v: %s", err, stderr)
	}
	if found.OK != (code == exitDone) {
		t.Errorf("ok is %v, exit code %d", found.OK, code)
	}
	return code, found
}

// TestVerifyFindsOneByte changes one character behind the tool's back, in each
// table of the record that holds facts and in a file of the vault.
func TestVerifyFindsOneByte(t *testing.T) {
	folder := invented(t)
	_, before := verified(t, folder)
	if !before.OK || before.Entries == 0 || before.Files == 0 {
		t.Fatalf("%+v", before)
	}
	db, err := sql.Open("sqlite", filepath.Join(folder, store.FileName))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	// One bit of the middle character, and back.
	for _, c := range []struct{ table, column, key string }{
		{"history", "after", "number"},
		{"history", "account", "number"},
		{"history", "hash", "number"},
		{"person", "body", "id"},
		{"person", "name", "id"},
		{"visit", "body", "id"},
		{"eye", "side", "id"},
		{"batch", "body", "id"},
		{"acuity", "raw", "visit_id"},
	} {
		t.Run(c.table+"."+c.column, func(t *testing.T) {
			var key, text string
			where := c.column + " <> ''"
			if err := db.QueryRow("select "+c.key+", "+c.column+" from "+c.table+" where "+where+" limit 1").Scan(&key, &text); err != nil {
				t.Fatal(err)
			}
			flipped := []byte(text)
			flipped[len(flipped)/2] ^= 1
			change := func(to string) {
				if _, err := db.Exec("update "+c.table+" set "+c.column+" = ? where "+c.key+" = ? and "+c.column+" <> ''", to, key); err != nil {
					t.Fatal(err)
				}
			}
			change(string(flipped))
			code, found := verified(t, folder)
			if code != exitCannotMeasure || len(found.Problems) == 0 {
				t.Errorf("not found: %q instead of %q", flipped, text)
			}
			change(text)
			if code, found := verified(t, folder); code != exitDone {
				t.Errorf("put back and still found: %+v", found.Problems)
			}
		})
	}
	t.Run("file", func(t *testing.T) {
		path := someContent(t, filepath.Join(folder, filesFolder))
		good, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		bad := bytes.Clone(good)
		bad[len(bad)/3] ^= 1
		overwrite(t, path, bad)
		code, found := verified(t, folder)
		if code != exitCannotMeasure || len(found.Problems) != 1 || !strings.Contains(found.Problems[0].Where, filepath.Base(path)) {
			t.Errorf("not found, or not by name: %+v", found.Problems)
		}
		overwrite(t, path, good)
		if err := os.Rename(path, path+".away"); err != nil {
			t.Fatal(err)
		}
		if code, found := verified(t, folder); code != exitCannotMeasure || len(found.Problems) == 0 {
			t.Errorf("a missing file was not found: %+v", found)
		}
	})
	t.Run("account", func(t *testing.T) {
		unit := filepath.Join(t.TempDir(), "unit")
		var stdout, stderr bytes.Buffer
		out := &console{Context: t.Context(), Stdin: strings.NewReader("umbrella granite thirty owls\n"), Stdout: &stdout, Stderr: &stderr, Now: func() time.Time { return testNow }}
		if code := run(out, []string{"setup", "--data", unit, "--name", "chief"}); code != exitDone {
			t.Fatal(stderr.String())
		}
		if code, found := verified(t, unit); code != exitDone || found.AccountEntries == 0 {
			t.Errorf("%+v", found)
		}
		db, err := sql.Open("sqlite", filepath.Join(unit, store.FileName))
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		if _, err := db.Exec("update account set roles = 'administrator,surgeon'"); err != nil {
			t.Fatal(err)
		}
		if code, found := verified(t, unit); code != exitCannotMeasure || len(found.Problems) == 0 {
			t.Errorf("roles changed behind the tool's back were not found: %+v", found)
		}
	})
	t.Run("rewritten history", func(t *testing.T) {
		other := invented(t)
		if code, found := verified(t, other, "--head", "1:"+strings.Repeat("0", 64)); code != exitCannotMeasure || len(found.Problems) == 0 {
			t.Errorf("a history that does not lead to the kept head passed: %+v", found)
		}
		_, now := verified(t, other)
		if code, _ := verified(t, other, "--head", now.Head); code != exitDone {
			t.Error("the history does not lead to its own head")
		}
	})
}

// someContent finds a file of the vault by its folder.
func someContent(t *testing.T, vault string) (path string) {
	t.Helper()
	err := filepath.WalkDir(filepath.Join(vault, "content"), func(p string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			path = p
		}
		return err
	})
	if err != nil || path == "" {
		t.Fatalf("no content in the vault: %v", err)
	}
	return path
}

func overwrite(t *testing.T, path string, text []byte) {
	t.Helper()
	if err := os.Chmod(path, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, text, 0o600); err != nil {
		t.Fatal(err)
	}
}
