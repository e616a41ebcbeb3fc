package main

import (
	"fmt"
	"sync"
	"time"
)

// progress writes one line that says how far a long piece of work is. Nothing
// is written in the first second, so that short work stays silent.
type progress struct {
	out     *console
	what    string
	started time.Time
	mutex   sync.Mutex
	shown   int
	any     bool
}

func newProgress(out *console, what string) *progress {
	return &progress{out: out, what: what, started: out.Now(), shown: -1}
}

// update may be called from several goroutines.
func (p *progress) update(done, total int) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	if total <= 0 || p.out.Now().Sub(p.started) < time.Second {
		return
	}
	percent := 100 * done / total
	// On a terminal the line is written over; in a log a line every quarter.
	if percent <= p.shown || (!p.out.Interactive && percent/25 == p.shown/25 && p.any) {
		return
	}
	p.shown = percent
	p.any = true
	if p.out.Interactive {
		fmt.Fprintf(p.out.Stderr, "\r%s: %3d %%", p.what, percent)
	} else {
		fmt.Fprintf(p.out.Stderr, "%s: %d %%\n", p.what, percent)
	}
}

// finish ends the line.
func (p *progress) finish() {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	if p.any && p.out.Interactive {
		fmt.Fprintln(p.out.Stderr)
	}
}
