package figure

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"

	"limitans/oct/grey"

	"limitans/fault"
	"limitans/internal/figure/scene"
)

// ownNames are the names that WriteAll gives.
var ownNames = regexp.MustCompile(`^(overview|widest|front|hole-3d|thickness|slice-[0-9]{3,})\.svg$`)

// drawing is one file to write.
type drawing struct {
	name string
	draw func() *scene.Scene
}

// drawings lists all files of a subject, the overview first.
func drawings(s Subject) []drawing {
	v, w := s.Volume, grey.WindowOf(s.Volume)
	out := []drawing{
		{"overview.svg", func() *scene.Scene { return drawOverview(v, s.Surfaces, s.Hole, w) }},
		{"widest.svg", func() *scene.Scene { return drawWidest(v, s.Surfaces, s.Hole, w) }},
		{"front.svg", func() *scene.Scene { return EnFace(v, s.Surfaces, s.Hole) }},
		{"hole-3d.svg", func() *scene.Scene { return Lumen3D(v, s.Hole) }},
		{"thickness.svg", func() *scene.Scene { return ThicknessMap(v, s.Thickness) }},
	}
	for slice := range v.Slices {
		out = append(out, drawing{fmt.Sprintf("slice-%03d.svg", slice+1), func() *scene.Scene {
			return drawSlice(v, s.Surfaces, s.Hole, slice, w)
		}})
	}
	return out
}

// WriteAll draws a subject into a folder, which is made when it is not there,
// and returns the names of the files, the overview first. Files of the same
// names are replaced. All are written into a scratch folder inside first and
// moved when the last is done, so that a run that fails or is ended by ctx
// leaves no part of its work. A folder that holds slices of a longer scan is
// refused, because the drawings of two scans would stand side by side.
// progress may be nil.
func WriteAll(ctx context.Context, folder string, s Subject, progress func(done, total int)) (names []string, err error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	work := drawings(s)
	for _, d := range work {
		names = append(names, d.name)
	}
	made, err := makeFolder(folder)
	if err != nil {
		return nil, err
	}
	defer func() {
		if err != nil && made {
			os.Remove(folder) // only when empty
		}
	}()
	if err := refuseOthers(folder, names); err != nil {
		return nil, err
	}
	scratch, err := os.MkdirTemp(folder, ".drawing-*")
	if err != nil {
		return nil, cannotWrite(folder, err)
	}
	defer os.RemoveAll(scratch)
	for i, d := range work {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := writeScene(filepath.Join(scratch, d.name), d.draw()); err != nil {
			return nil, cannotWrite(folder, err)
		}
		if progress != nil {
			progress(i+1, len(work))
		}
	}
	if err := moveAll(scratch, folder, names); err != nil {
		return nil, cannotWrite(folder, err)
	}
	return names, nil
}

// CheckFolder returns a fault when a file stands where the folder should be,
// so that a caller learns it before the long work and not after.
func CheckFolder(folder string) error {
	if info, err := os.Stat(folder); err == nil && !info.IsDir() {
		return &fault.Error{Code: fault.Invalid, Where: folder, What: "this is a file", Expected: "a folder for the figures"}
	}
	return nil
}

// makeFolder makes the folder and reports whether it was not there before.
func makeFolder(folder string) (made bool, err error) {
	if err := CheckFolder(folder); err != nil {
		return false, err
	}
	if _, err := os.Stat(folder); err == nil {
		return false, nil
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return false, cannotWrite(folder, err)
	}
	return true, nil
}

// refuseOthers returns a fault when the folder holds figures that this run
// would not replace.
func refuseOthers(folder string, names []string) error {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return cannotWrite(folder, err)
	}
	for _, e := range entries {
		if ownNames.MatchString(e.Name()) && !slices.Contains(names, e.Name()) {
			return &fault.Error{
				Code: fault.Conflict, Where: folder,
				What: e.Name() + " there belongs to another scan", Mend: "choose an empty folder, or remove the figures in this one",
			}
		}
	}
	return nil
}

func writeScene(path string, s *scene.Scene) error {
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	err = s.WriteSVG(file)
	return errors.Join(err, file.Close())
}

// moveAll moves the finished files to their places. When one cannot be moved,
// those that were moved are taken away again.
func moveAll(scratch, folder string, names []string) error {
	for i, name := range names {
		if err := os.Rename(filepath.Join(scratch, name), filepath.Join(folder, name)); err != nil {
			for _, moved := range names[:i] {
				os.Remove(filepath.Join(folder, moved))
			}
			return err
		}
	}
	return nil
}

// cannotWrite turns an error of the file system into a fault that says what to
// do. Faults pass through.
func cannotWrite(folder string, err error) error {
	var f *fault.Error
	if errors.As(err, &f) {
		return f
	}
	why := err
	var path *fs.PathError
	if errors.As(err, &path) {
		why = path.Err
	}
	return &fault.Error{
		Code: fault.Invalid, Where: folder, What: "the figures cannot be written: " + why.Error(),
		Mend: "choose a folder that you may write to, with room on its disk", Cause: err,
	}
}
