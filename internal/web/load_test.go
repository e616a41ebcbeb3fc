package web

import (
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"limitans/internal/account"
)

// The load on pages, measured from a process of its own:
//
//	limitans clinic --data big --patients 100000 --drawn 0
//	limitans serve --data big --address 127.0.0.1:8470 &
//	go test ./internal/web -run NONE -bench Load -benchtime 1x -load http://127.0.0.1:8470 -users 50 -think 5s -for 60s
//
// Without -load it serves a small clinic itself, which shows that the program works
// and measures nothing that counts.
var (
	loadAddress = flag.String("load", "", "address of a server with a demonstration; empty: a small one of this process")
	loadUsers   = flag.Int("users", 5, "people at the same time")
	loadThink   = flag.Duration("think", 0, "mean time a person looks at a page, exponential; 0: none at all")
	loadFor     = flag.Duration("for", time.Second, "how long")
)

// visited is one sort of page with how long its answers took and how large they were.
type visited struct {
	took   []time.Duration
	bytes  int
	failed int
}

// BenchmarkLoad lets people walk the pages and reports the times of each sort.
func BenchmarkLoad(b *testing.B) {
	at := *loadAddress
	if at == "" {
		at = newBench(b, 0).http.URL
	}
	for range b.N {
		l := &load{at: at, found: map[string]*visited{}}
		l.sample(b)
		// People have signed in before the clock runs: a password is made slow on
		// purpose, and fifty at once would be all that is measured.
		clients := make([]*http.Client, *loadUsers)
		for i := range clients {
			clients[i] = l.signIn(b)
		}
		var wait sync.WaitGroup
		end := time.Now().Add(*loadFor)
		for i, c := range clients {
			wait.Go(func() { l.user(b, c, uint64(i), end) })
		}
		wait.Wait()
		l.report(b)
	}
}

// load is what all people together have seen.
type load struct {
	at    string
	eyes  []apiEyeRow
	cases []apiCaseRow

	mu    sync.Mutex
	found map[string]*visited
}

// sample reads eyes and cases to walk among.
func (l *load) sample(t testing.TB) {
	t.Helper()
	c := l.signIn(t)
	next := ""
	for range 5 {
		var page apiEyes
		must(t, json.Unmarshal(l.read(t, c, apiPrefix+"eyes?limit=1000&after="+url.QueryEscape(next)), &page))
		l.eyes = append(l.eyes, page.Eyes...)
		if next = page.Next; next == "" {
			break
		}
	}
	var page apiCases
	must(t, json.Unmarshal(l.read(t, c, apiPrefix+"cases?limit=1000"), &page))
	if l.cases = page.Cases; len(l.eyes) == 0 || len(l.cases) == 0 {
		t.Fatal("nothing to walk among")
	}
}

func (l *load) signIn(t testing.TB) *http.Client {
	t.Helper()
	jar, err := cookiejar.New(nil)
	must(t, err)
	// Bytes are counted as they come over the line.
	c := &http.Client{Jar: jar, Transport: &http.Transport{DisableCompression: true}, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	got, err := c.PostForm(l.at+"/sign-in", url.Values{"role": {string(account.Surgeon)}})
	must(t, err)
	must(t, got.Body.Close())
	return c
}

func (l *load) read(t testing.TB, c *http.Client, path string) []byte {
	t.Helper()
	got, err := c.Get(l.at + path)
	must(t, err)
	defer got.Body.Close()
	body, err := io.ReadAll(got.Body)
	must(t, err)
	return body
}

// next chooses where a person goes.
func (l *load) next(r *rand.Rand) (sort, path string) {
	one := l.eyes[r.IntN(len(l.eyes))]
	eye := "/eyes/" + string(one.EyeID)
	name := []rune(strings.ToLower(one.Name))
	from := r.IntN(max(1, len(name)-3))
	fragment := string(name[from:min(len(name), from+2+r.IntN(3))])
	switch roll := r.IntN(100); {
	case roll < 10:
		return "today", "/"
	case roll < 15:
		return "eyes", "/eyes"
	case roll < 20:
		return "eyes with gas", "/eyes?show=gas"
	case roll < 40:
		return "search, while typing", "/eyes/found?q=" + url.QueryEscape(fragment)
	case roll < 60:
		return "course", eye
	case roll < 68:
		return "visits", eye + "/visits"
	case roll < 74:
		return "form of a visit", eye + "/visits/new"
	case roll < 80:
		return "plan", eye + "/plan"
	case roll < 84:
		return "API, course", apiPrefix + strings.TrimPrefix(eye, "/")
	case roll < 88:
		return "API, due", apiPrefix + "due?limit=50"
	case roll < 92:
		return "cases", "/cases?after=" + string(l.cases[r.IntN(len(l.cases))].Case)
	case roll < 97:
		return "case", "/cases/" + string(l.cases[r.IntN(len(l.cases))].Case)
	}
	return "about", "/about"
}

// user is one person who goes from page to page.
func (l *load) user(t testing.TB, c *http.Client, seed uint64, end time.Time) {
	r := rand.New(rand.NewPCG(seed, 1))
	for time.Now().Before(end) {
		time.Sleep(time.Duration(r.ExpFloat64() * float64(*loadThink)))
		sort, path := l.next(r)
		request, err := http.NewRequest(http.MethodGet, l.at+path, nil)
		if err != nil {
			t.Error(err)
			return
		}
		request.Header.Set("Accept-Encoding", "gzip")
		begun := time.Now()
		got, err := c.Do(request)
		if err != nil {
			t.Error(err)
			return
		}
		body, err := io.ReadAll(got.Body)
		took := time.Since(begun)
		if err := got.Body.Close(); err != nil {
			t.Error(err)
		}
		l.note(sort, took, len(body), err == nil && got.StatusCode == http.StatusOK)
	}
}

func (l *load) note(sort string, took time.Duration, bytes int, fine bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	v := l.found[sort]
	if v == nil {
		v = &visited{}
		l.found[sort] = v
	}
	v.took = append(v.took, took)
	v.bytes = max(v.bytes, bytes)
	if !fine {
		v.failed++
	}
}

// report prints a line a sort of page.
func (l *load) report(b *testing.B) {
	b.Helper()
	var sorts []string
	total := 0
	for sort, v := range l.found {
		sorts = append(sorts, sort)
		slices.Sort(v.took)
		total += len(v.took)
		if v.failed > 0 {
			b.Errorf("%s: %d of %d failed", sort, v.failed, len(v.took))
		}
	}
	slices.Sort(sorts)
	out := fmt.Sprintf("%d people, %v mean think time, %v: %d answers, %.0f a second\n", *loadUsers, *loadThink, *loadFor, total, float64(total)/loadFor.Seconds())
	for _, sort := range sorts {
		v := l.found[sort]
		at := func(share float64) float64 {
			return float64(v.took[min(len(v.took)-1, int(share*float64(len(v.took))))].Microseconds()) / 1000
		}
		out += fmt.Sprintf("  %-22s %6d answers  p50 %7.1f ms  p99 %7.1f ms  most %7.1f ms  %6.1f kB at most\n", sort, len(v.took), at(0.5), at(0.99), at(1), float64(v.bytes)/1000)
	}
	fmt.Fprint(os.Stderr, out) // a log of the benchmark is cut after ten lines
}
