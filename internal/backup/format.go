package backup

import (
	"fmt"
	"time"

	"limitans/fault"
)

// formatNumber is the version of the archive's own layout.
const formatNumber = 1

// Limits that hold before memory is taken.
const (
	partBytes    = 4 << 20  // rows of a part before it is compressed
	maxPartBytes = 64 << 20 // one row may be larger than a part
	maxJSONBytes = 64 << 20 // backup.json and sums.json
)

const (
	headName    = "backup.json"
	sumsName    = "sums.json"
	tableFolder = "tables/"
	fileFolder  = "files/"
)

// Head is the first member: what this backup is.
type Head struct {
	Format         int       `json:"format"`
	Program        string    `json:"program"`       // version of the program that wrote it
	MadeAt         time.Time `json:"made_at"`       // UTC
	TableVersion   int64     `json:"table_version"` // number of the last migration
	HistoryEntries int64     `json:"history_entries"`
	HistoryHash    string    `json:"history_hash"` // of the last entry, empty when there is none
	WithFiles      bool      `json:"with_files"`   // the vault is in it
}

// Summary says what a backup holds.
type Summary struct {
	Head      Head
	Rows      map[string]int64 // of each table
	Files     int64            // of the vault
	FileBytes int64
	Encrypted bool
}

// member is one row of sums.json.
type member struct {
	Name   string `json:"name"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// sums is the last member.
type sums struct {
	Members []member         `json:"members"`
	Rows    map[string]int64 `json:"rows"`
}

// leftOut are tables that a backup does not hold: what belongs to this
// machine's run, not to the record.
var leftOut = map[string]string{
	"goose_db_version": "the version stands in backup.json",
	"account_session":  "nobody is signed in after a restore",
}

// leftOutPrefix are the job queue's tables; jobs are asked for anew.
const leftOutPrefix = "river_"

// check refuses what this program cannot read.
func (h *Head) check(where string, newest int64) error {
	if h.Format != formatNumber {
		return &fault.Error{
			Code: fault.Unsupported, Where: where, What: fmt.Sprintf("the backup's layout has number %d", h.Format),
			Expected: fmt.Sprintf("%d", formatNumber), Mend: "restore with the program that wrote it: " + h.Program,
		}
	}
	if h.TableVersion > newest {
		return &fault.Error{
			Code: fault.Unsupported, Where: where, What: fmt.Sprintf("a newer program wrote this backup (version %d of its tables)", h.TableVersion),
			Expected: fmt.Sprintf("at most version %d", newest), Mend: "use the newer program: " + h.Program,
		}
	}
	return nil
}

// damaged is a fault about a backup's content.
func damaged(where, format string, arguments ...any) error {
	return &fault.Error{
		Code: fault.Malformed, Where: where, What: "the backup is damaged: " + fmt.Sprintf(format, arguments...),
		Mend: "use another backup; nothing was restored from this one",
	}
}
