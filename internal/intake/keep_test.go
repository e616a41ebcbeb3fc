package intake

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/exchange/dicom"
	"limitans/internal/exchange/scan"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/internal/work"
	"limitans/oct/measure"
)

// TestKeepAndMeasure is the whole path on both databases: file, vault, record,
// job, figures.
func TestKeepAndMeasure(t *testing.T) {
	onBoth(t, func(t *testing.T, f *fixture) {
		kept := f.keep(f.scanOf(rightScan(t), "scans/Invented OD 1.dcm"))
		if kept.JobID == 0 || kept.Already || kept.Measured || kept.Taken.ISO() != "2026-11-22" {
			t.Errorf("%+v", kept)
		}
		noun := f.course(f.right.ID).Scans[0]
		if noun.ID != kept.ID || noun.Slices != drawnSlices || noun.Rows != drawnRows || noun.Columns != drawnColumns || *noun.LateralUM != drawnLateralUM ||
			noun.ScaleTrust != record.ScaleFromFile || noun.File.MediaType != "application/dicom" || noun.File.Bytes != int64(len(rightScan(t))) {
			t.Errorf("%+v", noun)
		}
		var told []record.SideFrom
		for _, s := range noun.SideSources {
			told = append(told, s.Source)
		}
		if want := []record.SideFrom{record.SideFromForm, record.SideFromHeader, record.SideFromName}; !slices.Equal(told, want) {
			t.Errorf("sides from %v, want %v", told, want)
		}
		f.originOf(kept)
		jobs := f.work()
		if len(jobs) != 1 || jobs[0].State != work.Done || jobs[0].Progress.Percent != 100 {
			t.Fatalf("%+v", jobs)
		}
		c := f.course(f.right.ID)
		if len(c.Figures) != 1 {
			t.Fatalf("%d figures", len(c.Figures))
		}
		got := c.Figures[0]
		if got.ScanID != kept.ID || got.MeasuredBy != Measurer || got.HolePresent != record.Yes || !got.Corrected ||
			*got.AxialLengthMM != 26.5 || got.ProgramVersion != program || !got.MeasuredAt.Equal(now) {
			t.Errorf("figures of %s by %s, hole %s, %v mm, version %s", got.ScanID, got.MeasuredBy, got.HolePresent, got.AxialLengthMM, got.ProgramVersion)
		}
		// The second route: the drawing itself, which never was a file.
		direct, err := measure.Volume(t.Context(), drawing(t, eye.Right, 0), measure.Options{AxialLengthMM: 26.5})
		if err != nil {
			t.Fatal(err)
		}
		// The scale goes through decimal text of 16 characters in the file.
		if want := direct.LateralCorrection.MLDUM; math.Abs(got.MLDUM.Value-want.Value) > 1e-6 || math.Abs(got.MLDUM.High-want.High) > 1e-6 {
			t.Errorf("diameter %+v, want %+v", got.MLDUM, want)
		}
		report, err := f.store.Verify(t.Context())
		if err != nil || !report.OK() {
			t.Errorf("%v, %+v", err, report)
		}
	})
}

// originOf checks that what identifies stands apart from the scan.
func (f *fixture) originOf(kept Kept) {
	f.t.Helper()
	var id record.ID
	err := f.store.Reader().QueryRow(f.t.Context(), "select id from file_origin where of_id = ?", string(kept.ID)).Scan(&id)
	if err != nil {
		f.t.Fatal(err)
	}
	found, err := f.store.Get(f.t.Context(), record.KindFileOrigin, id)
	if err != nil {
		f.t.Fatal(err)
	}
	origin := found.(*record.FileOrigin)
	if origin.Name != "scans/Invented OD 1.dcm" || origin.HeaderName != "Phantom^Invented" || origin.HeaderNumber != "INVENTED" ||
		origin.HeaderSide != "R" || origin.SHA256 != kept.File.SHA256 || origin.CameFrom != "test" || !origin.ReceivedAt.Equal(now) {
		f.t.Errorf("%+v", origin)
	}
}

