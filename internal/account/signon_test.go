package account

import (
	"bytes"
	"crypto/rand"
	"crypto/rsa"
	"encoding/base64"
	"encoding/json"
	"maps"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/golang-jwt/jwt/v5"
	"github.com/oauth2-proxy/mockoidc"

	"limitans/fault"
)

// department is a unit with an identity provider: a real server of the
// protocol on the loopback interface that checks client, code and PKCE and
// signs with a key of its own. alter may change what it answers at the token
// endpoint.
type department struct {
	*site
	provider *mockoidc.MockOIDC
	signOn   *SignOn
	alter    func(claims jwt.MapClaims) string // gives the ID token to send instead
	info     string                            // what the userinfo endpoint answers instead
}

var groups = map[string]Role{
	"eye-surgeons": Surgeon, "eye-theatre": Theatre, "eye-clinic": Clinic, "eye-audit": Auditor, "eye-admin": Administrator,
}

func (f *fixture) department() *department {
	f.Helper()
	d := &department{site: f.site(SessionLimits{})}
	var err error
	d.provider, err = mockoidc.NewServer(nil)
	f.must(err)
	d.provider.CodeChallengeMethodsSupported = []string{"S256"}
	f.must(d.provider.AddMiddleware(d.between))
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	f.must(err)
	f.must(d.provider.Start(listener, nil))
	f.Cleanup(func() {
		if err := d.provider.Shutdown(); err != nil {
			f.Error(err)
		}
	})
	d.signOn, err = NewSignOn(d.sessions, SignOnConfig{
		Issuer: d.provider.Issuer(), ClientID: d.provider.ClientID, ClientSecret: d.provider.ClientSecret,
		RedirectURL: d.server.URL + "/back", Scopes: []string{"groups"}, Roles: groups,
	})
	f.must(err)
	own := d.server.Config.Handler
	doors := http.NewServeMux()
	doors.HandleFunc("/start", func(w http.ResponseWriter, r *http.Request) {
		address, err := d.signOn.Start(r.Context())
		if err != nil {
			http.Error(w, err.Error(), http.StatusBadGateway)
			return
		}
		http.Redirect(w, r, address, http.StatusFound)
	})
	doors.HandleFunc("/back", func(w http.ResponseWriter, r *http.Request) {
		a, err := d.signOn.Finish(r.Context(), r.URL.Query(), here)
		if err == nil {
			err = d.sessions.Begin(r.Context(), a, here, r.UserAgent())
		}
		if err != nil {
			http.Error(w, err.Error(), http.StatusForbidden)
		}
	})
	kept := d.sessions.Keep(doors, func(http.ResponseWriter, *http.Request, error) {})
	d.server.Config.Handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/start" || r.URL.Path == "/back" {
			kept.ServeHTTP(w, r)
			return
		}
		own.ServeHTTP(w, r)
	})
	return d
}

// between changes the provider's answers on their way.
func (d *department) between(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if d.info != "" && r.URL.Path == mockoidc.UserinfoEndpoint {
			w.Header().Set("Content-Type", "application/json")
			_, _ = w.Write([]byte(d.info))
			return
		}
		if d.alter == nil || r.URL.Path != mockoidc.TokenEndpoint {
			next.ServeHTTP(w, r)
			return
		}
		recorder := httptest.NewRecorder()
		next.ServeHTTP(recorder, r)
		var answer map[string]any
		if recorder.Code != http.StatusOK || json.Unmarshal(recorder.Body.Bytes(), &answer) != nil {
			w.WriteHeader(recorder.Code)
			_, _ = w.Write(recorder.Body.Bytes())
			return
		}
		claims := jwt.MapClaims{}
		if _, _, err := jwt.NewParser().ParseUnverified(answer["id_token"].(string), claims); err != nil {
			d.Error(err)
		}
		answer["id_token"] = d.alter(claims)
		w.Header().Set("Content-Type", "application/json")
		_ = json.NewEncoder(w).Encode(answer)
	})
}

// sign signs claims as the provider does.
func (d *department) sign(claims jwt.Claims) string {
	raw, err := d.provider.Keypair.SignJWT(claims)
	d.must(err)
	return raw
}

func person1(groups ...string) *mockoidc.MockUser {
	return &mockoidc.MockUser{Subject: "s-1", PreferredUsername: "Ines", Groups: groups}
}

