package intake

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"limitans/eye"
	"limitans/fault"
	"limitans/internal/exchange/scan"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/oct"
)

// glanceLimits bound the scans whose pixels are looked at while they are kept,
// so that this takes below 200 MiB. Larger ones are looked at when they are
// measured.
var glanceLimits = scan.Limits{Samples: 24 << 20, FileBytes: headMost, TotalBytes: headMost}

// scan keeps a scan.
func (k *keeping) scan(ctx context.Context) error {
	path, drop, err := spool(ctx, k.request.Name, k.request.Content)
	if err != nil {
		return err
	}
	defer drop()
	noun := &record.Scan{PatientID: k.course.Eye.PatientID, EyeID: k.course.Eye.ID}
	head, err := readHeader(path)
	if err != nil {
		return renamed(err, path, k.request.Name)
	}
	if err := k.samePerson(head); err != nil {
		return err
	}
	v, err := k.glance(ctx, path)
	if err != nil {
		return err
	}
	noun.SideSources = k.sideSources(head, v)
	k.describe(noun, v, head)
	if noun.Taken, err = k.day(head.taken, v); err != nil {
		return err
	}
	k.kept.Taken = noun.Taken
	if err := k.permitted(noun, &noun.Overrides, noun.SideSources); err != nil {
		return err
	}
	file, err := os.Open(path)
	if err != nil {
		return cannotRead(k.request.Name, err)
	}
	defer file.Close()
	if err := k.toVault(ctx, file); err != nil {
		return err
	}
	noun.File = k.kept.File
	return k.write(ctx, noun, head)
}

// spool copies a content into a folder of its own, under a name that tells
// nothing, for readers that want a path. drop removes it.
func spool(ctx context.Context, name string, content io.Reader) (path string, drop func(), err error) {
	folder, err := os.MkdirTemp("", "limitans-intake-*")
	if err != nil {
		return "", nil, cannotRead(name, err)
	}
	drop = func() { _ = os.RemoveAll(folder) }
	path = filepath.Join(folder, "content")
	if err := copyTo(ctx, path, content); err != nil {
		drop()
		if fault.CodeOf(err) != fault.Internal || ctx.Err() != nil {
			return "", nil, err
		}
		return "", nil, cannotRead(name, err)
	}
	return path, drop, nil
}

func copyTo(ctx context.Context, path string, content io.Reader) error {
	// 0600: it is a patient's.
	file, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(file, stopping{ctx, content})
	if closing := file.Close(); err == nil {
		err = closing
	}
	return err
}

// stopping is a reader that ends with a context.
type stopping struct {
	ctx    context.Context
	inside io.Reader
}

// Read reads while the context stands.
func (s stopping) Read(p []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.inside.Read(p)
}

// glance opens a scan that is small enough; nil for one that is not.
func (k *keeping) glance(ctx context.Context, path string) (*oct.Volume, error) {
	v, err := scan.Open(ctx, path, scan.Options{
		Scale: k.request.Scale, Laterality: k.request.TypedSide, AcceptSide: k.request.TypedSide != eye.SideUnknown, Limits: glanceLimits,
	})
	switch code := fault.CodeOf(err); {
	case code == fault.TooLarge:
		k.note("the scan is large: its size and scale are read when it is measured")
		return nil, nil
	case err != nil:
		return nil, renamed(err, path, k.request.Name)
	}
	k.kept.Notes = append(k.kept.Notes, v.Notes...)
	return v, nil
}

// renamed puts the name of the file where the temporary one stood.
func renamed(err error, path, name string) error {
	f, is := err.(*fault.Error)
	if !is {
		return err
	}
	named := *f
	where := strings.TrimPrefix(strings.TrimPrefix(f.Where, path), filepath.Base(path))
	named.Where = strings.TrimSuffix(filepath.Base(name)+": "+strings.TrimLeft(where, ": "), ": ")
	return &named
}

// sideSources are all places that tell the side.
func (k *keeping) sideSources(head *header, v *oct.Volume) []record.SideSource {
	var all []record.SideSource
	if k.request.FormSide != eye.SideUnknown {
		all = append(all, record.SideSource{Source: record.SideFromForm, Text: record.FreeText(k.request.FormText), Side: k.request.FormSide})
	} else {
		all = append(all, record.SideSource{Source: record.SideFromRecord, Side: k.course.Eye.Side})
	}
	all = append(all, head.sides...)
	if v != nil && len(head.sides) == 0 && v.Laterality != eye.SideUnknown && k.request.TypedSide == eye.SideUnknown {
		// A zip carries DICOM files or a side file.
		all = append(all, record.SideSource{Source: record.SideFromHeader, Text: "told inside the file", Side: v.Laterality})
	}
	if side, text := record.SideFromFileName(filepath.Base(k.request.Name)); text != "" {
		all = append(all, record.SideSource{Source: record.SideFromName, Text: record.FreeText(text), Side: side})
	}
	if k.request.TypedSide != eye.SideUnknown {
		all = append(all, record.SideSource{Source: record.SideTyped, Side: k.request.TypedSide})
	}
	return all
}

