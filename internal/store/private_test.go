package store_test

import (
	"os"
	"path/filepath"
	"testing"

	"limitans/internal/store"
)

// TestPrivate: nobody but the owner reads the database and its companions, also
// in a folder that others may enter.
func TestPrivate(t *testing.T) {
	if os.PathSeparator != '/' {
		t.Log("this system has other means of access")
		return
	}
	folder := t.TempDir()
	if err := os.Chmod(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	open(t, store.Options{Folder: folder})
	files, err := filepath.Glob(filepath.Join(folder, store.FileName+"*"))
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	for _, name := range files {
		info, err := os.Stat(name)
		if err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v, %v", name, info.Mode(), err)
		}
	}
}
