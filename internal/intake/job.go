package intake

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/internal/vault"
	"limitans/internal/work"
	"limitans/oct"
)

// measureArgs are the arguments of the job that measures a scan.
type measureArgs struct {
	Scan record.ID `json:"scan"`
}

// MeasureKind is the name of the jobs that measure a scan.
const MeasureKind = "scan.measure"

var measureKind = work.Kind[measureArgs]{Name: MeasureKind, Attempts: 3, Unique: true}

// Queue makes the tables of the job queue in the record's own database, where
// they are not there yet, and opens the queue. kinds is what this process works
// on once the queue is started; nil for one that only asks and lists.
func Queue(ctx context.Context, s *store.Store, kinds *work.Kinds, options work.Options) (*work.Queue, error) {
	dialect := work.SQLite
	if s.Dialect() == store.PostgreSQL {
		dialect = work.PostgreSQL
	}
	pool := s.Writer().Pool()
	if err := work.Migrate(ctx, pool, dialect); err != nil {
		return nil, err
	}
	return work.Open(pool, dialect, kinds, options)
}

// Bench is where a process measures scans.
type Bench struct {
	Store   *store.Store
	Vault   *vault.Vault
	Program string // version of this program
	Now     func() time.Time
	// Told hears what became of each attempt, in one line; may be nil. It may be
	// called from several goroutines.
	Told func(job int64, what string)
}

// Register adds the measuring of scans to what a process can work on.
func (b *Bench) Register(kinds *work.Kinds) error {
	return work.Register(kinds, measureKind, func(ctx context.Context, task *work.Task, args measureArgs) error {
		what, err := b.measure(ctx, task, args)
		if err == nil {
			err = task.Progress(100, what)
		}
		switch {
		case b.Told == nil:
		case err == nil:
			b.Told(task.ID(), fmt.Sprintf("scan %s %s", args.Scan, what))
		case ctx.Err() != nil:
			b.Told(task.ID(), "stopped before it was done")
		default:
			b.Told(task.ID(), err.Error())
		}
		return err
	})
}

// What a job says at its end.
const (
	saidMeasured = "measured"
	saidBefore   = "was measured before"
)

// Shares of the progress of a job, in percent: reading ends at 10, tracing and
// measuring at 95.
const (
	readPercent    = 10
	measurePercent = 95
)

// measure is the job.
func (b *Bench) measure(ctx context.Context, task *work.Task, args measureArgs) (what string, err error) {
	noun, eye, err := b.nouns(ctx, args.Scan)
	if err != nil {
		return "", err
	}
	v, err := ReadScan(ctx, b.Vault, noun, eye, share(task, 0, readPercent, "reading"))
	if err != nil {
		return "", err
	}
	// A repetition ends here when the run before it came as far as the record.
	wanted := &record.HoleFigures{Source: record.FiguresAutomatic, ProgramVersion: b.Program, Document: scaleDocument(v.Scale)}
	if _, mm := axialLength(v, eye); mm != 0 {
		wanted.AxialLengthMM = &mm
	}
	there, err := b.Store.FiguresOfScan(ctx, noun.ID)
	if err != nil {
		return "", err
	}
	if known(there, wanted, "") {
		return saidBefore, nil
	}
	figures, err := Figures(ctx, v, noun, eye, Measuring{
		Program: b.Program, Now: b.Now(), By: Measurer, Vault: b.Vault, Progress: share(task, readPercent, measurePercent, "measuring"),
	})
	if err != nil {
		return "", err
	}
	switch err := b.put(ctx, task.Key(), noun, v, figures); {
	case errors.Is(err, errTwin):
		return saidBefore, nil
	case fault.CodeOf(err) == fault.Conflict:
		// Somebody else was writing: that passes, so it is no fault for good.
		return "", &fault.Error{Code: fault.Internal, Where: "scan " + string(noun.ID), What: err.Error(), Cause: err}
	case err != nil:
		return "", err
	}
	return saidMeasured, nil
}

// share reports a stretch of the whole progress.
func share(task *work.Task, from, to float64, what string) func(done, total int) {
	return func(done, total int) {
		if total > 0 && done >= 0 && done <= total {
			// Progress refuses percentages out of range alone, which this is not.
			_ = task.Progress(from+(to-from)*float64(done)/float64(total), what)
		}
	}
}

// nouns reads the scan and its eye.
func (b *Bench) nouns(ctx context.Context, id record.ID) (*record.Scan, *record.Eye, error) {
	found, err := b.Store.Get(ctx, record.KindScan, id)
	if err != nil {
		return nil, nil, err
	}
	noun := found.(*record.Scan)
	if noun.Struck() {
		return nil, nil, &fault.Error{Code: fault.Invalid, Where: "scan " + string(id), What: "it was struck out, and is not measured"}
	}
	if found, err = b.Store.Get(ctx, record.KindEye, noun.EyeID); err != nil {
		return nil, nil, err
	}
	return noun, found.(*record.Eye), nil
}

// known reports whether figures but one are such as a repetition of the
// measurement would give.
func known(all []*record.HoleFigures, wanted *record.HoleFigures, but record.ID) bool {
	return slices.ContainsFunc(all, func(f *record.HoleFigures) bool { return f.ID != but && equal(f, wanted) })
}

// put writes the figures, and into the scan what could not be read when it was
// kept.
func (b *Bench) put(ctx context.Context, job string, noun *record.Scan, v *oct.Volume, figures *record.HoleFigures) error {
	actor := record.Actor{AccountID: Measurer, Place: record.FreeText("job " + job)}
	return b.Store.Write(ctx, actor, func(tx *store.Tx) error {
		var err error
		if figures.ID, err = tx.NewID(); err != nil {
			return err
		}
		// Putting takes the record's lock; see Intake.write.
		if _, err := tx.Put(ctx, figures, ""); err != nil {
			return err
		}
		all, err := tx.FiguresOfScan(ctx, noun.ID)
		if err != nil {
			return err
		}
		if known(all, figures, figures.ID) {
			return &fault.Error{Code: fault.Conflict, What: errTwin.Error(), Cause: errTwin}
		}
		found, err := tx.Get(ctx, record.KindScan, noun.ID)
		if err != nil {
			return err
		}
		now := found.(*record.Scan)
		if now.Struck() {
			return &fault.Error{Code: fault.Invalid, Where: "scan " + string(noun.ID), What: "it was struck out while it was measured"}
		}
		if now.Slices != 0 {
			return nil
		}
		describeScan(now, v)
		_, err = tx.Put(ctx, now, "size and scale, read while it was measured")
		return err
	})
}
