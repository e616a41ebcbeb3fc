package web

import (
	"context"
	"crypto/hmac"
	"crypto/sha1"
	"encoding/base32"
	"encoding/binary"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"limitans/internal/account"
	"limitans/internal/store"
)

// newRealBench serves an empty real record with one administrator.
func newRealBench(t testing.TB, passphrase string) *workbench {
	t.Helper()
	ctx := context.Background()
	clock := func() time.Time { return now }
	opened, err := store.Open(ctx, store.Options{Folder: t.TempDir(), Now: clock})
	must(t, err)
	t.Cleanup(func() { must(t, opened.Close()) })
	must(t, opened.Upgrade(ctx))
	gate, err := account.Open(ctx, opened, account.Config{Now: clock, Cost: account.HashCost{Passes: 1, MemoryKiB: 64, Lanes: 1}})
	must(t, err)
	_, err = gate.MakeFirst(ctx, "per", "Per Fictional", passphrase, "here")
	must(t, err)
	server, err := New(Config{Store: opened, Gate: gate, Program: "test", Now: clock, Log: slog.New(slog.NewTextHandler(t.Output(), nil))})
	must(t, err)
	b := &workbench{t: t, server: server, http: httptest.NewServer(server), store: opened}
	t.Cleanup(b.http.Close)
	return b
}

// signIn lets a browser in.
func (b *workbench) signIn(pairs ...string) (*person, answer) {
	p := b.stranger()
	return p, p.post("/sign-in", fields(pairs...))
}

// totp is the six-digit code of a secret at a moment (RFC 6238 with the SHA-1 and
// 30 seconds of its appendix B), as an authenticator program reckons it.
func totp(t testing.TB, secret string, at time.Time) string {
	t.Helper()
	key, err := base32.StdEncoding.WithPadding(base32.NoPadding).DecodeString(strings.TrimRight(secret, "="))
	must(t, err)
	var counter [8]byte
	binary.BigEndian.PutUint64(counter[:], uint64(at.Unix()/30))
	mac := hmac.New(sha1.New, key)
	mac.Write(counter[:])
	sum := mac.Sum(nil)
	from := sum[len(sum)-1] & 15
	return fmt.Sprintf("%06d", (binary.BigEndian.Uint32(sum[from:])&0x7fffffff)%1_000_000)
}

// codeIn reads the first code that a page shows.
func codeIn(page string) string {
	m := regexp.MustCompile(`<code[^>]*>([^<]+)</code>`).FindStringSubmatch(page)
	if m == nil {
		return ""
	}
	return m[1]
}

