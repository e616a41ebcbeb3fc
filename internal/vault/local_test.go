package vault

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"

	"limitans/fault"
)

var folder = places[0]

// Nobody but the owner; contents read-only; names of hash and random digits only.
func TestWhatLiesInTheFolder(t *testing.T) {
	for _, p := range places[:2] {
		root := p.fresh(t)
		v := p.open(t, root)
		mustPut(t, v, sample(1, 10))
		mustPut(t, v, sample(1, 1000))
		u, err := v.BeginUpload(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if err := u.Append(t.Context(), bytes.NewReader(sample(2, 1000)), nil); err != nil {
			t.Fatal(err)
		}
		if err := u.Park(t.Context()); err != nil {
			t.Fatal(err)
		}
		names := regexp.MustCompile(`^(\.|format|(content|manifest)(/[0-9a-f]{2}(/[0-9a-f]{64})?)?|uploads(/[0-9a-f]{32}(/(data|state|lock))?)?)$`)
		count := 0
		err = filepath.WalkDir(root, func(path string, entry fs.DirEntry, err error) error {
			if err != nil {
				return err
			}
			info, err := entry.Info()
			if err != nil {
				return err
			}
			name, err := filepath.Rel(root, path)
			if err != nil {
				return err
			}
			want := fs.FileMode(fileMode)
			if entry.IsDir() {
				want = folderMode
			} else if strings.HasPrefix(filepath.ToSlash(name), "content/") {
				want = contentMode
			}
			if info.Mode().Perm() != want || !names.MatchString(filepath.ToSlash(name)) {
				t.Errorf("%s: %v, want %v", name, info.Mode(), want)
			}
			count++
			return nil
		})
		if err != nil || count < 15 {
			t.Errorf("%d names, %v", count, err)
		}
	}
}

// Without a key the folder can be read without this program.
func TestPlainContentIsAPlainFile(t *testing.T) {
	root := folder.fresh(t)
	v := folder.open(t, root)
	data := sample(3, 1000)
	name := mustPut(t, v, data).Hash.String()
	got, err := os.ReadFile(filepath.Join(root, "content", name[:2], name))
	if err != nil || !bytes.Equal(got, data) {
		t.Errorf("%d bytes, %v", len(got), err)
	}
}

// The disk is full at each writing step in turn, after part of the bytes: the old
// state stands, the fault tells the place, and Sweep leaves nothing behind.
func TestAFullDisk(t *testing.T) {
	for _, p := range places[:2] {
		for _, size := range []int{10, 1000} {
			root := p.fresh(t)
			v := p.open(t, root)
			old := sample(4, 500)
			mustPut(t, v, old)
			before := raw(t, v)
			l := v.backend.(*local)
			whole := l.write
			failures := 0
			for fail := 1; ; fail++ {
				calls := 0
				l.write = func(f *os.File, b []byte, offset int64) (int, error) {
					if calls++; calls >= fail {
						n, _ := whole(f, b[:len(b)/2], offset)
						return n, &fs.PathError{Op: "write", Path: f.Name(), Err: syscall.ENOSPC}
					}
					return whole(f, b, offset)
				}
				_, err := v.Put(t.Context(), bytes.NewReader(sample(5, size)), nil)
				if err == nil {
					break
				}
				failures++
				if !isCode(err, fault.NoSpace) || !errors.Is(err, syscall.ENOSPC) ||
					!strings.Contains(err.Error(), "disk is full") || !strings.Contains(err.Error(), root) {
					t.Fatalf("write %d: %v", fail, err)
				}
				l.write = whole
				if has, err := v.Has(t.Context(), mustHash(sample(5, size))); has || err != nil {
					t.Fatalf("write %d: Has says %v, %v", fail, has, err)
				}
				mustHold(t, v, old)
				after := raw(t, v)
				for name, stored := range before {
					if !bytes.Equal(after[name], stored) {
						t.Fatalf("write %d: %s changed", fail, name)
					}
				}
				for name := range after {
					// The content's bytes may be there whole, without their manifest.
					if before[name] == nil && !strings.HasPrefix(name, "content/") {
						t.Fatalf("write %d: %s is left", fail, name)
					}
				}
			}
			if failures < 2 {
				t.Errorf("only %d writes were tried", failures)
			}
			sound(t, v)
		}
	}
}

// A file is flushed before it gets its name, the folder after: otherwise a power
// cut leaves a name without bytes.
func TestFlushedBeforeNamed(t *testing.T) {
	for _, size := range []int{10, 1000} {
		root := folder.fresh(t)
		v := folder.open(t, root)
		l := v.backend.(*local)
		var flushed []string
		l.flush = func(f *os.File) error {
			flushed = append(flushed, f.Name())
			if info, err := f.Stat(); err == nil && !info.IsDir() && strings.HasPrefix(f.Name(), filepath.Join(root, "content")) {
				t.Errorf("%s has its name before it is flushed", f.Name())
			}
			return f.Sync()
		}
		content := mustPut(t, v, sample(6, size))
		name := content.Hash.String()
		wanted := []string{ // in this order
			"uploads" + string(filepath.Separator), filepath.Join("content", name[:2]),
			"uploads" + string(filepath.Separator), filepath.Join("manifest", name[:2]),
		}
		at := 0
		for _, f := range flushed {
			relative, err := filepath.Rel(root, f)
			if err != nil {
				t.Fatal(err)
			}
			if at < len(wanted) && (relative == wanted[at] || strings.HasSuffix(wanted[at], string(filepath.Separator)) && strings.HasPrefix(relative, wanted[at])) {
				at++
			}
		}
		if at < len(wanted) {
			t.Errorf("%d bytes: no flush of %s in its turn: %q", size, wanted[at], flushed)
		}
		l.flush = func(*os.File) error { return syscall.EIO }
		if _, err := v.Put(t.Context(), bytes.NewReader(sample(7, size)), nil); !errors.Is(err, syscall.EIO) {
			t.Errorf("a flush that fails is not told: %v", err)
		}
	}
}

func TestFoldersThatCannotBeUsed(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, fileMode); err != nil {
		t.Fatal(err)
	}
	for _, address := range []string{file, filepath.Join(file, "below"), "\x00"} {
		if _, err := Open(t.Context(), address, Options{}); err == nil {
			t.Errorf("%q is opened", address)
		}
	}
	// A link in the place of a content is not followed out of the folder's rules:
	// what it shows must still be the content.
	root := folder.fresh(t)
	v := folder.open(t, root)
	content := mustPut(t, v, sample(8, 100))
	location := contentPath(content.Hash.String())
	remove(t, v, location)
	if err := os.Mkdir(v.backend.where(location), folderMode); err != nil {
		t.Fatal(err)
	}
	if _, err := v.Get(t.Context(), content.Hash); err == nil {
		t.Error("a folder is read as a content")
	}
}
