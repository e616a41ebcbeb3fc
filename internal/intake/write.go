package intake

import (
	"context"
	"errors"
	"path/filepath"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/internal/work"
)

// other keeps a film or a document; only its name can tell a side.
func (k *keeping) other(ctx context.Context) error {
	sources := k.sideSources(&header{}, nil)
	taken := k.request.Taken
	if !taken.Known() && taken.Raw == "" {
		return &fault.Error{Code: fault.Invalid, Where: "day", What: "nobody tells when it was made; nothing was kept", Mend: "tell the day, or that it is unknown"}
	}
	k.kept.Taken = taken
	film := &record.Film{PatientID: k.course.Eye.PatientID, EyeID: k.course.Eye.ID, On: taken, SideSources: sources}
	document := &record.Document{PatientID: k.course.Eye.PatientID, EyeID: k.course.Eye.ID, On: taken, Sort: k.request.Sort}
	var noun record.Entity = film
	overrides := &film.Overrides
	if k.request.Kind == record.KindDocument {
		noun, overrides = document, new([]record.Override)
		if err := k.sidesAgree(sources); err != nil {
			return err
		}
	}
	if err := k.permitted(noun, overrides, sources); err != nil {
		return err
	}
	if err := k.toVault(ctx, stopping{ctx, k.request.Content}); err != nil {
		return err
	}
	film.Clips, document.File = []record.Clip{{Number: 1, File: k.kept.File}}, k.kept.File
	return k.write(ctx, noun, &header{})
}

// sidesAgree stops a document whose name tells another side than its eye. The
// record keeps no overrides of a document: where the name is wrong it is given
// another.
func (k *keeping) sidesAgree(sources []record.SideSource) error {
	side, found := record.CheckSides(sources)
	if len(found) == 0 && side == k.course.Eye.Side {
		return nil
	}
	what, mend := "it says "+side.String()+" and the eye in the record is the other one", "open the other eye"
	if len(found) > 0 {
		what, mend = found[0].What, "find out which eye it is, and open that one or rename the file"
	}
	return &fault.Error{Code: fault.Conflict, Where: k.request.Name, What: what + "; nothing was kept", Mend: mend}
}

// errTwin ends a transaction in which the same content was found.
var errTwin = errors.New("the same content is there")

// write enters the noun, the origin of its file and the job, all or nothing.
func (k *keeping) write(ctx context.Context, noun record.Entity, head *header) error {
	var twin record.ID
	err := k.Store.Write(ctx, k.actor, func(tx *store.Tx) error {
		var err error
		if noun.Identity().ID, err = tx.NewID(); err != nil {
			return err
		}
		// Putting takes the record's lock; only then is a look for the same
		// content one that holds until the commit.
		if _, err := tx.Put(ctx, noun, k.request.Reason); err != nil {
			return err
		}
		if twin, err = k.sameContent(ctx, tx, noun.Identity().ID); err != nil {
			return err
		}
		if twin != "" {
			return &fault.Error{Code: fault.Conflict, What: errTwin.Error(), Cause: errTwin}
		}
		if err := k.putOrigin(ctx, tx, noun, head); err != nil {
			return err
		}
		if noun.Kind() != record.KindScan {
			return nil
		}
		asked, err := work.Enqueue(ctx, k.Queue, tx.SQL(), measureKind, measureArgs{Scan: noun.Identity().ID})
		k.kept.JobID = asked.ID
		return err
	})
	switch {
	case twin != "" && errors.Is(err, errTwin):
		return k.keptBefore(ctx, twin)
	case err != nil:
		return err
	}
	k.kept.ID = noun.Identity().ID
	return nil
}