// goThere begins a log-in and gives the address with which the provider sends
// the browser back.
func (b *browser) goThere(d *department, user *mockoidc.MockUser) string {
	b.Helper()
	_, response := b.get("/start")
	address := response.Header.Get("Location")
	u, err := url.Parse(address)
	b.must(err)
	if q := u.Query(); q.Get("code_challenge_method") != "S256" || len(q.Get("state")) < 40 || len(q.Get("nonce")) < 40 || q.Get("response_type") != "code" {
		b.Fatalf("sent to %s", address)
	}
	d.provider.QueueUser(user)
	response, err = b.client.Get(address)
	b.must(err)
	b.must(response.Body.Close())
	back := response.Header.Get("Location")
	if !strings.HasPrefix(back, b.server.URL+"/back?") {
		b.Fatalf("the provider answers %s, %q", response.Status, back)
	}
	return strings.TrimPrefix(back, b.server.URL)
}

func TestSignOn(t *testing.T) {
	onBoth(t, Mode{}, func(f *fixture) {
		boss := f.first()
		d := f.department()
		b := d.browser()
		b.get("/look")
		before := b.token()
		back := b.goThere(d, person1("staff", "eye-clinic", "eye-theatre"))
		if body, _ := b.get(back); body != "" {
			f.Fatal(body)
		}
		b.is("ines@127.0.0.1")
		if b.token() == before {
			f.Error("the token from before the log-in stays")
		}
		all, err := f.gate.Accounts(f.ctx, boss.Actor(here))
		f.must(err)
		ines := all[0]
		if len(all) != 2 || ines.Local || !ines.Federated || ines.Roles.String() != "theatre,clinic" {
			f.Fatalf("%+v", all)
		}
		f.tells(ines.ID, "self: account made;  → ines@127.0.0.1: theatre,clinic; first log-in through "+d.provider.Issuer())
		f.tells(ines.ID, "self: logged in;  → ; through ")

		// The whole answer once more, in the same and in another browser.
		if body, _ := b.get(back); !strings.Contains(body, "belongs to no log-in") {
			f.Errorf("a replayed answer: %q", body)
		}
		other := d.browser()
		if body, _ := other.get(back); !strings.Contains(body, "belongs to no log-in") {
			f.Errorf("a replayed answer elsewhere: %q", body)
		}
		other.is("")
		f.tells(unknown, "log-in failed;  → ; sign-on: the answer belongs to no log-in")

		// No passphrase, no way around the provider.
		_, err = f.logIn("ines@127.0.0.1", "", "")
		f.refuses(err, ErrRefused, "", "")
		_, err = f.gate.Recover(f.ctx, boss.Actor(here), ines.ID, false, "")
		f.refuses(err, nil, fault.Invalid, "identity provider")

		// Roles follow the groups and end the sessions of before.
		if body, _ := other.get(other.goThere(d, person1("eye-surgeons"))); body != "" {
			f.Fatal(body)
		}
		b.is("")
		other.is("ines@127.0.0.1")
		f.tells(ines.ID, "roles changed; theatre,clinic → surgeon; groups at ")
		if a := f.account(ines.ID); a.Roles.String() != "surgeon" {
			f.Errorf("%v", a.Roles)
		}

		// Who is deactivated here stays outside.
		f.must(f.gate.SetActive(f.ctx, boss.Actor(here), ines.ID, false, "left"))
		other.is("")
		if body, _ := other.get(other.goThere(d, person1("eye-surgeons"))); !strings.Contains(body, "account deactivated") {
			f.Errorf("%q", body)
		}
		other.is("")
		// An administrator of the provider's does not count as the last one.
		admin := person1("eye-admin")
		admin.Subject, admin.PreferredUsername = "s-2", "root"
		if body, _ := other.get(other.goThere(d, admin)); body != "" {
			f.Fatal(body)
		}
		f.refuses(f.gate.SetActive(f.ctx, Console("root"), boss.ID, false, ""), nil, fault.Conflict, "no administrator")
		check, err := f.gate.Verify(f.ctx)
		if err != nil || len(check.Problems) > 0 {
			f.Errorf("%+v, %v", check, err)
		}
	})
}

