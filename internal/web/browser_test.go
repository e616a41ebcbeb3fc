package web

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"github.com/chromedp/cdproto/cdp"

	"limitans/internal/account"
)

//go:embed testdata/axe/axe.min.js
var axeScript string

// browserSteps is how long one step in a browser may take on a busy machine.
const browserSteps = time.Minute

// browser is Debian's Chromium without a window.
type browser struct {
	ctx context.Context
}

// newBrowser starts Chromium. Where it is not installed the test is skipped, or
// fails when the oracles are required.
func newBrowser(t *testing.T) *browser {
	t.Helper()
	if testing.Short() {
		t.Skip("browser tests run in the full run of scripts/test, not under the race detector")
	}
	path, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("LIMITANS_ORACLES") == "required" {
			t.Fatal("chromium is not installed and LIMITANS_ORACLES requires it")
		}
		t.Skip("chromium is not installed")
	}
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]),
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("hide-scrollbars", false))
	allocated, cancel := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(cancel)
	ctx, stop := chromedp.NewContext(allocated)
	t.Cleanup(stop)
	must(t, chromedp.Do(ctx))
	return &browser{ctx}
}

// tab is one page of one person with what it complained about.
type tab struct {
	t    *testing.T
	ctx  context.Context
	base string
	mu   sync.Mutex
	said []string // errors of the console
}

// tab opens a page with cookies of its own.
func (b *browser) tab(t *testing.T, base string) *tab {
	t.Helper()
	one := &tab{t: t, base: base}
	ctx, cancel := chromedp.NewContext(b.ctx, chromedp.WithNewBrowserContext(), chromedp.WithListener(one.listen))
	t.Cleanup(cancel)
	one.ctx = ctx
	must(t, chromedp.Do(ctx)) // the page lives as long as the context of its first step
	one.size(1440, 900)
	return one
}

func (b *tab) listen(event any) {
	var said string
	switch e := event.(type) {
	case *log.EventEntryAdded:
		if e.Entry.Level == "error" {
			said = e.Entry.Text
		}
	case *runtime.EventExceptionThrown:
		said = e.ExceptionDetails.Text
	}
	if said != "" {
		b.mu.Lock()
		b.said = append(b.said, said)
		b.mu.Unlock()
	}
}

// complaints are the errors of the console since the last call.
func (b *tab) complaints() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	said := b.said
	b.said = nil
	return said
}

// do carries out steps in the page.
func (b *tab) do(what string, steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, browserSteps)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		b.t.Fatalf("%s: %v\n%s", what, err, b.where())
	}
}

// where tells the address and the text of the page, for a test that fails.
func (b *tab) where() string {
	ctx, cancel := context.WithTimeout(b.ctx, 5*time.Second)
	defer cancel()
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](`location.href + "\n" + (document.querySelector("main")?.innerText ?? "").slice(0, 1500)`))
	if err != nil {
		return err.Error()
	}
	return text
}

// click presses the button or link whose text holds the words, and waits until
// the page that it leads to is there.
func (b *tab) click(words string) {
	b.t.Helper()
	found := ask[bool](b, fmt.Sprintf(`(() => {
		const all = Array.from(document.querySelectorAll("main button, main a, main summary, main label, .who button, .rail a"));
		const one = all.find(e => e.textContent.includes(%q) && e.offsetParent !== null);
		if (!one) return false;
		window.leaving = true; // gone on the next page
		one.click();
		return true;
	})()`, words))
	if !found {
		b.t.Fatalf("nothing to press says %q\n%s", words, b.where())
	}
}

// follow presses what leads to another page, and waits for that page.
func (b *tab) follow(words string) {
	b.t.Helper()
	b.click(words)
	b.until(`document.readyState === "complete" && window.leaving !== true`)
}

// until waits for a condition of the page. Between pages nothing can be asked.
func (b *tab) until(condition string) {
	b.t.Helper()
	for end := time.Now().Add(browserSteps); ; {
		ctx, cancel := context.WithTimeout(b.ctx, browserSteps)
		is, err := chromedp.Run(ctx, chromedp.Evaluate[bool](condition))
		cancel()
		if err == nil && is {
			return
		}
		if time.Now().After(end) {
			b.t.Fatalf("not so after %v: %s (%v)\n%s", browserSteps, condition, err, b.where())
		}
		time.Sleep(50 * time.Millisecond)
	}
}

// press sends keys to whatever has the focus.
func (b *tab) press(keys string) {
	b.t.Helper()
	b.do("press "+keys, chromedp.KeyEvent(keys))
}

