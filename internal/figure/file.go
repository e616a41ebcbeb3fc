package figure

import (
	"os"
	"path/filepath"

	"limitans/fault"
	"limitans/internal/figure/scene"
)

// WriteFile writes one drawing as an SVG file. What stands there is replaced
// once the new file is complete, so a run that fails leaves it as it was.
func WriteFile(path string, s *scene.Scene) error {
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		return &fault.Error{Code: fault.Invalid, Where: path, What: "this is a folder", Expected: "a file for the figure"}
	}
	scratch, err := os.MkdirTemp(filepath.Dir(path), ".drawing-*")
	if err != nil {
		return cannotWrite(path, err)
	}
	defer os.RemoveAll(scratch)
	made := filepath.Join(scratch, "figure.svg")
	if err := writeScene(made, s); err != nil {
		return cannotWrite(path, err)
	}
	if err := os.Rename(made, path); err != nil {
		return cannotWrite(path, err)
	}
	return nil
}
