package main

import (
	"bytes"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestSignOnIsOffered: a unit whose department has an identity provider offers it
// beside passphrases, and settings that are not whole are refused before anything is
// served. The flow itself is tested in package account, against a provider of the
// test's own.
func TestSignOnIsOffered(t *testing.T) {
	unit := filepath.Join(t.TempDir(), "unit")
	var stdout, stderr bytes.Buffer
	out := &console{Context: t.Context(), Stdin: strings.NewReader("umbrella granite thirty owls\n"), Stdout: &stdout, Stderr: &stderr, Now: time.Now}
	if code := run(out, []string{"setup", "--data", unit, "--name", "chief"}); code != exitDone {
		t.Fatal(stderr.String())
	}
	secret, empty := filepath.Join(unit, "secret"), filepath.Join(unit, "empty")
	if os.WriteFile(secret, []byte("s3cret\n"), 0o600) != nil || os.WriteFile(empty, nil, 0o600) != nil {
		t.Fatal("no secret written")
	}
	serve := []string{"serve", "--data", unit, "--address", "127.0.0.1:0"}
	whole := []string{
		"--sign-on-issuer", "https://people.example", "--sign-on-client", "limitans", "--sign-on-address", "https://macula.example/",
		"--sign-on-secret-file", secret, "--sign-on-group", "retina surgeons=surgeon", "--sign-on-group", "clinic=clinic",
	}
	for what, c := range map[string]struct {
		arguments []string
		says      string
	}{
		"no issuer":          {whole[2:], "--sign-on-issuer"},
		"no client":          {append(append([]string{}, whole[:2]...), whole[4:]...), "--sign-on-client"},
		"no group":           {whole[:8], "groups are missing"},
		"a role of nobody":   {append(append([]string{}, whole[:8]...), "--sign-on-group", "all=king"), "unknown role king"},
		"an open provider":   {append([]string{"--sign-on-issuer", "http://people.example"}, whole[2:]...), "unusable address"},
		"an empty secret":    {append(append([]string{}, whole...), "--sign-on-secret-file", empty), "is empty"},
		"a secret not there": {append(append([]string{}, whole...), "--sign-on-secret-file", secret+"2"), "cannot be read"},
	} {
		if code, _, stderr := runCommand(append(append([]string{}, serve...), c.arguments...)...); code == exitDone || !strings.Contains(stderr, c.says) {
			t.Errorf("%s: ended with %d: %s", what, code, stderr)
		}
	}
	for _, offered := range []bool{false, true} {
		arguments := append([]string{}, serve...)
		if offered {
			arguments = append(arguments, append(whole, "--sealing-key", filepath.Join(unit, "seal.key"))...)
		}
		s := startServing(t, arguments...)
		status, body := s.get("sign-in")
		if status != http.StatusOK || strings.Contains(body, "Sign in through the department") != offered {
			t.Errorf("offered %v: %d %s", offered, status, body)
		}
		if code := s.end(); code != exitDone {
			t.Errorf("ended with %d: %s", code, s.errs.String())
		}
	}
	if info, err := os.Stat(filepath.Join(unit, "seal.key")); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v %v", info, err)
	}
}