// TestSidesDisagree is hard case 23: form, header and file name tell different
// sides; nothing is kept until a person types the side with a reason.
func TestSidesDisagree(t *testing.T) {
	f := inFolder(t)
	r := f.scanOf(leftScan(t), "x_OD_1.dcm")
	refuse := func(parts ...string) {
		t.Helper()
		r.Content = bytes.NewReader(leftScan(t))
		_, err := f.intake.Keep(t.Context(), nurse, r)
		if fault.CodeOf(err) != fault.Conflict {
			t.Fatalf("%v", err)
		}
		for _, part := range append(parts, "nothing was kept") {
			if !strings.Contains(err.Error(), part) {
				t.Errorf("%q is not in %q", part, err)
			}
		}
		f.nothing()
	}
	refuse("form says right", "file header says left", "file name says right", "type the side with the reason")
	r.TypedSide = eye.Right
	refuse("form says right") // without a reason
	r.Reason, r.TypedSide = "the technician swapped the sides in the device", eye.Left
	refuse("the eye in the record is the right one")
	r.FormSide, r.FormText = eye.Left, "left"
	r.Reason, r.TypedSide = "", eye.SideUnknown
	refuse("form says left", "file header says left", "file name says right")
	// Settled: with the side typed and the reason told it is kept and measured.
	r.FormSide, r.FormText, r.TypedSide, r.Reason = eye.Right, "right", eye.Right, "the technician swapped the sides in the device"
	r.Content = bytes.NewReader(leftScan(t))
	kept := f.keep(r)
	noun := f.course(f.right.ID).Scans[0]
	if len(noun.Overrides) != 1 || noun.Overrides[0].TypedSide != eye.Right || noun.Overrides[0].By != nurse {
		t.Errorf("%+v", noun.Overrides)
	}
	if jobs := f.work(); jobs[0].State != work.Done || jobs[0].ID != kept.JobID {
		t.Errorf("%+v", jobs)
	}
}

// TestSidesOfFrames: the side stands in the functional groups alone, as in most
// objects of the kind.
func TestSidesOfFrames(t *testing.T) {
	h := headerFrom(t, leftScan(t))
	if len(h.sides) != 1 || h.sides[0].Side != eye.Left || h.sides[0].Text != "L" {
		t.Errorf("%+v", h.sides)
	}
}

func headerFrom(t *testing.T, content []byte) *header {
	t.Helper()
	path := filepath.Join(t.TempDir(), "content")
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	h, err := readHeader(path)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// TestHeaderWithoutPixels: what is read before the pixel data is what the whole
// file says, also where the letters of the border stand inside a value.
func TestHeaderWithoutPixels(t *testing.T) {
	object := withText(t, rightScan(t), "Invented tomograph", "Invented \xe0\x7f\x10\x00tmgr.")
	at := bytes.LastIndex(object[:len(object)-drawnSlices*drawnRows*drawnColumns], []byte{0xe0, 0x7f, 0x10, 0x00})
	head, err := parseHead(object[:at+12], false)
	if err != nil || head == nil {
		t.Fatalf("%v, %v", head, err)
	}
	whole, err := dicom.Parse(object)
	if err != nil {
		t.Fatal(err)
	}
	if len(head.Elements) != len(whole.Elements)-1 {
		t.Errorf("%d elements, %d in the whole file", len(head.Elements), len(whole.Elements))
	}
	if none, err := parseHead(object[:at], false); none != nil || err != nil {
		t.Errorf("a header without its end: %v, %v", none, err)
	}
	if h := headerFrom(t, []byte("no DICOM")); len(h.sides) != 0 || h.name != "" {
		t.Errorf("%+v", h)
	}
}

func TestOtherPerson(t *testing.T) {
	f := inFolder(t)
	// The attribute is empty in the object; a copy gets a date.
	object := bytes.Replace(rightScan(t), []byte("\x10\x00\x30\x00DA\x00\x00"), []byte("\x10\x00\x30\x00DA\x08\x0019510203"), 1)
	r := f.scanOf(object, "a.dcm")
	_, err := f.intake.Keep(t.Context(), nurse, r)
	if fault.CodeOf(err) != fault.Conflict || !strings.Contains(err.Error(), "1951-02-03") || !strings.Contains(err.Error(), "1950-02-03") {
		t.Fatal(err)
	}
	f.nothing()
	r.Content, r.ConfirmPerson = bytes.NewReader(object), true
	if _, err := f.intake.Keep(t.Context(), nurse, r); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("a confirmation without a reason: %v", err)
	}
	r.Content, r.Reason = bytes.NewReader(object), "typed wrongly at the device, number and name agree"
	kept := f.keep(r)
	if !slices.ContainsFunc(kept.Notes, func(n string) bool { return strings.Contains(n, "born 1951-02-03") }) ||
		!slices.ContainsFunc(kept.Notes, func(n string) bool { return strings.Contains(n, "INVENTED") }) {
		t.Errorf("%q", kept.Notes)
	}
}

