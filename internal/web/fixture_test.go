package web

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"limitans/internal/account"
	"limitans/internal/demo"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/internal/vault"
)

// now is the moment at which every test happens.
var now = time.Date(2026, 11, 24, 9, 0, 0, 0, time.UTC)

// clinicPatients are enough for one of each course of the invented clinic and
// some more.
const clinicPatients = 24

// workbench is a server on an invented clinic.
type workbench struct {
	t      testing.TB
	server *Server
	http   *httptest.Server
	store  *store.Store
}

// newBench serves an invented clinic without drawn scans unless drawn says how
// many eyes have them.
func newBench(t testing.TB, drawn int) *workbench {
	t.Helper()
	ctx := context.Background()
	folder := t.TempDir()
	opened, err := store.Open(ctx, store.Options{Folder: folder, Now: func() time.Time { return now }})
	must(t, err)
	t.Cleanup(func() { must(t, opened.Close()) })
	must(t, opened.Upgrade(ctx))
	gate, err := account.Open(ctx, opened, account.Config{Mode: account.Mode{Demo: true}, Now: func() time.Time { return now }})
	must(t, err)
	files, err := vault.Open(ctx, filepath.Join(folder, "files"), vault.Options{})
	must(t, err)
	clinic, err := demo.New(clinicPatients, 1, record.DayOf(now))
	must(t, err)
	_, err = demo.Fill(ctx, clinic, opened, demo.FillOptions{Vault: files, DrawnEyes: drawn, Program: "test", Now: now})
	must(t, err)
	server, err := New(Config{
		Store: opened, Gate: gate, Vault: files, Program: "test", Now: func() time.Time { return now },
		Log: slog.New(slog.NewTextHandler(t.Output(), nil)), ViewKey: []byte("0123456789abcdef"),
	})
	must(t, err)
	b := &workbench{t: t, server: server, http: httptest.NewServer(server), store: opened}
	t.Cleanup(b.http.Close)
	return b
}

// must ends a test whose ground is not there.
func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// person is a browser of somebody.
type person struct {
	b      *workbench
	client *http.Client
}

// stranger is a browser nobody has signed in with.
func (b *workbench) stranger() *person {
	b.t.Helper()
	jar, err := cookiejar.New(nil)
	must(b.t, err)
	return &person{b, &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

// as signs in with a role of the demonstration.
func (b *workbench) as(role account.Role) *person {
	b.t.Helper()
	p := b.stranger()
	answer := p.post("/sign-in", url.Values{"role": {string(role)}})
	if answer.status != http.StatusSeeOther {
		b.t.Fatalf("%s is not let in: %d %s", role, answer.status, answer.body)
	}
	return p
}

// answer is what came back.
type answer struct {
	status int
	body   string
	header http.Header
}

func (p *person) do(r *http.Request) answer {
	p.b.t.Helper()
	got, err := p.client.Do(r)
	must(p.b.t, err)
	defer got.Body.Close()
	body, err := io.ReadAll(got.Body)
	must(p.b.t, err)
	return answer{got.StatusCode, string(body), got.Header}
}

func (p *person) get(path string) answer {
	p.b.t.Helper()
	r, err := http.NewRequest(http.MethodGet, p.b.http.URL+path, nil)
	must(p.b.t, err)
	return p.do(r)
}

func (p *person) post(path string, form url.Values) answer {
	p.b.t.Helper()
	r, err := http.NewRequest(http.MethodPost, p.b.http.URL+path, strings.NewReader(form.Encode()))
	must(p.b.t, err)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	return p.do(r)
}

// firstEye is an eye of the clinic.
func (b *workbench) firstEye() store.EyeRow {
	b.t.Helper()
	page, err := b.store.Eyes(context.Background(), "", store.Page{Limit: 1})
	must(b.t, err)
	if len(page.Rows) == 0 {
		b.t.Fatal("the clinic has no eye")
	}
	return page.Rows[0]
}