func TestSignOnNamesAndGroups(t *testing.T) {
	f := newFixture(t, Mode{}, storeIn(t))
	f.first()
	d := f.department()
	for _, test := range []struct {
		subject, name string
		groups        []string
		want          string // name and roles, or the words of the refusal after "!"
	}{
		{"a", "maria.holt", []string{"eye-surgeons"}, "maria.holt@127.0.0.1 surgeon"}, // not the local one
		{"b", "MARIA.Holt", []string{"eye-clinic"}, "person-*@127.0.0.1 clinic"},      // a namesake
		{"c", "with space", []string{"eye-clinic"}, "person-*@127.0.0.1 clinic"},
		{"d", "", []string{"eye-clinic"}, "person-*@127.0.0.1 clinic"},
		{"e", "e", []string{"eye-clinic", "eye-clinic", "x"}, "e@127.0.0.1 clinic"},
		{"f", "f", []string{"eye-surgeons", "eye-admin"}, "f@127.0.0.1 surgeon,administrator"},
		{"g", "g", []string{"eye-audit"}, "g@127.0.0.1 auditor"},
		{"h", "h", []string{"eye-audit", "eye-clinic"}, "!give an auditor a second role"},
		{"i", "i", []string{"x", "surgeon", "Eye-Surgeons"}, "!none of this person's groups"},
		{"j", "j", nil, "!none of this person's groups"},
	} {
		b := d.browser()
		body, _ := b.get(b.goThere(d, &mockoidc.MockUser{Subject: test.subject, PreferredUsername: test.name, Groups: test.groups}))
		if words, refuse := strings.CutPrefix(test.want, "!"); refuse {
			if !strings.Contains(body, words) {
				t.Errorf("%s: %q", test.subject, body)
			}
			b.is("")
			continue
		}
		if body != "" {
			t.Errorf("%s: %s", test.subject, body)
			continue
		}
		name, _ := b.get("/who")
		a, err := find(f.ctx, f.store.Reader(), "name", name)
		f.must(err)
		wantName, wantRoles, _ := strings.Cut(test.want, " ")
		prefix, suffix, pattern := strings.Cut(wantName, "*")
		if a.Roles.String() != wantRoles || (!pattern && name != wantName) || !strings.HasPrefix(name, prefix) || !strings.HasSuffix(name, suffix) {
			t.Errorf("%s: %s %s, want %s", test.subject, name, a.Roles, test.want)
		}
	}
}

