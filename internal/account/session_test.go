package account

import (
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// site is a small server with sessions and browsers that visit it.
type site struct {
	*fixture
	sessions *Sessions
	server   *httptest.Server
	during   func() // runs inside /during, after the session was loaded
	hasty    bool   // browsers do not wait until signs of life are written
}

func (f *fixture) site(limits SessionLimits) *site {
	f.Helper()
	s := &site{fixture: f, sessions: NewSessions(f.gate, limits)}
	answer := func(w http.ResponseWriter, err error) {
		if err != nil {
			http.Error(w, err.Error(), http.StatusForbidden)
		}
	}
	mux := http.NewServeMux()
	mux.HandleFunc("/look", func(w http.ResponseWriter, r *http.Request) {
		s.sessions.manager.Put(r.Context(), "seen", "yes") // a session before the log-in
	})
	mux.HandleFunc("/in", func(w http.ResponseWriter, r *http.Request) {
		a, err := f.gate.LogIn(r.Context(), Credentials{Name: r.FormValue("name"), Passphrase: r.FormValue("passphrase"), Remote: here})
		if err == nil {
			err = s.sessions.Begin(r.Context(), a, here, r.UserAgent())
		}
		answer(w, err)
	})
	mux.HandleFunc("/who", func(w http.ResponseWriter, r *http.Request) {
		a, in, err := s.sessions.Current(r.Context())
		answer(w, err)
		if in {
			_, _ = fmt.Fprint(w, a.Name)
		}
	})
	mux.HandleFunc("/id", func(w http.ResponseWriter, r *http.Request) { _, _ = fmt.Fprint(w, s.sessions.ID(r.Context())) })
	mux.HandleFunc("/during", func(w http.ResponseWriter, r *http.Request) {
		s.during()
		s.sessions.manager.Put(r.Context(), "note", "changed late")
	})
	mux.HandleFunc("/out", func(w http.ResponseWriter, r *http.Request) { answer(w, s.sessions.End(r.Context(), here)) })
	mux.HandleFunc("/number", func(w http.ResponseWriter, r *http.Request) { s.sessions.manager.Put(r.Context(), "n", 7) })
	s.server = httptest.NewServer(s.sessions.Keep(mux, func(w http.ResponseWriter, _ *http.Request, err error) {
		http.Error(w, err.Error(), http.StatusInternalServerError)
	}))
	f.Cleanup(s.sessions.Settle)
	f.Cleanup(s.server.Close)
	return s
}

// browser keeps cookies.
type browser struct {
	*site
	client *http.Client
}

func (s *site) browser() *browser {
	s.Helper()
	jar, err := cookiejar.New(nil)
	s.must(err)
	return &browser{s, &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

func (b *browser) get(path string) (body string, response *http.Response) {
	b.Helper()
	response, err := b.client.Get(b.server.URL + path)
	b.must(err)
	defer func() { _ = response.Body.Close() }()
	text, err := io.ReadAll(response.Body)
	b.must(err)
	if !b.hasty {
		b.sessions.Settle()
	}
	return strings.TrimSpace(string(text)), response
}

func (b *browser) logIn(name, passphrase string) {
	b.Helper()
	if body, _ := b.get("/in?" + url.Values{"name": {name}, "passphrase": {passphrase}}.Encode()); body != "" {
		b.Fatal(body)
	}
}

// token is the value of the session cookie.
func (b *browser) token() string {
	b.Helper()
	u, err := url.Parse(b.server.URL)
	b.must(err)
	for _, c := range b.client.Jar.Cookies(u) {
		if c.Name == "limitans" {
			return c.Value
		}
	}
	return ""
}

func (b *browser) is(want string) {
	b.Helper()
	if got, _ := b.get("/who"); got != want {
		b.Errorf("logged in as %q, want %q", got, want)
	}
}

func TestSessions(t *testing.T) {
	onBoth(t, Mode{}, func(f *fixture) {
		boss := f.first()
		s := f.site(SessionLimits{})
		b := s.browser()
		b.is("")
		b.get("/look")
		before := b.token()
		if before == "" {
			f.Fatal("no session before the log-in")
		}
		_, response := b.get("/in?" + url.Values{"name": {"maria.holt"}, "passphrase": {herons}}.Encode())
		cookie := response.Header.Get("Set-Cookie")
		for _, part := range []string{"limitans=", "Path=/", "HttpOnly", "SameSite=Lax"} {
			if !strings.Contains(cookie, part) {
				f.Errorf("cookie %s without %s", cookie, part)
			}
		}
		if strings.Contains(cookie, "Expires") || strings.Contains(cookie, "Domain") {
			f.Errorf("cookie %s", cookie)
		}
		// The log-in has another token, and the old one is worth nothing: an
		// attacker who planted it stays outside.
		if b.token() == before || len(b.token()) < 40 {
			f.Errorf("token %q before and %q after the log-in", before, b.token())
		}
		b.is("maria.holt")
		planted := s.browser()
		u, err := url.Parse(s.server.URL)
		f.must(err)
		planted.client.Jar.SetCookies(u, []*http.Cookie{{Name: "limitans", Value: before}})
		planted.is("")
		if all := f.everything(); strings.Contains(all, b.token()) || strings.Contains(all, before) {
			f.Error("a token is in the database in clear")
		}

		list, err := s.sessions.List(f.ctx, boss.Actor(here), boss.ID)
		id, _ := b.get("/id")
		if err != nil || len(list) != 1 || list[0].ID != id || list[0].Remote != here || !strings.HasPrefix(list[0].Agent, "Go-http") {
			f.Errorf("%+v, %v", list, err)
		}
		b.get("/out")
		b.is("")
		f.tells(boss.ID, "self: logged out")
		stolen := s.browser()
		stolen.client.Jar.SetCookies(u, []*http.Cookie{{Name: "limitans", Value: before}})
		stolen.is("")
		if body, response := b.get("/number"); response.StatusCode != http.StatusInternalServerError || !strings.Contains(body, "int") {
			f.Errorf("a value that is no string: %s", body)
		}
	})
}

func TestSessionsEndWithTime(t *testing.T) {
	onBoth(t, Mode{}, func(f *fixture) {
		f.first()
		s := f.site(SessionLimits{Idle: 30 * time.Minute, Absolute: 2 * time.Hour})
		b := s.browser()
		b.logIn("maria.holt", herons)
		for range 4 { // signs of life keep it up to the end
			f.clock.forward(29 * time.Minute)
			b.is("maria.holt")
		}
		f.clock.forward(5 * time.Minute)
		b.is("") // two hours
		b.logIn("maria.holt", herons)
		f.clock.forward(30 * time.Minute)
		b.is("") // idle
		f.must(s.sessions.Sweep(f.ctx))
		var n int
		f.must(f.store.Reader().QueryRow(f.ctx, `select count(*) from account_session`).Scan(&n))
		if n != 0 {
			f.Errorf("%d sessions left behind", n)
		}
		f.clock.forward(forgetAfter)
		f.must(s.sessions.Sweep(f.ctx))
		f.must(f.store.Reader().QueryRow(f.ctx, `select count(*) from account_attempt`).Scan(&n))
		if n != 0 {
			f.Errorf("%d counted attempts left behind", n)
		}
	})
}

// TestPagesDoNotWaitForSignsOfLife opens a page while somebody else writes, and
// finds the sign of life afterwards.
func TestPagesDoNotWaitForSignsOfLife(t *testing.T) {
	onBoth(t, Mode{}, func(f *fixture) {
		f.first()
		s := f.site(SessionLimits{})
		b := s.browser()
		b.logIn("maria.holt", herons)
		f.clock.forward(2 * touchEvery)
		s.hasty = true
		f.must(f.store.Write(f.ctx, record.Actor{AccountID: "maria.holt", Place: here}, func(*store.Tx) error {
			for range 3 {
				b.is("maria.holt")
			}
			return nil
		}))
		s.sessions.Settle()
		var seen int64
		f.must(f.store.Reader().QueryRow(f.ctx, `select seen_at from account_session`).Scan(&seen))
		if seen != f.clock.now().UnixMilli() {
			f.Errorf("seen at %d, want %d", seen, f.clock.now().UnixMilli())
		}
	})
}

func TestSessionsAreEndedByOthers(t *testing.T) {
	onBoth(t, Mode{}, func(f *fixture) {
		boss := f.first()
		nurse := f.person(boss, "nurse1", otters, Clinic)
		s := f.site(SessionLimits{})
		desk, ward := s.browser(), s.browser()
		desk.logIn("nurse1", otters)
		ward.logIn("nurse1", otters)
		deskID, _ := desk.get("/id")
		wardID, _ := ward.get("/id")

		// One of them.
		f.refuses(s.sessions.EndOne(f.ctx, nurse.Actor(here), boss.ID, wardID), ErrForbidden, "", "")
		f.must(s.sessions.EndOne(f.ctx, nurse.Actor(here), nurse.ID, wardID))
		f.refuses(s.sessions.EndOne(f.ctx, boss.Actor(here), nurse.ID, wardID), nil, fault.NotFound, "over already")
		ward.is("")
		desk.is("nurse1")
		f.tells(nurse.ID, "self: session ended")
		_, err := s.sessions.List(f.ctx, nurse.Actor(here), boss.ID)
		f.refuses(err, ErrForbidden, "", "")

		// A changed passphrase ends the others, not the present one.
		ward.logIn("nurse1", otters)
		f.must(f.gate.ChangePassphrase(f.ctx, nurse.ID, otters, herons, deskID, here))
		ward.is("")
		desk.is("nurse1")
		list, err := s.sessions.List(f.ctx, boss.Actor(here), nurse.ID)
		if err != nil || len(list) != 1 || list[0].ID != deskID {
			f.Errorf("%+v, %v", list, err)
		}

		// A request that is under way while its session is ended does not bring it
		// back.
		s.during = func() { f.must(s.sessions.EndOne(f.ctx, boss.Actor(here), nurse.ID, deskID)) }
		desk.get("/during")
		desk.is("")

		// Roles and activity.
		for _, change := range []func() error{
			func() error { return f.gate.SetRoles(f.ctx, boss.Actor(here), nurse.ID, Roles{Theatre}, "") },
			func() error { return f.gate.SetActive(f.ctx, boss.Actor(here), nurse.ID, false, "") },
		} {
			desk.logIn("nurse1", herons)
			desk.is("nurse1")
			f.must(change())
			desk.is("")
		}
		f.must(f.gate.SetActive(f.ctx, boss.Actor(here), nurse.ID, true, ""))
		desk.is("")
	})
}

// A log-in whose passphrase is changed before its session begins opens none.
func TestOvertakenLogIn(t *testing.T) {
	onBoth(t, Mode{}, func(f *fixture) {
		f.first()
		s := f.site(SessionLimits{})
		old, err := f.logIn("maria.holt", herons, "")
		f.must(err)
		f.must(f.gate.ChangePassphrase(f.ctx, old.ID, herons, otters, "", here))
		ctx, err := s.sessions.manager.Load(f.ctx, "")
		f.must(err)
		f.must(s.sessions.Begin(ctx, old, here, strings.Repeat("agent", 100)))
		token, _, err := s.sessions.manager.Commit(ctx)
		f.must(err)
		if _, found, err := s.sessions.manager.Store.Find(token); found || err != nil {
			f.Errorf("found %v, %v", found, err)
		}
	})
}

func TestSecureCookies(t *testing.T) {
	f := newFixture(t, Mode{}, storeIn(t))
	m := NewSessions(f.gate, SessionLimits{Secure: true}).manager
	if m.Cookie.Name != "__Host-limitans" || !m.Cookie.Secure || m.Cookie.Path != "/" || m.Cookie.Domain != "" || m.Cookie.Persist {
		t.Errorf("%+v", m.Cookie)
	}
}

func TestStoredSessionsAreStringsOnly(t *testing.T) {
	at := time.UnixMilli(1_800_000_000_123).UTC()
	data, err := textCodec{}.Encode(at, map[string]any{"account": "a"})
	if err != nil {
		t.Fatal(err)
	}
	deadline, values, err := textCodec{}.Decode(data)
	if err != nil || !deadline.Equal(at) || len(values) != 1 || values["account"] != "a" {
		t.Errorf("%v, %v, %v", deadline, values, err)
	}
	for _, bad := range []string{"", "x", `{"values":{"a":1}}`, `{"values":["a"]}`} {
		if _, _, err := (textCodec{}).Decode([]byte(bad)); fault.CodeOf(err) != fault.Malformed {
			t.Errorf("%q: %v", bad, err)
		}
	}
	if _, err := (textCodec{}).Encode(at, map[string]any{"a": 1}); err == nil {
		t.Error("a number is stored")
	}
	f := newFixture(t, Mode{}, storeIn(t))
	bare := NewSessions(f.gate, SessionLimits{Idle: time.Hour, Absolute: time.Hour}).manager.Store.(sessionStore)
	if err := bare.Commit("t", []byte("x"), at); fault.CodeOf(err) != fault.Malformed {
		t.Errorf("no JSON is stored: %v", err)
	}
	if err := bare.Commit("t", []byte(`{"values":{"epoch":"x"}}`), at); fault.CodeOf(err) != fault.Malformed {
		t.Errorf("a bad epoch is stored: %v", err)
	}
	f.must(bare.Commit("t", data, at))
	f.must(bare.Delete("t"))
	f.must(bare.Delete("t"))
	if _, found, err := bare.Find("t"); found || err != nil {
		t.Errorf("found %v, %v", found, err)
	}
}
