//go:build unix

package scan

import (
	"context"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"limitans/fault"
)

// Opening a pipe that nobody writes to would wait for ever.
func TestPipe(t *testing.T) {
	p := filepath.Join(t.TempDir(), "pipe")
	if err := syscall.Mkfifo(p, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(context.Background(), p, Options{}); fault.CodeOf(err) != fault.Unsupported || !strings.Contains(err.Error(), "neither") {
		t.Errorf("%v", err)
	}
	folder := filepath.Dir(p)
	writeFile(t, folder, "a.png", pngBytes(t, greyPicture(64, 48)))
	v, err := Open(context.Background(), folder, Options{})
	if err != nil || !strings.Contains(strings.Join(v.Notes, "\n"), "pipe was passed over") {
		t.Errorf("%v, %v", v, err)
	}
}