// TestSameContent: the same content of one eye is kept once, also when two
// people keep it at the same moment; in the other eye it is a mistake.
func TestSameContent(t *testing.T) {
	onBoth(t, func(t *testing.T, f *fixture) {
		var group sync.WaitGroup
		results := make([]Kept, 4)
		failed := make([]error, 4)
		object := rightScan(t)
		for i := range results {
			group.Go(func() {
				results[i], failed[i] = f.intake.Keep(t.Context(), nurse, f.scanOf(object, "a.dcm"))
			})
		}
		group.Wait()
		if err := errors.Join(failed...); err != nil {
			t.Fatal(err)
		}
		fresh := 0
		for _, k := range results {
			if !k.Already {
				fresh++
			}
			if k.ID != results[0].ID || k.JobID != results[0].JobID || k.Already != k.JobAlready {
				t.Errorf("%+v, and %+v", k, results[0])
			}
		}
		if c := f.course(f.right.ID); fresh != 1 || len(c.Scans) != 1 {
			t.Errorf("%d kept, %d scans", fresh, len(c.Scans))
		}
		f.work()
		if again := f.keep(f.scanOf(rightScan(t), "b.dcm")); !again.Already || !again.Measured || again.JobID != 0 {
			t.Errorf("%+v", again)
		}
		r := f.scanOf(rightScan(t), "a.dcm")
		r.EyeID, r.FormSide, r.FormText = f.left.ID, eye.Left, "left"
		r.TypedSide, r.Reason = eye.Left, "I am sure"
		if _, err := f.intake.Keep(t.Context(), nurse, r); fault.CodeOf(err) != fault.Conflict || !strings.Contains(err.Error(), "another eye of the same patient") {
			t.Errorf("%v", err)
		}
		// Once the wrong one is struck out, the right one can be kept.
		f.write(func(tx *store.Tx) error {
			return tx.StrikeOut(t.Context(), record.KindScan, results[0].ID, 1, "it shows the left eye")
		})
		r.Content = bytes.NewReader(rightScan(t))
		if kept := f.keep(r); kept.Already {
			t.Errorf("%+v", kept)
		}
	})
}

// TestKeepIsWhole: when the transaction fails, neither noun nor job is there.
func TestKeepIsWhole(t *testing.T) {
	f := inFolder(t)
	if _, err := f.store.Writer().Exec(t.Context(), "alter table river_job rename to elsewhere"); err != nil {
		t.Fatal(err)
	}
	if _, err := f.intake.Keep(t.Context(), nurse, f.scanOf(rightScan(t), "a.dcm")); fault.CodeOf(err) != fault.Internal {
		t.Errorf("kept without a queue: %v", err)
	}
	if c := f.course(f.right.ID); len(c.Scans) != 0 {
		t.Errorf("%+v", c.Scans)
	}
	if _, err := f.intake.Keep(t.Context(), record.Actor{}, f.scanOf(rightScan(t), "a.dcm")); err == nil {
		t.Error("kept by nobody")
	}
}