// permitted holds a noun to the rules of the record before its file is kept.
// The override for sides that disagree is entered where a person typed the side.
func (k *keeping) permitted(noun record.Entity, overrides *[]record.Override, sources []record.SideSource) error {
	now := k.Now()
	side, found := record.CheckSides(sources)
	if len(found) > 0 && found[0].Code == record.CodeSidesDisagree && side != eye.SideUnknown {
		*overrides = append(*overrides, record.Override{
			Code: record.CodeSidesDisagree, Reason: record.FreeText(k.request.Reason), By: k.actor, At: now, TypedSide: side,
		})
	}
	around := record.Around{Today: record.DayOf(now), Eye: k.course.Eye}
	for _, stop := range record.Unresolved(record.Check(noun, around), *overrides) {
		if stop.Code == record.CodeReference && stop.Where == "id" {
			continue // it has none yet
		}
		code := fault.Invalid
		switch stop.Code {
		case record.CodeSidesDisagree, record.CodeSideNotEye, record.CodeSideMissing:
			code = fault.Conflict
		}
		return &fault.Error{Code: code, Where: k.request.Name, What: stop.What + "; nothing was kept", Mend: stop.Mend, Cause: &store.Refused{Stops: []record.Finding{stop}}}
	}
	return nil
}

// describe takes into the noun what the reader found.
func (k *keeping) describe(noun *record.Scan, v *oct.Volume, head *header) {
	if v == nil {
		noun.DepthUM, noun.LateralUM, noun.SliceUM = k.request.Scale.DepthUM, k.request.Scale.LateralUM, k.request.Scale.SliceUM
		if k.request.Scale != (scan.GivenScale{}) {
			noun.ScaleTrust = record.ScaleFromUser
		}
		noun.Flipped = k.request.Flip
		return
	}
	describeScan(noun, v)
	if !k.request.Flip {
		return
	}
	if look := oct.Upright(v); look.Direction == oct.DirectionMirrored {
		noun.Flipped = true
	} else {
		k.note("the scan was not turned over: it looks %s (%s)", look.Direction, look.Reason)
	}
}

// describeScan takes size, scale and format of a volume into its noun.
func describeScan(noun *record.Scan, v *oct.Volume) {
	noun.Slices, noun.Rows, noun.Columns, noun.Format = v.Slices, v.Rows, v.Columns, v.Acquisition.Format
	noun.Device = record.FreeText(strings.TrimSpace(v.Acquisition.Manufacturer + " " + v.Acquisition.Model))
	worst := oct.TrustUnknown
	for _, axis := range []struct {
		scale oct.AxisScale
		into  **float64
	}{{v.Scale.Depth, &noun.DepthUM}, {v.Scale.Lateral, &noun.LateralUM}, {v.Scale.Slice, &noun.SliceUM}} {
		*axis.into = nil
		if !axis.scale.Known() {
			continue
		}
		um := axis.scale.MicrometresPerSample
		*axis.into = &um
		if worst == oct.TrustUnknown || axis.scale.Trust < worst {
			worst = axis.scale.Trust
		}
	}
	noun.ScaleTrust = map[oct.Trust]string{
		oct.TrustUnknown: record.ScaleUnknown, oct.TrustAssumed: record.ScaleAssumed,
		oct.TrustUserGiven: record.ScaleFromUser, oct.TrustFileGiven: record.ScaleFromFile,
	}[worst]
}

// day is the day of the scan: as told, else as the file says. Two that differ
// are told.
func (k *keeping) day(head record.Date, v *oct.Volume) (record.Date, error) {
	if !head.Known() && v != nil && !v.Acquisition.AcquiredAt.IsZero() {
		head = record.DayOf(v.Acquisition.AcquiredAt)
	}
	told := k.request.Taken
	switch {
	case told.Known() && head.Known() && differ(told, head):
		k.note("the day %s was told and is kept; the file says %s", told, head)
		return told, nil
	case told.Known() || told.Raw != "" && !head.Known():
		return told, nil
	case head.Known():
		return record.Date{Year: head.Year, Month: head.Month, Day: head.Day, How: "from the header of the file"}, nil
	}
	return told, &fault.Error{Code: fault.Invalid, Where: "day", What: "neither the file nor anybody tells when it was made; nothing was kept", Mend: "tell the day, or that it is unknown"}
}

// differ reports dates that cannot be the same.
func differ(a, b record.Date) bool { return a.CertainlyBefore(b) || b.CertainlyBefore(a) }

// samePerson holds the header against the person that the eye belongs to.
func (k *keeping) samePerson(head *header) error {
	for _, p := range k.course.Persons {
		if p.BirthDate.Known() && head.birth.Known() && differ(p.BirthDate, head.birth) {
			if !k.request.ConfirmPerson || strings.TrimSpace(k.request.Reason) == "" {
				return &fault.Error{
					Code: fault.Conflict, Where: k.request.Name,
					What: fmt.Sprintf("its header says born %s, the person in the record was born %s; nothing was kept", head.birth, p.BirthDate),
					Mend: "find out whose scan it is; where the header is wrong, confirm the person with a reason",
				}
			}
			k.note("kept although its header says born %s", head.birth)
		}
		if head.number != "" && !hasNumber(p, head.number) {
			k.note("its header has the number %s, which is none of this person's", head.number)
		}
	}
	return nil
}

func hasNumber(p *record.Person, number string) bool {
	if p.UnitNumber == number {
		return true
	}
	for _, i := range p.Identifiers {
		if i.Value == number {
			return true
		}
	}
	return false
}
