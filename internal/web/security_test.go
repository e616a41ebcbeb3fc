package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"limitans/internal/account"
)

// TestSafeHeadersOnEveryAnswer looks at pages, assets, faults and redirects.
func TestSafeHeadersOnEveryAnswer(t *testing.T) {
	b := newBench(t, 0)
	surgeon := b.as(account.Surgeon)
	for _, path := range []string{"/", "/eyes", "/about", "/nowhere", "/eyes/nobody", b.asset("style.css")} {
		got := surgeon.get(path)
		for _, h := range safeHeaders {
			want := h[1]
			if h[0] == "Cache-Control" && strings.HasPrefix(path, "/assets/") {
				want = "public, max-age=31536000, immutable"
			}
			if v := got.header.Get(h[0]); v != want {
				t.Errorf("%s: %s is %q, wanted %q", path, h[0], v, want)
			}
		}
		for _, bad := range []string{"<script>", "<style", " style=", "onclick=", "javascript:"} {
			if strings.Contains(got.body, bad) {
				t.Errorf("%s holds %s, which the content policy forbids", path, bad)
			}
		}
	}
}

func (b *workbench) asset(name string) string {
	b.t.Helper()
	path, err := b.server.assets.address(name)
	must(b.t, err)
	return path
}

// TestAnotherSiteCannotPost sends what a browser sends for a form on another site.
func TestAnotherSiteCannotPost(t *testing.T) {
	b := newBench(t, 0)
	surgeon := b.as(account.Surgeon)
	for _, headers := range []map[string]string{
		{"Sec-Fetch-Site": "cross-site"},
		{"Sec-Fetch-Site": "same-site"},
		{"Origin": "https://elsewhere.example"},
	} {
		for _, one := range b.server.routes {
			if one.method == http.MethodGet {
				continue
			}
			r, err := http.NewRequest(one.method, b.http.URL+strings.ReplaceAll(strings.ReplaceAll(one.path, "{", ""), "}", ""), strings.NewReader(url.Values{"then": {"/"}}.Encode()))
			must(t, err)
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			for k, v := range headers {
				r.Header.Set(k, v)
			}
			if got := surgeon.do(r); got.status != http.StatusForbidden {
				t.Errorf("%s with %v is answered with %d", one.pattern(), headers, got.status)
			}
		}
	}
	if got := surgeon.get("/eyes"); got.status != http.StatusOK {
		t.Errorf("afterwards the surgeon is not signed in any more: %d", got.status)
	}
}

// TestReturnAddressesStayHere tries the addresses that lead to other places.
func TestReturnAddressesStayHere(t *testing.T) {
	for _, to := range []string{"https://elsewhere.example/", "//elsewhere.example/", `/\elsewhere.example`, `\\elsewhere.example`, "javascript:alert(1)", "eyes", ""} {
		if got := localPath(to); got != "/" {
			t.Errorf("%q leads to %q", to, got)
		}
	}
	for _, to := range []string{"/eyes?q=a", "/eyes/1/bubble"} {
		if got := localPath(to); got != to {
			t.Errorf("%q leads to %q", to, got)
		}
	}
}

// TestTooMuchIsRefused sends a form above the limit.
func TestTooMuchIsRefused(t *testing.T) {
	b := newBench(t, 0)
	got := b.as(account.Surgeon).post("/sign-in", url.Values{"role": {strings.Repeat("x", maxFormBytes+1)}})
	if got.status == http.StatusOK || got.status == http.StatusSeeOther {
		t.Errorf("answered with %d", got.status)
	}
}