// What an attacker, or a provider that errs, may try. The sources of the
// checks: OpenID Connect Core 1.0, section 3.1.3.7; RFC 7636 (PKCE); RFC 9207
// (issuer in the answer); RFC 9700, section 4 (injected codes and answers).
func TestSignOnRefusesForgedIdentities(t *testing.T) {
	f := newFixture(t, Mode{}, storeIn(t))
	f.first()
	d := f.department()
	stranger, err := rsa.GenerateKey(rand.Reader, 2048)
	f.must(err)
	with := func(key string, value any) func(jwt.MapClaims) string {
		return func(c jwt.MapClaims) string {
			c = maps.Clone(c)
			if c[key] = value; value == nil {
				delete(c, key)
			}
			return d.sign(c)
		}
	}
	signed := func(method jwt.SigningMethod, key any) func(jwt.MapClaims) string {
		return func(c jwt.MapClaims) string {
			token := jwt.NewWithClaims(method, c)
			token.Header["kid"], _ = d.provider.Keypair.KeyID()
			raw, err := token.SignedString(key)
			f.must(err)
			return raw
		}
	}
	const wrongIdentity = "signature, issuer or audience is not right"
	for _, test := range []struct {
		name  string
		alter func(jwt.MapClaims) string
		want  string // nothing: let in
	}{
		{"signed anew, unchanged", func(c jwt.MapClaims) string { return d.sign(c) }, ""},
		{"audience of two with this program authorised", func(c jwt.MapClaims) string {
			c["aud"], c["azp"] = []string{"other", d.provider.ClientID}, d.provider.ClientID
			return d.sign(c)
		}, ""},
		{"groups as one text", with("groups", "eye-clinic"), ""},
		{"wrong nonce", with("nonce", "x"), "made for another log-in"},
		{"no nonce", with("nonce", nil), "made for another log-in"},
		{"wrong audience", with("aud", "other"), wrongIdentity},
		{"no audience", with("aud", nil), wrongIdentity},
		{"audience of two", with("aud", []string{"other", d.provider.ClientID}), "made for another program"},
		{"another program authorised", with("azp", "other"), "made for another program"},
		{"another issuer", with("iss", "https://elsewhere.example"), wrongIdentity},
		{"out of date", with("exp", time.Now().Add(-time.Second).Unix()), "out of date"},
		{"no end", with("exp", nil), "out of date"},
		{"not valid yet", with("nbf", time.Now().Add(time.Hour).Unix()), wrongIdentity},
		{"nobody", with("sub", ""), "names nobody"},
		{"another access token", with("at_hash", "AAAAAAAAAAAAAAAAAAAAAA"), "does not belong to its token"},
		{"groups as a number", with("groups", 7), "groups cannot be read"},
		{"groups at the userinfo endpoint", with("groups", nil), ""},
		{"no token", func(jwt.MapClaims) string { return "" }, wrongIdentity},
		{"no signature", signed(jwt.SigningMethodNone, jwt.UnsafeAllowNoneSignatureType), wrongIdentity},
		{"signature with the client's secret", signed(jwt.SigningMethodHS256, []byte(d.provider.ClientSecret)), wrongIdentity},
		{"signature with the public key as secret", signed(jwt.SigningMethodHS256, d.provider.Keypair.PublicKey.N.Bytes()), wrongIdentity},
		{"a stranger's signature", signed(jwt.SigningMethodRS256, stranger), wrongIdentity},
		{"claims changed under the signature", func(c jwt.MapClaims) string {
			parts := strings.Split(d.sign(c), ".")
			body, err := base64.RawURLEncoding.DecodeString(parts[1])
			f.must(err)
			body = bytes.Replace(body, []byte("eye-clinic"), []byte("eye-admin"), 1)
			return parts[0] + "." + base64.RawURLEncoding.EncodeToString(body) + "." + parts[2]
		}, wrongIdentity},
	} {
		b := d.browser()
		d.alter = test.alter
		body, _ := b.get(b.goThere(d, person1("eye-clinic")))
		if (test.want == "") != (body == "") || !strings.Contains(body, test.want) {
			t.Errorf("%s: %q, want %q", test.name, body, test.want)
		}
		who := ""
		if test.want == "" {
			who = "ines@127.0.0.1"
		}
		b.is(who)
		// An attack is a failed attempt, and blocks in the end; not in this test.
		_, err := f.store.Writer().Exec(f.ctx, `delete from account_attempt`)
		f.must(err)
	}
}

// Source: OpenID Connect Core 1.0, sections 5.3.2 and 5.4.
func TestSignOnAsksForWhatTheIdentityLacks(t *testing.T) {
	f := newFixture(t, Mode{}, storeIn(t))
	f.first()
	d := f.department()
	d.alter = func(c jwt.MapClaims) string {
		delete(c, "groups")
		delete(c, "preferred_username")
		return d.sign(c)
	}
	for _, test := range []struct{ info, want string }{
		{`{"sub":"s-1","groups":["eye-clinic"],"preferred_username":"ines","azp":"x","nonce":"x"}`, ""},
		{`{"sub":"s-1","groups":"eye-clinic"}`, ""},
		{`{"sub":"s-9","groups":["eye-clinic"]}`, "tells about somebody else"},
		{`{"groups":["eye-clinic"]}`, "tells about somebody else"},
		{`{"sub":"s-1"}`, "none of this person's groups"},
		{`{"sub":"s-1","groups":{}}`, "groups cannot be read"},
		{`no JSON`, "tells nothing about this person"},
	} {
		b := d.browser()
		d.info = test.info
		body, _ := b.get(b.goThere(d, person1("eye-clinic")))
		if (test.want == "") != (body == "") || !strings.Contains(body, test.want) {
			t.Errorf("%s: %q, want %q", test.info, body, test.want)
		}
	}
}