func TestPictureWithTypedScale(t *testing.T) {
	f := inFolder(t)
	picture, err := os.ReadFile("../../testdata/kermany-oct/NORMAL-1384-3.jpeg")
	if err != nil {
		t.Fatal(err)
	}
	r := f.scanOf(picture, "NORMAL-1384-3.jpeg")
	if _, err := f.intake.Keep(t.Context(), nurse, r); fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), "the day") {
		t.Errorf("a picture without a day: %v", err)
	}
	f.nothing()
	depth, lateral := 3.87, 11.5
	r.Content, r.Taken = bytes.NewReader(picture), record.Date{Year: 2026, Month: 11, Day: 20}
	r.Scale = scan.GivenScale{DepthUM: &depth, LateralUM: &lateral}
	kept := f.keep(r)
	noun := f.course(f.right.ID).Scans[0]
	if noun.ScaleTrust != record.ScaleFromUser || *noun.DepthUM != depth || noun.SliceUM != nil || noun.File.MediaType != "image/jpeg" {
		t.Errorf("%+v", noun)
	}
	if jobs := f.work(); jobs[0].State != work.Done {
		t.Fatalf("%+v", jobs[0].Fault)
	}
	// What is told the second time is not taken, and not lost silently.
	r.Content, r.Taken, r.Flip = bytes.NewReader(picture), record.Date{Year: 2026, Month: 11, Day: 21}, true
	other := 12.5
	r.Scale.LateralUM = &other
	if again := f.keep(r); again.Taken.ISO() != "2026-11-20" || len(again.Notes) != 3 {
		t.Errorf("%v, %q", again.Taken, again.Notes)
	}
	figures := f.course(f.right.ID).Figures
	if len(figures) != 1 || figures[0].ScanID != kept.ID || figures[0].HolePresent != record.No {
		t.Errorf("%d figures", len(figures))
	}
}

func TestDays(t *testing.T) {
	f := inFolder(t)
	r := f.scanOf(rightScan(t), "a.dcm")
	r.Taken = record.Date{Year: 2026, Month: 11, Day: 1}
	kept := f.keep(r)
	if kept.Taken.ISO() != "2026-11-01" || !slices.ContainsFunc(kept.Notes, func(n string) bool { return strings.Contains(n, "the file says 2026-11-22") }) {
		t.Errorf("%v, %q", kept.Taken, kept.Notes)
	}
	r = f.scanOf(rightScan(t), "a.dcm")
	r.Taken = record.Date{Year: 2028, Month: 1, Day: 1}
	if _, err := f.intake.Keep(t.Context(), nurse, r); err == nil {
		t.Error("a day in the future was kept")
	}
	for text, want := range map[string]string{"20260131": "2026-01-31", "20260131101500.5+0100": "2026-01-31", "20260231": "", "2026": "", "": ""} {
		if got := headerDay(text); got.ISO() != want || want == "" && got.Raw != text {
			t.Errorf("%q is %+v", text, got)
		}
	}
}

func TestRefusedContents(t *testing.T) {
	f := inFolder(t)
	for name, test := range map[string]struct {
		content []byte
		code    fault.Code
		part    string
	}{
		"empty.dcm":  {nil, fault.Malformed, "empty.dcm: the file is empty"},
		"letter.pdf": {[]byte("%PDF-1.7 and so on"), fault.Unsupported, "a PDF document"},
		"cut.dcm":    {rightScan(t)[:2000], fault.Malformed, "cut.dcm"},
	} {
		_, err := f.intake.Keep(t.Context(), nurse, f.scanOf(test.content, name))
		if fault.CodeOf(err) != test.code || !strings.Contains(err.Error(), test.part) || strings.Contains(err.Error(), "limitans-intake") {
			t.Errorf("%s: %v", name, err)
		}
	}
	r := f.scanOf(rightScan(t), "a.dcm")
	r.Kind = record.KindVisit
	if _, err := f.intake.Keep(t.Context(), nurse, r); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("%v", err)
	}
	r = f.scanOf(rightScan(t), "a.dcm")
	r.EyeID = f.person.ID
	if _, err := f.intake.Keep(t.Context(), nurse, r); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("%v", err)
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if _, err := f.intake.Keep(ctx, nurse, f.scanOf(rightScan(t), "a.dcm")); err == nil {
		t.Error("kept after the end")
	}
	f.nothing()
}

