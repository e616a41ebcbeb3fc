package work_test

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"limitans/internal/work"
)

// measureArgs and measureKind are declared together, where both the page that
// asks for a measurement and the process that makes it can see them.
type measureArgs struct {
	Scan string `json:"scan"` // address in the vault
}

var measureKind = work.Kind[measureArgs]{Name: "scan.measure", Attempts: 3, Unique: true}

// A job is enqueued with the record it belongs to, and its result is written
// with its end.
func Example() {
	folder, err := os.MkdirTemp("", "work")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer func() { _ = os.RemoveAll(folder) }()
	db, err := database{work.SQLite, filepath.Join(folder, "record.db")}.open()
	if err != nil {
		fmt.Println(err)
		return
	}
	defer func() { _ = db.Close() }()
	if err := measureOneScan(db); err != nil {
		fmt.Println(err)
	}
	// Output: scan 5d41 has 97 slices; the job is done, 100 %
}

func measureOneScan(db *sql.DB) error {
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	if err := work.Migrate(ctx, db, work.SQLite); err != nil {
		return err
	}
	if _, err := db.ExecContext(ctx, "CREATE TABLE scan (address TEXT PRIMARY KEY, slices INTEGER)"); err != nil {
		return err
	}

	var kinds work.Kinds
	err := work.Register(&kinds, measureKind, func(ctx context.Context, task *work.Task, args measureArgs) error {
		for slice := 1; slice <= 97; slice++ {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			if err := task.Progress(float64(slice)/97*100, fmt.Sprintf("slice %d of 97", slice)); err != nil {
				return err
			}
		}
		return task.Finish(ctx, func(tx *sql.Tx) error {
			_, err := tx.ExecContext(ctx, "UPDATE scan SET slices = 97 WHERE address = ?", args.Scan)
			return err
		})
	})
	if err != nil {
		return err
	}
	queue, err := work.Open(db, work.SQLite, &kinds, work.Options{Poll: 20 * time.Millisecond})
	if err != nil {
		return err
	}
	if err := queue.Start(ctx); err != nil {
		return err
	}
	defer func() { stop(); queue.Wait() }()

	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }()
	if _, err := tx.ExecContext(ctx, "INSERT INTO scan (address) VALUES ('5d41')"); err != nil {
		return err
	}
	asked, err := work.Enqueue(ctx, queue, tx, measureKind, measureArgs{Scan: "5d41"})
	if err != nil {
		return err
	}
	if err := tx.Commit(); err != nil {
		return err
	}

	job, err := queue.Job(ctx, asked.ID)
	for ; err == nil && job.Ended.IsZero(); job, err = queue.Job(ctx, asked.ID) {
		time.Sleep(10 * time.Millisecond)
	}
	if err != nil {
		return err
	}
	var slices int
	if err := db.QueryRowContext(ctx, "SELECT slices FROM scan WHERE address = '5d41'").Scan(&slices); err != nil {
		return err
	}
	fmt.Printf("scan 5d41 has %d slices; the job is %s, %.0f %%\n", slices, job.State, job.Progress.Percent)
	return nil
}
