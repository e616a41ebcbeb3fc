package pgtest_test

import (
	"context"
	"testing"

	"github.com/jackc/pgx/v5"

	"limitans/internal/pgtest"
)

// connect opens one connection that ends with the test.
func connect(t *testing.T, address string) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(context.Background(), address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.Close(context.Background()) })
	return conn
}

func do(t *testing.T, conn *pgx.Conn, statement string) {
	t.Helper()
	if _, err := conn.Exec(context.Background(), statement); err != nil {
		t.Fatalf("%s: %v", statement, err)
	}
}

func count(t *testing.T, conn *pgx.Conn, query string) int {
	t.Helper()
	var n int
	if err := conn.QueryRow(context.Background(), query).Scan(&n); err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	return n
}

func TestDatabasesAreFreshAndApart(t *testing.T) {
	first, second := connect(t, pgtest.Database(t)), connect(t, pgtest.Database(t))
	do(t, first, "create table one (n bigint)")
	const tables = "select count(*) from pg_tables where schemaname = 'public'"
	if n := count(t, first, tables); n != 1 {
		t.Errorf("the first database has %d tables, want 1", n)
	}
	if n := count(t, second, tables); n != 0 {
		t.Errorf("the second database has %d tables, want none", n)
	}
}

// TestKilledServerKeepsWhatItAcknowledged kills a durable server with open
// connections and an unfinished transaction.
func TestKilledServerKeepsWhatItAcknowledged(t *testing.T) {
	server := pgtest.Start(t, true)
	conn := connect(t, server.Address())
	if got := setting(t, conn, "fsync"); got != "on" {
		t.Errorf("fsync is %s on a durable server", got)
	}
	do(t, conn, "create table kept (n bigint)")
	do(t, conn, "insert into kept values (1)")
	do(t, conn, "begin")
	do(t, conn, "insert into kept values (2)")
	server.Kill()
	if err := conn.Ping(context.Background()); err == nil {
		t.Error("the connection answers after the server was killed")
	}
	server.Restart()
	if n := count(t, connect(t, server.Address()), "select count(*) from kept"); n != 1 {
		t.Errorf("%d rows after the crash, want the acknowledged one", n)
	}
}

func setting(t *testing.T, conn *pgx.Conn, name string) string {
	t.Helper()
	var value string
	if err := conn.QueryRow(context.Background(), "select current_setting($1)", name).Scan(&value); err != nil {
		t.Fatal(err)
	}
	return value
}