// fill types into the field of a name.
func (b *tab) fill(name, value string) {
	b.t.Helper()
	found := ask[bool](b, fmt.Sprintf(`(() => {
		const field = document.querySelector(`+"`[name=\"%s\"]:not([type=hidden])`"+`);
		if (!field) return false;
		field.value = %q;
		for (const kind of ["input", "change"]) field.dispatchEvent(new Event(kind, {bubbles: true}));
		return true;
	})()`, name, value))
	if !found {
		b.t.Fatalf("no field %s\n%s", name, b.where())
	}
}

// ask evaluates an expression in the page.
func ask[T any](b *tab, expression string) T {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, browserSteps)
	defer cancel()
	value, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%.80s: %v", expression, err)
	}
	return value
}

func (b *tab) size(width, height int64) {
	b.t.Helper()
	b.do("window", chromedp.EmulateViewport(width, height))
}

func (b *tab) open(path string) {
	b.t.Helper()
	b.do("open "+path, chromedp.Navigate(b.base+path))
}

// signIn comes in with a role of the demonstration.
func (b *tab) signIn(role account.Role) {
	b.t.Helper()
	b.open("/sign-in")
	b.follow(fmt.Sprintf("Enter as %s", role))
}

// look pins a theme.
func (b *tab) look(t theme) {
	b.t.Helper()
	b.open("/settings")
	ask[bool](b, fmt.Sprintf(`(document.querySelector("input[name=theme][value=%s]").checked = true)`, t))
	b.follow("Keep")
}

// withoutScript turns scripts off from the next page on.
func (b *tab) withoutScript() {
	b.t.Helper()
	off := func(ctx context.Context, target *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, target, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		return chromedp.Void{}, err
	}
	b.do("scripts off", off)
}

// violation is what axe-core found.
type violation struct {
	ID    string `json:"id"`
	Help  string `json:"help"`
	Nodes []struct {
		HTML string   `json:"html"`
		Why  string   `json:"failureSummary"`
		At   []string `json:"target"`
	} `json:"nodes"`
}

// axe asks axe-core about the page as it stands.
func (b *tab) axe() []violation {
	b.t.Helper()
	found := ask[string](b, axeScript+`; axe.run(document, {resultTypes: ["violations"]}).then(r => JSON.stringify(r.violations))`)
	var all []violation
	must(b.t, json.Unmarshal([]byte(found), &all))
	return all
}

// screenshot writes the page into the folder that LIMITANS_SCREENSHOTS names, for
// people to look at; without it nothing is written.
func (b *tab) screenshot(name string) {
	b.t.Helper()
	folder := os.Getenv("LIMITANS_SCREENSHOTS")
	if folder == "" {
		return
	}
	picture, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	if err != nil { // a page may be longer than a picture can be
		b.t.Logf("%s: no picture: %v", name, err)
		return
	}
	must(b.t, os.MkdirAll(folder, 0o755))
	must(b.t, os.WriteFile(filepath.Join(folder, name+".png"), picture, 0o644))
}

// patterns finds the route of an address.
func (b *workbench) patterns() func(path string) string {
	mux := http.NewServeMux()
	for _, one := range b.server.routes {
		mux.Handle(one.pattern(), http.NotFoundHandler())
	}
	return func(path string) string {
		r, err := http.NewRequest(http.MethodGet, path, nil)
		must(b.t, err)
		_, pattern := mux.Handler(r)
		return pattern
	}
}

// onePageOfEach follows links from the start until nothing new comes, one address
// for each route; a page is also new with another query.
func (b *tab) onePageOfEach(patternOf func(string) string, start string, most int) []string {
	b.t.Helper()
	seen := map[string]bool{}
	var pages []string
	for queue := []string{start}; len(queue) > 0 && len(pages) < most; queue = queue[1:] {
		path := queue[0]
		u, err := url.Parse(path)
		must(b.t, err)
		key := patternOf(u.Path)
		if key == "" || seen[key] {
			continue
		}
		seen[key] = true
		if !b.isPage(path) {
			continue
		}
		pages = append(pages, path)
		b.open(path)
		links := ask[[]string](b, `Array.from(document.querySelectorAll("a[href]"), a => a.href?.baseVal ?? a.getAttribute("href")).map(h => new URL(h, location)).filter(u => u.origin === location.origin).map(u => u.pathname + u.search)`)
		queue = append(queue, links...)
	}
	return pages
}

// isPage asks whether an address answers with a page, and not with a file.
func (b *tab) isPage(path string) bool {
	b.t.Helper()
	kind := ask[string](b, fmt.Sprintf(`location.protocol === "about:" ? "text/html" : fetch(%q).then(r => r.headers.get("content-type") ?? "")`, path))
	return strings.HasPrefix(kind, "text/html")
}
