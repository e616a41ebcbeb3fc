package pgtest

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"net/url"
	"os"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// patience bounds each single act of the server. It is generous because
// test machines are shared; nothing waits that long when all is well.
const patience = 2 * time.Minute

var (
	sharedOnce sync.Once
	shared     *server
	sharedErr  error
)

// Database returns the address (postgres://…) of a fresh, empty database,
// which is dropped with all its connections when the test ends. It skips the
// test where there is no PostgreSQL, and fails it when LIMITANS_ORACLES is
// "required" or the server does not start.
func Database(t testing.TB) string {
	t.Helper()
	address := os.Getenv("LIMITANS_POSTGRES")
	if address == "" {
		programs := needPrograms(t)
		sharedOnce.Do(func() { shared, sharedErr = newServer(programs, false) })
		if sharedErr != nil {
			t.Fatalf("the test server of PostgreSQL: %v", sharedErr)
		}
		address = shared.address("postgres")
	}
	name := "test_" + randomHex(8)
	if err := execute(address, `create database "`+name+`"`); err != nil {
		t.Fatalf("making a database on the test server: %v", err)
	}
	t.Cleanup(func() {
		if err := execute(address, `drop database "`+name+`" with (force)`); err != nil {
			t.Errorf("dropping the test's database: %v", err)
		}
	})
	own, err := url.Parse(address)
	if err != nil {
		t.Fatalf("LIMITANS_POSTGRES is no address: %v", err)
	}
	own.Path = "/" + name
	return own.String()
}

// needPrograms finds the folder of the server's programs, or ends the test.
func needPrograms(t testing.TB) string {
	t.Helper()
	programs, found := findPrograms()
	if !found {
		if os.Getenv("LIMITANS_ORACLES") == "required" {
			t.Fatal("PostgreSQL is not installed (Debian: postgresql)")
		}
		t.Skip("PostgreSQL is not installed (Debian: postgresql)")
	}
	return programs
}

// execute runs one statement on a connection of its own.
func execute(address, statement string) error {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	conn, err := pgx.Connect(ctx, address)
	if err != nil {
		return err
	}
	defer func() { _ = conn.Close(ctx) }()
	_, err = conn.Exec(ctx, statement)
	return err
}

func randomHex(bytes int) string {
	b := make([]byte, bytes)
	_, _ = rand.Read(b) // documented never to fail
	return hex.EncodeToString(b)
}

// Server is a PostgreSQL server of one test's own.
type Server struct {
	t testing.TB
	s *server
}

// Start starts a server for this test alone and stops it when the test ends.
// With durable, it keeps what it acknowledged through a crash of the machine
// (fsync, synchronous_commit and full_page_writes on), as an installed server
// does. It skips or fails as Database does.
func Start(t testing.TB, durable bool) *Server {
	t.Helper()
	s, err := newServer(needPrograms(t), durable)
	if err != nil {
		t.Fatalf("a test server of PostgreSQL: %v", err)
	}
	t.Cleanup(s.remove)
	return &Server{t: t, s: s}
}

// Address returns the address of the server's database "postgres", which is
// empty at first; it stays the same after Kill and Restart.
func (s *Server) Address() string { return s.s.address("postgres") }

// Kill ends every process of the server at once with SIGKILL: nothing is
// flushed, no connection is told.
func (s *Server) Kill() {
	s.t.Helper()
	if err := s.s.kill(); err != nil {
		s.t.Fatalf("killing the test server: %v", err)
	}
}

// Restart starts the killed server on the same data and port and returns when
// it has recovered and answers.
func (s *Server) Restart() {
	s.t.Helper()
	if err := s.s.start(); err != nil {
		s.t.Fatalf("starting the killed test server again: %v", err)
	}
}