func (k *keeping) putOrigin(ctx context.Context, tx *store.Tx, noun record.Entity, head *header) error {
	origin := &record.FileOrigin{
		OfKind: noun.Kind(), OfID: noun.Identity().ID, PatientID: k.course.Eye.PatientID, SHA256: k.kept.File.SHA256,
		Name: k.request.Name, CameFrom: k.request.CameFrom, ReceivedAt: tx.Now(),
		HeaderName: head.name, HeaderNumber: head.number, HeaderBirth: head.birth, HeaderStation: head.station,
	}
	for i, s := range head.sides {
		if i > 0 {
			origin.HeaderSide += ", "
		}
		origin.HeaderSide += s.Text
	}
	var err error
	if origin.ID, err = tx.NewID(); err != nil {
		return err
	}
	_, err = tx.Put(ctx, origin, k.request.Reason)
	return err
}

// sameContent finds a noun of the kind with the same content that is not struck
// out: of the same eye it is the answer; a scan of another eye is a fault.
func (k *keeping) sameContent(ctx context.Context, tx *store.Tx, own record.ID) (record.ID, error) {
	ids, err := tx.NounsWithFile(ctx, k.request.Kind, k.kept.File.SHA256)
	if err != nil {
		return "", err
	}
	for _, id := range ids {
		if id == own {
			continue
		}
		other, err := tx.Get(ctx, k.request.Kind, id)
		if err != nil {
			return "", err
		}
		links := other.Links()
		switch {
		case other.Identity().Struck():
		case links.EyeID == k.course.Eye.ID:
			return id, nil
		case k.request.Kind == record.KindScan:
			whose := "another patient"
			if links.PatientID == k.course.Eye.PatientID {
				whose = "the same patient"
			}
			return "", &fault.Error{
				Code: fault.Conflict, Where: filepath.Base(k.request.Name),
				What: "this very scan is kept as " + string(id) + " of another eye of " + whose + "; nothing was added",
				Mend: "find out which eye it shows; strike out the wrong one with a reason and keep it again",
			}
		default:
			k.note("the same content is also kept as %s of another eye", id)
		}
	}
	return "", nil
}

// keptBefore answers for content that is there, and asks for a measurement
// where none is there or under way.
func (k *keeping) keptBefore(ctx context.Context, twin record.ID) error {
	k.kept.ID, k.kept.Already, k.kept.JobID, k.kept.Notes = twin, true, 0, nil
	there, err := k.Store.Get(ctx, k.request.Kind, twin)
	if err != nil {
		return err
	}
	if day := there.Links().Day; k.request.Taken.Known() && day != k.request.Taken {
		k.note("the day %s, told now, was not taken: %s stands in the record", k.request.Taken, day)
	}
	k.kept.Taken = there.Links().Day
	noun, is := there.(*record.Scan)
	if !is {
		return nil
	}
	if g := k.request.Scale; differs(g.DepthUM, noun.DepthUM) || differs(g.LateralUM, noun.LateralUM) || differs(g.SliceUM, noun.SliceUM) {
		k.note("the scale told now was not taken: another stands in the record")
	}
	if k.request.Flip && !noun.Flipped {
		k.note("the wish to turn it over was not taken: it stands in the record as it was made")
	}
	figures, err := k.Store.FiguresOfScan(ctx, twin)
	if err != nil {
		return err
	}
	for _, f := range figures {
		if f.Source == record.FiguresAutomatic && f.ProgramVersion == k.Program {
			k.kept.Measured = true
			return nil
		}
	}
	k.kept.JobID, k.kept.JobAlready, err = k.Measure(ctx, twin)
	return err
}

// differs reports a number that was told and is not the one that stands.
func differs(told, stands *float64) bool {
	return told != nil && (stands == nil || *told != *stands)
}

// Measure asks for the measurement of a scan that is in the record. already
// says that the job was asked for before and has not ended.
func (in *Intake) Measure(ctx context.Context, scan record.ID) (job int64, already bool, err error) {
	asked, err := work.Enqueue(ctx, in.Queue, nil, measureKind, measureArgs{Scan: scan})
	return asked.ID, asked.Existing, err
}