// TestAccountsAreKept makes an account, lets its holder set a passphrase and a
// second factor, changes roles, recovers and deactivates it.
func TestAccountsAreKept(t *testing.T) {
	const first, second, third = "seventeen blue herons wade", "nine copper kettles sing low", "four grey owls keep silent watch"
	b := newRealBench(t, first)
	admin, in := b.signIn("name", "per", "passphrase", first)
	if in.status != http.StatusSeeOther {
		t.Fatalf("the administrator is not let in: %d %s", in.status, text(in.body))
	}
	if got := admin.post("/accounts", fields("name", "tobias", "shown", "Tobias Inventley")); got.status != http.StatusUnprocessableEntity {
		t.Errorf("an account without a role: %d", got.status)
	}
	made := admin.post("/accounts", fields("name", "tobias", "shown", "Tobias Inventley", "role", "clinic"))
	code := codeIn(made.body)
	if made.status != http.StatusOK || code == "" {
		t.Fatalf("not made: %d %s", made.status, text(made.body))
	}
	list := admin.get("/accounts")
	if !strings.Contains(list.body, "has not set a passphrase yet") || strings.Contains(list.body, code) {
		t.Error("the list of accounts is not right")
	}
	at := regexp.MustCompile(`/accounts/[^"]+">Tobias`).FindString(list.body)
	at = strings.TrimSuffix(at, `">Tobias`)
	if got := b.stranger().post("/passphrase", fields("name", "tobias", "code", code, "passphrase", second, "again", second)); got.status != http.StatusSeeOther {
		t.Fatalf("the code is not taken: %d %s", got.status, text(got.body))
	}
	nurse, in := b.signIn("name", "tobias", "passphrase", second)
	if in.status != http.StatusSeeOther {
		t.Fatalf("not let in: %d", in.status)
	}
	if got := nurse.post("/settings/passphrase", fields("old", "wrong", "fresh", third, "again", third)); got.status == http.StatusSeeOther {
		t.Error("changed with a wrong passphrase")
	}
	if got := nurse.post("/settings/passphrase", fields("old", second, "fresh", third, "again", third)); got.status != http.StatusSeeOther {
		t.Fatalf("not changed: %d %s", got.status, text(got.body))
	}
	factor := nurse.post("/settings/second-factor", fields("passphrase", third))
	if !strings.Contains(factor.body, "data:image/png;base64,") {
		t.Fatalf("no picture: %d %s", factor.status, text(factor.body))
	}
	confirmed := nurse.post("/settings/second-factor/confirm", fields("code", totp(t, strings.ReplaceAll(codeIn(factor.body), " ", ""), now)))
	if confirmed.status != http.StatusOK || strings.Count(confirmed.body, "<li><code>") != 10 {
		t.Fatalf("not confirmed: %d %s", confirmed.status, text(confirmed.body))
	}
	recovery := codeIn(confirmed.body)
	if _, in := b.signIn("name", "tobias", "passphrase", third); in.status == http.StatusSeeOther {
		t.Error("let in without the second factor")
	}
	other, in := b.signIn("name", "tobias", "passphrase", third, "code", recovery)
	if in.status != http.StatusSeeOther {
		t.Fatalf("not let in with a recovery code: %d %s", in.status, text(in.body))
	}
	page := nurse.get("/settings")
	sessions := regexp.MustCompile(`name="session" value="([^"]+)"`).FindStringSubmatch(page.body)
	if sessions == nil {
		t.Fatalf("the other session is not listed: %s", text(page.body))
	}
	nurse.post("/settings/sessions", url.Values{"session": {unescape(sessions[1])}})
	if got := other.get("/settings"); got.status != http.StatusSeeOther {
		t.Errorf("the session did not end: %d", got.status)
	}
	if got := nurse.get("/settings/history"); got.status != http.StatusOK || !strings.Contains(got.body, "<td>") {
		t.Errorf("own history: %d", got.status)
	}
	if got := nurse.get("/accounts"); got.status != http.StatusForbidden {
		t.Errorf("the nurse sees the accounts: %d", got.status)
	}
	for _, step := range []struct {
		to     string
		typed  url.Values
		wanted int
	}{
		{at + "/roles", fields("role", "clinic", "role", "auditor", "reason", "x"), http.StatusUnprocessableEntity},
		{at + "/roles", fields("role", "clinic", "role", "theatre", "reason", "works there too"), http.StatusSeeOther},
		{at + "/recover", fields("factor-lost", "yes", "reason", "phone lost, known by sight"), http.StatusOK},
		{at + "/unblock", fields("reason", "typed wrongly"), http.StatusSeeOther},
		{at + "/active", fields("active", "no", "reason", "left the unit"), http.StatusSeeOther},
	} {
		if got := admin.post(step.to, step.typed); got.status != step.wanted {
			t.Errorf("%s: %d, want %d: %s", step.to, got.status, step.wanted, text(got.body))
		}
	}
	if got := admin.get(at + "/history"); !strings.Contains(got.body, "left the unit") {
		t.Errorf("the history does not tell why: %s", text(got.body))
	}
	if got := admin.get(at); !strings.Contains(got.body, "deactivated") {
		t.Error("the account is not shown as deactivated")
	}
}
