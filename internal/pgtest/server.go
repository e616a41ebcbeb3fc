package pgtest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strconv"
	"time"

	"github.com/jackc/pgx/v5"
)

// server is one running or killed PostgreSQL with its scratch folder.
type server struct {
	programs string // folder of postgres and initdb
	folder   string // scratch folder, owned by the server's user
	port     int
	password string
	settings []string // -c name=value …

	postmaster *exec.Cmd
	ended      chan struct{}  // closed when postmaster has been waited for
	watchman   io.WriteCloser // closing it stops the server and removes the folder
	watched    *exec.Cmd
}

// findPrograms looks at Debian's folders, newest version first, then on PATH.
func findPrograms() (string, bool) {
	folders, _ := filepath.Glob("/usr/lib/postgresql/*/bin") // the pattern is well formed
	sort.Slice(folders, func(i, j int) bool { return version(folders[i]) > version(folders[j]) })
	for _, folder := range folders {
		if _, err := exec.LookPath(filepath.Join(folder, "initdb")); err == nil {
			return folder, true
		}
	}
	if path, err := exec.LookPath("initdb"); err == nil {
		return filepath.Dir(path), true
	}
	return "", false
}

// version is the number in …/15/bin, 0 where there is none.
func version(folder string) int {
	n, err := strconv.Atoi(filepath.Base(filepath.Dir(folder)))
	if err != nil {
		return 0
	}
	return n
}

// newServer makes the data folder and starts the server.
func newServer(programs string, durable bool) (*server, error) {
	folder, err := os.MkdirTemp("", "limitans-postgres-")
	if err != nil {
		return nil, err
	}
	s := &server{programs: programs, folder: folder, password: randomHex(16)}
	s.settings = []string{
		"listen_addresses=127.0.0.1", "unix_socket_directories=", "max_connections=200",
		"shared_buffers=64MB", "log_min_messages=warning",
	}
	if !durable {
		s.settings = append(s.settings, "fsync=off", "synchronous_commit=off", "full_page_writes=off")
	}
	if err := s.initialise(); err != nil {
		return nil, errors.Join(err, os.RemoveAll(folder))
	}
	if err := s.watch(); err != nil {
		return nil, errors.Join(err, os.RemoveAll(folder))
	}
	// Somebody else may take the free port before the server does.
	for range 5 {
		if s.port, err = freePort(); err != nil {
			break
		}
		if err = s.start(); err == nil {
			return s, nil
		}
	}
	s.remove()
	return nil, err
}

// initialise runs initdb. The password travels in a file, which only the
// server's user can read.
func (s *server) initialise() error {
	secret := filepath.Join(s.folder, "password")
	if err := os.WriteFile(secret, []byte(s.password), 0o600); err != nil {
		return err
	}
	if os.Geteuid() == 0 {
		// Folder and file change hands, because the server runs as postgres.
		if out, err := exec.Command("chown", "-R", "postgres:postgres", s.folder).CombinedOutput(); err != nil {
			return fmt.Errorf("chown: %w: %s", err, out)
		}
	}
	out, err := s.command("initdb", "--no-sync", "-D", s.data(), "-U", "postgres", "--pwfile", secret,
		"--auth=password", "--encoding=UTF8", "--locale=C.UTF-8", "--locale-provider=icu", "--icu-locale=en").CombinedOutput()
	if err != nil {
		return fmt.Errorf("initdb: %w: %s", err, out)
	}
	return nil
}

func (s *server) data() string { return filepath.Join(s.folder, "data") }

// command prepares a program of PostgreSQL as a user it accepts. setpriv
// replaces itself by the program, so that the process can be killed directly.
func (s *server) command(program string, args ...string) *exec.Cmd {
	path := filepath.Join(s.programs, program)
	var cmd *exec.Cmd
	if os.Geteuid() == 0 {
		args = append([]string{"--reuid=postgres", "--regid=postgres", "--init-groups", path}, args...)
		cmd = exec.Command("setpriv", args...)
	} else {
		cmd = exec.Command(path, args...)
	}
	cmd.Dir = s.folder
	cmd.Env = append(os.Environ(), "LC_ALL=C.UTF-8")
	return cmd
}

