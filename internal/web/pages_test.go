package web

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"limitans/internal/account"
)

// mostPages bounds how many pages of one person are looked at.
const mostPages = 80

// TestEveryPageIsAccessible opens one page of every route that links lead to, as
// the first role that gets there, wide and narrow, day and dim: axe-core finds
// nothing, the console is silent, nothing sticks out at 390 px.
func TestEveryPageIsAccessible(t *testing.T) {
	chrome := newBrowser(t)
	b := newBench(t, 2)
	patternOf := b.patterns()
	// A page that an earlier role saw is looked at once more only where it begins.
	looked := map[string]bool{}
	for _, role := range account.EveryRole() {
		t.Run(string(role), func(t *testing.T) {
			one := chrome.tab(t, b.http.URL)
			one.signIn(role)
			start := ask[string](one, `location.pathname`)
			pages := one.onePageOfEach(patternOf, start, mostPages)
			if len(pages) < 4 {
				t.Fatalf("links lead to %d pages only: %v", len(pages), pages)
			}
			pages = slices.DeleteFunc(pages, func(path string) bool {
				at, _, _ := strings.Cut(path, "?")
				pattern := patternOf(at)
				again := looked[pattern] && at != start
				looked[pattern] = true
				return again
			})
			t.Logf("%d pages", len(pages))
			for _, look := range []theme{themeDay, themeDim} {
				one.look(look)
				for _, width := range []int64{1440, 390} {
					one.size(width, 900)
					for _, path := range pages {
						one.inspect(path, fmt.Sprintf("%s-%s-%d-%s", role, look, width, strings.NewReplacer("/", "_", "?", "-", "&", "-", "=", "-").Replace(strings.Trim(path, "/"))))
					}
				}
			}
		})
	}
	stranger := chrome.tab(t, b.http.URL)
	for _, path := range []string{"/sign-in", "/passphrase", "/about", "/about/notices", "/keys", "/nowhere"} {
		stranger.inspect(path, "stranger-"+strings.ReplaceAll(strings.Trim(path, "/"), "/", "_"))
	}
}

// inspect opens one page and reports what is wrong with it.
func (b *tab) inspect(path, name string) {
	b.t.Helper()
	b.complaints()
	b.open(path)
	for _, v := range b.axe() {
		for _, n := range v.Nodes {
			b.t.Errorf("%s (%s): %s: %v %.160s", path, name, v.Help, n.At, n.HTML)
		}
	}
	if wide := ask[int](b, `document.documentElement.scrollWidth - innerWidth`); wide > 0 {
		b.t.Errorf("%s (%s): sticks out by %d px", path, name, wide)
	}
	for _, said := range b.complaints() {
		// The page that is not there is meant to answer so.
		if path != "/nowhere" {
			b.t.Errorf("%s (%s): the console says %s", path, name, said)
		}
	}
	b.screenshot(name)
}

// TestTextAtTwiceTheSize wants every page to keep its content within the window
// with letters twice as large (WCAG 2.2, 1.4.4).
func TestTextAtTwiceTheSize(t *testing.T) {
	chrome := newBrowser(t)
	b := newBench(t, 0)
	one := chrome.tab(t, b.http.URL)
	one.signIn(account.Surgeon)
	for _, path := range one.onePageOfEach(b.patterns(), "/", mostPages) {
		one.open(path)
		one.size(1024, 768)
		// The page's own policy forbids inline styles, so the size is set by the object model.
		// The rounding of half a pixel is no overflow.
		wide := ask[int](one, `(() => { document.documentElement.style.setProperty("font-size", "200%"); return document.documentElement.scrollWidth - innerWidth })()`)
		if wide > 1 {
			t.Errorf("%s: sticks out by %d px at twice the size", path, wide)
		}
	}
}