// TestZipWithSideFile: what lies in the file itself counts, its side too.
func TestZipWithSideFile(t *testing.T) {
	f := inFolder(t)
	picture, err := os.ReadFile("../../testdata/kermany-oct/NORMAL-1384-3.jpeg")
	if err != nil {
		t.Fatal(err)
	}
	packed := func(side string) []byte {
		var out bytes.Buffer
		w := zip.NewWriter(&out)
		for name, content := range map[string]string{"1.jpeg": string(picture), "scan.yaml": "depth_um: 4\nlateral_um: 12\neye: " + side + "\n"} {
			file, err := w.Create(name)
			if err == nil {
				_, err = io.WriteString(file, content)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		return out.Bytes()
	}
	r := f.scanOf(packed("left"), "a.zip")
	r.Taken = record.Date{Year: 2026, Month: 11}
	if _, err := f.intake.Keep(t.Context(), nurse, r); fault.CodeOf(err) != fault.Conflict || !strings.Contains(err.Error(), "told inside the file") {
		t.Errorf("%v", err)
	}
	r.Content = bytes.NewReader(packed("right"))
	f.keep(r)
	if noun := f.course(f.right.ID).Scans[0]; *noun.LateralUM != 12 || noun.ScaleTrust != record.ScaleFromUser {
		t.Errorf("%+v", noun)
	}
}

func TestOpenFile(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "a.dcm")
	if err := os.WriteFile(path, []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	file, err := OpenFile(path, record.KindScan)
	if err != nil {
		t.Fatal(err)
	}
	_ = file.Close()
	if _, err := OpenFile(folder, record.KindScan); fault.CodeOf(err) != fault.Unsupported {
		t.Errorf("a folder: %v", err)
	}
	if _, err := OpenFile(filepath.Join(folder, "none"), record.KindFilm); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("nothing: %v", err)
	}
	for _, name := range []string{"scan.yaml", "a.yml", "a.dcm.yaml"} {
		side := filepath.Join(folder, name)
		if err := os.WriteFile(side, []byte("eye: left\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := OpenFile(path, record.KindScan); fault.CodeOf(err) != fault.Unsupported || !strings.Contains(err.Error(), name) {
			t.Errorf("beside %s: %v", name, err)
		}
		if file, err := OpenFile(path, record.KindFilm); err != nil {
			t.Errorf("a film beside %s: %v", name, err)
		} else {
			_ = file.Close()
		}
		if err := os.Remove(side); err != nil {
			t.Fatal(err)
		}
	}
}

func TestFilmsAndDocuments(t *testing.T) {
	f := inFolder(t)
	day := record.Date{Year: 2026, Month: 11, Day: 20}
	request := func(kind record.Kind, name, content string) Request {
		return Request{
			Kind: kind, Name: name, Content: strings.NewReader(content), EyeID: f.right.ID, Taken: day,
			Sort: record.DocumentConsent,
		}
	}
	for _, kind := range []record.Kind{record.KindFilm, record.KindDocument} {
		if _, err := f.intake.Keep(t.Context(), nurse, request(kind, "clip OS.mp4", "left")); fault.CodeOf(err) != fault.Conflict {
			t.Errorf("%s: %v", kind, err)
		}
		without := request(kind, "clip.mp4", "x")
		without.Taken = record.Date{}
		if _, err := f.intake.Keep(t.Context(), nurse, without); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", kind, err)
		}
		if _, err := f.intake.Keep(t.Context(), nurse, request(kind, "clip.mp4", "")); fault.CodeOf(err) != fault.Malformed {
			t.Errorf("%s: %v", kind, err)
		}
	}
	f.nothing()
	film := f.keep(request(record.KindFilm, "clip OD.mp4", "frames"))
	consent := f.keep(request(record.KindDocument, "consent.pdf", "%PDF-1.7"))
	if film.JobID != 0 || consent.File.MediaType != "application/pdf" {
		t.Errorf("%+v, %+v", film, consent)
	}
	if again := f.keep(request(record.KindFilm, "the same.mp4", "frames")); !again.Already || again.ID != film.ID {
		t.Errorf("%+v", again)
	}
	other := request(record.KindDocument, "consent.pdf", "%PDF-1.7")
	other.EyeID = f.left.ID
	if kept := f.keep(other); kept.Already || len(kept.Notes) != 1 {
		t.Errorf("one letter about both eyes: %+v", kept)
	}
	c := f.course(f.right.ID)
	if len(c.Films) != 1 || c.Films[0].Clips[0].File.SHA256 != film.File.SHA256 || len(c.Documents) != 1 || c.Documents[0].Sort != record.DocumentConsent {
		t.Errorf("%+v, %+v", c.Films, c.Documents)
	}
}
