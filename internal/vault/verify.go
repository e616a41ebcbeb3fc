package vault

import (
	"context"
	"io"
	"strings"

	"limitans/fault"
)

// FindingKind says what Verify found.
type FindingKind string

// The kinds of finding.
const (
	// Damaged: bytes or manifest are not as they were written.
	Damaged FindingKind = "damaged"
	// Missing: there is a manifest, but the bytes are gone.
	Missing FindingKind = "missing"
	// Unknown: something that no manifest and no rule of this package explains.
	// Bytes whose storing was cut off just before its end are among it.
	Unknown FindingKind = "unknown"
)

// A Finding is one thing that is not as it should be.
type Finding struct {
	Kind  FindingKind
	Where string // a person finds it there
	Hash  Hash   // of the content; zero when it is not known
	Fault error  // the reason, a *fault.Error
}

// Report is the result of Verify.
type Report struct {
	Contents   int   // whole contents
	Bytes      int64 // plain bytes of them
	Unfinished int   // uploads that go on or were broken off; not a fault
	Findings   []Finding
}

// Verify reads everything again and names what is wrong, missing or unknown. A
// content whose storing ends while it runs may be told as unknown. progress, if
// not nil, is told stored bytes read and to read. The error is about Verify
// itself (cancelled, store out of reach); what is found is in the report.
// Whether everything that the record refers to is there, the caller asks with
// Stat.
func (v *Vault) Verify(ctx context.Context, progress func(done, total int64)) (Report, error) {
	var report Report
	all, err := v.inventory(ctx, &report)
	if err != nil {
		return report, err
	}
	var done, total int64
	for _, size := range all.contents {
		total += size
	}
	tell := func(n int64) {
		if done += n; progress != nil {
			progress(done, total)
		}
	}
	tell(0)
	explained := map[string]bool{}
	for _, name := range all.manifests {
		if err := ctx.Err(); err != nil {
			return report, stopped(v.backend.where(name), err)
		}
		m, err := v.readManifest(ctx, name)
		if err == nil && manifestPath(v.coding.name(m.hash)) != name {
			err = malformed(v.backend.where(name), "the manifest is that of another content")
		}
		if err == nil {
			explained[m.location] = true
			err = v.verifyContent(ctx, m, tell)
		}
		if err == nil {
			report.Contents++
			report.Bytes += m.size
			continue
		}
		if isStopped(err) || isCode(err, fault.Internal) {
			return report, err
		}
		f := Finding{Kind: Damaged, Where: v.backend.where(name), Fault: err}
		if m != nil {
			f.Hash = m.hash
			f.Where = v.backend.where(m.location)
			if _, there := all.contents[m.location]; !there {
				f.Kind = Missing
			}
		}
		report.Findings = append(report.Findings, f)
	}
	for name := range all.contents {
		if !explained[name] {
			report.Findings = append(report.Findings, v.unknown(name, "no manifest tells what this is; storing it may have been cut off, or its manifest is damaged"))
		}
	}
	return report, nil
}

// inventory is what lies in a vault.
type inventory struct {
	contents  map[string]int64
	manifests []string
}

// inventory lists contents before manifests: a content whose manifest is seen is
// there already.
func (v *Vault) inventory(ctx context.Context, report *Report) (inventory, error) {
	all := inventory{contents: map[string]int64{}}
	uploads := map[string]bool{}
	err := v.backend.list(ctx, "", func(name string, size int64) error {
		switch {
		case locations.MatchString(name):
			all.contents[name] = size
		case strings.HasPrefix(name, "uploads/"):
			id, _, _ := strings.Cut(strings.TrimPrefix(name, "uploads/"), "/")
			uploads[id] = true
			if !uploadIDs.MatchString(strings.TrimSuffix(id, newFile)) {
				delete(uploads, id)
				report.Findings = append(report.Findings, v.unknown(name, "this does not belong to a vault"))
			}
		case name != formatName && !isManifestName(name):
			report.Findings = append(report.Findings, v.unknown(name, "this does not belong to a vault"))
		}
		return nil
	})
	if err != nil {
		return all, err
	}
	report.Unfinished = len(uploads)
	err = v.backend.list(ctx, "manifest/", func(name string, _ int64) error {
		if isManifestName(name) {
			all.manifests = append(all.manifests, name)
		}
		return nil
	})
	return all, err
}

// isManifestName: manifest/ab/ab….
func isManifestName(name string) bool {
	last := name[strings.LastIndexByte(name, '/')+1:]
	_, err := ParseHash(last)
	return err == nil && name == manifestPath(last)
}

func (v *Vault) unknown(name, what string) Finding {
	where := v.backend.where(name)
	return Finding{Kind: Unknown, Where: where, Fault: &fault.Error{Code: fault.Conflict, Where: where, What: what, Mend: "nothing is removed; look at it"}}
}

// verifyContent reads a content from the first byte to the last.
func (v *Vault) verifyContent(ctx context.Context, m *manifest, read func(stored int64)) error {
	r, err := v.reader(ctx, m)
	if err != nil {
		return err
	}
	defer r.Close()
	buffer := make([]byte, m.chunkSize)
	for {
		_, err := r.Read(buffer)
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		if read != nil {
			read(int64(m.chunks[r.loaded].stored))
		}
	}
}