func TestSignOnRefusesInjectedAnswers(t *testing.T) {
	f := newFixture(t, Mode{}, storeIn(t))
	f.first()
	d := f.department()
	query := func(address string) url.Values {
		u, err := url.Parse(address)
		f.must(err)
		return u.Query()
	}
	refused := func(name string, b *browser, q url.Values, words string) {
		t.Helper()
		if body, _ := b.get("/back?" + q.Encode()); !strings.Contains(body, words) || words == "" {
			t.Errorf("%s: %q, want %q", name, body, words)
		}
		b.is("")
	}
	victim, attacker := d.browser(), d.browser()
	q := query(victim.goThere(d, person1("eye-clinic")))
	without := maps.Clone(q)
	without.Del("state")
	refused("no state", victim, without, "belongs to no log-in")
	refused("the first try used the state up", victim, q, "belongs to no log-in")

	// The attacker's own answer in the victim's browser: the victim would work
	// under the attacker's name.
	victim.goThere(d, person1("eye-clinic"))
	refused("another browser's answer", victim, query(attacker.goThere(d, person1("eye-admin"))), "belongs to no log-in")

	// A code that was seen on its way, put into the attacker's own log-in: PKCE.
	seen := query(victim.goThere(d, person1("eye-surgeons")))
	own := query(attacker.goThere(d, person1("eye-clinic")))
	own.Set("code", seen.Get("code"))
	refused("a stolen code", attacker, own, "did not take the code")

	// A code that was used.
	again := query(victim.goThere(d, person1("eye-clinic")))
	if body, _ := victim.get("/back?" + again.Encode()); body != "" {
		t.Fatal(body)
	}
	own = query(attacker.goThere(d, person1("eye-clinic")))
	own.Set("code", again.Get("code"))
	refused("a used code", attacker, own, "did not take the code")

	for name, change := range map[string]func(url.Values){
		"the identity provider refused":    func(q url.Values) { q.Set("error", "access_denied") },
		"the answer is another provider's": func(q url.Values) { q.Set("iss", "https://elsewhere.example") },
		"did not take the code":            func(q url.Values) { q.Del("code") },
		"it took too long": func(url.Values) {
			f.clock.forward(flowLasts + time.Second)
			d.provider.FastForward(flowLasts + time.Second)
		},
	} {
		own = query(attacker.goThere(d, person1("eye-clinic")))
		change(own)
		refused(name, attacker, own, name)
	}
	// The named issuer is right: let in.
	own = query(attacker.goThere(d, person1("eye-clinic")))
	own.Set("iss", d.provider.Issuer())
	if body, _ := attacker.get("/back?" + own.Encode()); body != "" {
		t.Error(body)
	}
	// Whoever goes on is blocked by address.
	for range 30 {
		attacker.get("/back?state=x")
	}
	if body, _ := attacker.get("/back?state=x"); !strings.Contains(body, "too many attempts") {
		t.Errorf("%q", body)
	}
}

func TestSignOnWithoutItsProvider(t *testing.T) {
	f := newFixture(t, Mode{}, storeIn(t))
	d := f.department()
	config := d.signOn.config
	closed, err := net.Listen("tcp", "127.0.0.1:0")
	f.must(err)
	f.must(closed.Close())
	config.Issuer = "http://" + closed.Addr().String()
	down, err := NewSignOn(d.sessions, config)
	f.must(err) // the program starts while the provider is down
	_, err = down.Start(f.ctx)
	f.refuses(err, nil, fault.Internal, "does not answer")
	config.Issuer = d.provider.Addr() // answers, but not as the issuer
	other, err := NewSignOn(d.sessions, config)
	f.must(err)
	_, err = other.Start(f.ctx)
	f.refuses(err, nil, fault.Internal, "does not answer")

	for name, change := range map[string]func(*SignOnConfig){
		"issuer":            func(c *SignOnConfig) { c.Issuer = "http://idp.example" },
		"redirect address":  func(c *SignOnConfig) { c.RedirectURL = "/back" },
		"client identifier": func(c *SignOnConfig) { c.ClientID = "" },
		"groups":            func(c *SignOnConfig) { c.Roles = nil },
		"unknown role":      func(c *SignOnConfig) { c.Roles = map[string]Role{"g": "visitor"} },
	} {
		bad := d.signOn.config
		change(&bad)
		_, err := NewSignOn(d.sessions, bad)
		f.refuses(err, nil, fault.Invalid, name)
	}
	demo := newFixture(t, Mode{Demo: true}, storeIn(t))
	_, err = NewSignOn(NewSessions(demo.gate, SessionLimits{}), d.signOn.config)
	demo.refuses(err, ErrMode, "", "")
}
