package web

import (
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"limitans/internal/account"
)

// pageLink finds what a page leads to or loads.
var pageLink = regexp.MustCompile(`(?:href|src|action|data-src|data-href)="([^"]*)"`)

// crawl walks all links of all pages as a role, at most most of them, and shows each
// answer. Forms are only sent where they ask (GET). It returns how many pages it saw.
func (b *workbench) crawl(role account.Role, most int, look func(path string, got answer)) int {
	b.t.Helper()
	p := b.as(role)
	from := map[string]string{"/": "the beginning", "/about": "the beginning", "/settings": "the beginning", "/cases": "the beginning", "/api": "the beginning"}
	waiting := []string{"/", "/about", "/settings", "/api"}
	if role == account.Auditor || role == account.Surgeon {
		waiting = append(waiting, "/cases")
	}
	shapes := map[string]int{} // pages that differ by identifiers alone
	pages := 0
	for len(waiting) > 0 && pages < most {
		path := waiting[0]
		waiting = waiting[1:]
		got := p.get(path)
		pages++
		if to := got.header.Get("Location"); got.status == http.StatusSeeOther && to != "" {
			waiting = b.follow(to, path, from, shapes, waiting)
			look(path, got)
			continue
		}
		if got.status == http.StatusNotFound && b.notYet(path) {
			continue
		}
		if got.status != http.StatusOK {
			b.t.Errorf("%s, to which %s leads, answers a %s with %d", path, from[path], role, got.status)
		}
		look(path, got)
		if strings.HasPrefix(got.header.Get("Content-Type"), "text/html") {
			for _, found := range pageLink.FindAllStringSubmatch(withoutPosts(got.body), -1) {
				waiting = b.follow(html.UnescapeString(found[1]), path, from, shapes, waiting)
			}
		}
	}
	return pages
}

// comingPages are stations that pages lead to already and that nobody serves yet. An
// entry whose page is served fails the test and goes.
var comingPages = []string{}

// notYet reports an address of a station that is still to come.
func (b *workbench) notYet(path string) bool {
	for _, shape := range comingPages {
		if shape == alike.ReplaceAllString(path, "*") {
			for _, one := range b.server.routes {
				if alike.ReplaceAllString(strings.NewReplacer("{eye}", "*", "{scan}", "*", "{operation}", "*", "{film}", "*").Replace(one.path), "*") == shape {
					b.t.Errorf("%s is served now: take it out of comingPages", shape)
				}
			}
			return true
		}
	}
	return false
}

// posting is a form that changes something.
var posting = regexp.MustCompile(`(?is)<form[^>]*method="post"[^>]*>`)

// withoutPosts takes out the addresses that forms change something at.
func withoutPosts(body string) string { return posting.ReplaceAllString(body, "<form>") }

// alike are identifiers and pseudonyms in an address.
var alike = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f-]{27}|v[0-9a-f]{24}|[0-9a-f]{64}|after=[^&]*|\d+`)

// mostAlike is how many addresses of one shape are looked at.
const mostAlike = 40

func (b *workbench) follow(to, at string, from map[string]string, shapes map[string]int, waiting []string) []string {
	b.t.Helper()
	here, err := url.Parse(at)
	must(b.t, err)
	there, err := here.Parse(to)
	if err != nil {
		b.t.Errorf("%s leads to %q, which is no address", at, to)
		return waiting
	}
	if there.Host != "" || there.Scheme != "" {
		if there.Scheme != "data" && there.Scheme != "blob" && there.Scheme != "mailto" && there.Scheme != "https" {
			b.t.Errorf("%s leads to %q", at, to)
		}
		return waiting
	}
	there.Fragment = ""
	path := there.RequestURI()
	if _, known := from[path]; known {
		return waiting
	}
	shape := alike.ReplaceAllString(path, "*")
	if shapes[shape]++; shapes[shape] > mostAlike {
		return waiting
	}
	from[path] = at
	return append(waiting, path)
}

// TestEveryLinkLeadsSomewhere walks all pages as each role: no link is broken, and
// none leads where the role may not go.
func TestEveryLinkLeadsSomewhere(t *testing.T) {
	b := newBench(t, 0)
	most := 250
	if testing.Short() {
		most = 60
	}
	for _, role := range account.EveryRole() {
		if pages := b.crawl(role, most, func(string, answer) {}); pages < 4 {
			t.Errorf("%s saw only %d pages", role, pages)
		}
	}
}

// TestCrawlFindsABrokenLink shows that the rule can fail.
func TestCrawlFindsABrokenLink(t *testing.T) {
	found := pageLink.FindAllStringSubmatch(withoutPosts(`<a href="/one?a=1&amp;b=2">x</a><form method="post" action="/two"></form><form action="/three" method="get"></form><img src="/four">`), -1)
	var all []string
	for _, f := range found {
		all = append(all, html.UnescapeString(f[1]))
	}
	if got := strings.Join(all, " "); got != "/one?a=1&b=2 /three /four" {
		t.Errorf("%q", got)
	}
}
