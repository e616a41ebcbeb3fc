package web

import (
	"context"
	"net/http"
	"strings"
	"testing"

	"go.uber.org/goleak"

	"limitans/internal/account"
)

// TestNoPageIsAnsweredAsAFault: an address that nobody serves, and a method that an
// address does not take, get the page of faults with the head of whoever asks.
func TestNoPageIsAnsweredAsAFault(t *testing.T) {
	b := newBench(t, 0)
	surgeon := b.as(account.Surgeon)
	got := surgeon.get("/nowhere")
	if got.status != http.StatusNotFound || !strings.Contains(got.body, "There is no such page") && !strings.Contains(got.body, "there is no such page") || !strings.Contains(got.body, "Sign out") {
		t.Errorf("%d %s", got.status, got.body)
	}
	if got := b.stranger().get("/nowhere"); got.status != http.StatusNotFound || strings.Contains(got.body, "Sign out") {
		t.Errorf("a stranger: %d", got.status)
	}
	r, err := http.NewRequest(http.MethodDelete, b.http.URL+"/about", http.NoBody)
	must(t, err)
	if got := surgeon.do(r); got.status != http.StatusMethodNotAllowed || !strings.Contains(got.header.Get("Allow"), http.MethodGet) {
		t.Errorf("another method: %d, allowed %q", got.status, got.header.Get("Allow"))
	}
}

// TestServerLeavesNothingRunning: when a server is closed, none of its goroutines is
// left, the sweeper of sessions among them.
func TestServerLeavesNothingRunning(t *testing.T) {
	before := goleak.IgnoreCurrent()
	t.Run("serving", func(t *testing.T) {
		b := newBench(t, 0)
		ctx, cancel := context.WithCancel(context.Background())
		swept := make(chan struct{})
		go func() {
			b.server.Sweep(ctx)
			close(swept)
		}()
		surgeon := b.as(account.Surgeon)
		for _, path := range []string{"/", "/eyes", "/cases", "/api/1/due"} {
			if got := surgeon.get(path); got.status != http.StatusOK {
				t.Errorf("%s: %d", path, got.status)
			}
		}
		surgeon.client.CloseIdleConnections()
		cancel()
		<-swept
	})
	http.DefaultClient.CloseIdleConnections()
	if err := goleak.Find(before); err != nil {
		t.Error(err)
	}
}