// watch starts the watchman. It reads a pipe that only this process holds; at
// its end it stops the server, kindly as nobody is left to lose anything, and
// removes the folder. It ignores the signals that a terminal sends to all.
func (s *server) watch() error {
	const script = `trap '' INT HUP TERM
read -r _
if [ -s "$1/data/postmaster.pid" ]; then kill -QUIT "$(head -n 1 "$1/data/postmaster.pid")" 2>/dev/null; fi
n=0
while [ -e "$1/data/postmaster.pid" ] && [ $n -lt 100 ]; do n=$((n + 1)); sleep 0.05; done
rm -rf "$1"`
	s.watched = exec.Command("/bin/sh", "-c", script, "watchman", s.folder)
	pipe, err := s.watched.StdinPipe()
	if err != nil {
		return err
	}
	s.watchman = pipe
	return s.watched.Start()
}

// start starts the server on its data and waits until it answers.
func (s *server) start() error {
	args := []string{"-D", s.data(), "-p", strconv.Itoa(s.port)}
	for _, setting := range s.settings {
		args = append(args, "-c", setting)
	}
	log, err := os.OpenFile(filepath.Join(s.folder, "log"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	defer func() { _ = log.Close() }()
	s.postmaster = s.command("postgres", args...)
	s.postmaster.Stdout, s.postmaster.Stderr = log, log
	if err := s.postmaster.Start(); err != nil {
		return err
	}
	ended := make(chan struct{})
	s.ended = ended
	go func(cmd *exec.Cmd) {
		_ = cmd.Wait() // a killed server ends with an error; that is its use
		close(ended)
	}(s.postmaster)
	return s.answer()
}

// answer waits for the first connection that succeeds.
func (s *server) answer() error {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	for {
		conn, err := pgx.Connect(ctx, s.address("postgres"))
		if err == nil {
			return conn.Close(ctx)
		}
		select {
		case <-s.ended:
			text, _ := os.ReadFile(filepath.Join(s.folder, "log"))
			return fmt.Errorf("the server ended at once: %s", text)
		case <-ctx.Done():
			return fmt.Errorf("no answer: %w", err)
		case <-time.After(20 * time.Millisecond):
		}
	}
}

// kill ends the postmaster, then its children, which would otherwise live on
// until they look for their parent. Every process of a server has the data
// folder as its working folder.
func (s *server) kill() error {
	if err := s.postmaster.Process.Kill(); err != nil && !errors.Is(err, os.ErrProcessDone) {
		return err
	}
	<-s.ended
	for deadline := time.Now().Add(patience); ; time.Sleep(5 * time.Millisecond) {
		left := processesIn(s.data())
		if len(left) == 0 {
			return nil
		}
		for _, p := range left {
			_ = p.Kill() // it may have ended meanwhile; the next look tells
		}
		if time.Now().After(deadline) {
			return fmt.Errorf("%d processes of the server do not end", len(left))
		}
	}
}

// processesIn lists the processes whose working folder is this one.
func processesIn(folder string) []*os.Process {
	links, _ := filepath.Glob("/proc/[0-9]*/cwd") // the pattern is well formed
	var found []*os.Process
	for _, link := range links {
		if target, err := os.Readlink(link); err != nil || target != folder {
			continue
		}
		if pid, err := strconv.Atoi(filepath.Base(filepath.Dir(link))); err == nil {
			if p, err := os.FindProcess(pid); err == nil {
				found = append(found, p)
			}
		}
	}
	return found
}

// remove tells the watchman to end it all and waits for that.
func (s *server) remove() {
	_ = s.watchman.Close()
	_ = s.watched.Wait()
}

// address is where a database of this server is reached.
func (s *server) address(database string) string {
	u := url.URL{
		Scheme: "postgres", User: url.UserPassword("postgres", s.password),
		Host: net.JoinHostPort("127.0.0.1", strconv.Itoa(s.port)), Path: "/" + database,
		RawQuery: "sslmode=disable",
	}
	return u.String()
}

// freePort asks the system for a port that nobody listens on now.
func freePort() (int, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return 0, err
	}
	port := l.Addr().(*net.TCPAddr).Port
	return port, l.Close()
}
