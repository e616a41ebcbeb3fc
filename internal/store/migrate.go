package store

import (
	"context"
	"embed"
	"fmt"
	"io/fs"
	"math"

	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"

	"limitans/fault"
)

// migrationFiles hold the two sets of migrations, which have the same numbers
// and lead to the same tables. They go forward only.
//
//go:embed migrations/sqlite/*.sql migrations/postgres/*.sql
var migrationFiles embed.FS

// newest asks for every migration there is.
const newest = int64(math.MaxInt64)

// migrate brings the database to the version, or to the newest below it. Other
// processes may do the same at the same moment.
func (s *Store) migrate(ctx context.Context, version int64) error {
	provider, err := s.provider()
	if err != nil {
		return explain(s.where, err)
	}
	for tries := 0; ; tries++ {
		has, knows, err := provider.GetVersions(ctx)
		if err != nil {
			return explain(s.where, err)
		}
		if has > knows {
			return &fault.Error{
				Code: fault.Unsupported, Where: s.where,
				What:     fmt.Sprintf("a newer program has written this record (version %d of its tables)", has),
				Expected: fmt.Sprintf("at most version %d", knows), Mend: "use the newer program",
			}
		}
		if has >= min(version, knows) {
			return nil
		}
		_, err = provider.UpTo(ctx, min(version, knows))
		if err == nil || tries > 20 {
			return explain(s.where, err)
		}
		// PostgreSQL has a lock for this. With the embedded database another
		// process may have made the same step first; then the next look finds
		// the database ahead of where it was.
		if now, _, again := provider.GetVersions(ctx); again != nil || now <= has {
			return explain(s.where, err)
		}
	}
}

func (s *Store) provider() (*goose.Provider, error) {
	files, err := fs.Sub(migrationFiles, "migrations/"+string(s.dialect))
	if err != nil {
		return nil, err
	}
	options := []goose.ProviderOption{goose.WithDisableGlobalRegistry(true)}
	dialect := goose.DialectSQLite3
	if s.dialect == PostgreSQL {
		dialect = goose.DialectPostgres
		// Look once a second for the lock, for five minutes: a migration of a big
		// record takes its time, and one of a new record is over at once.
		locker, err := lock.NewPostgresSessionLocker(lock.WithLockTimeout(1, 300))
		if err != nil {
			return nil, err
		}
		options = append(options, goose.WithSessionLocker(locker))
	}
	return goose.NewProvider(dialect, s.writer.pool, files, options...)
}

// Version is the number of the last migration that the database has.
func (s *Store) Version(ctx context.Context) (int64, error) {
	provider, err := s.provider()
	if err != nil {
		return 0, explain(s.where, err)
	}
	has, err := provider.GetDBVersion(ctx)
	return has, explain(s.where, err)
}
