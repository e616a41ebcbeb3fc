package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os/signal"
	"path/filepath"
	"sync"
	"syscall"
	"time"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/intake"
	"limitans/internal/web"
	"limitans/internal/work"
)

type serveCommand struct {
	placeFlags
	Address      string `default:"127.0.0.1:8470" placeholder:"HOST:PORT" help:"Where pages are served; port 0 takes a free one. Anything but a loopback address wants --secure, behind a proxy that encrypts. Default: 127.0.0.1:8470."`
	Secure       bool   `help:"People come over encrypted connections; cookies go over nothing else."`
	RemoteHeader string `placeholder:"NAME" help:"Header in which the proxy tells the browser's address."`
	ViewKey      string `name:"view-key" env:"LIMITANS_VIEW_KEY" placeholder:"FILE" help:"Secret that makes the pseudonyms of de-identified cases; it is made at the first start. Default: view.key in the data folder; with --database a new one at every start, and cases are then called anew."`
	SealingKey   string `name:"sealing-key" env:"LIMITANS_SEALING_KEY" placeholder:"FILE" help:"Secret that seals the second factors of people in the record, best on another disk; it is made at the first start. Without one they stand there as they are."`
	Workers      int    `default:"1" placeholder:"N" help:"Jobs at the same time in this process; 0 leaves them to limitans worker. Default: 1."`

	SignOn signOnFlags `embed:"" prefix:"sign-on-"`
}

// Help is printed below the flags.
func (serveCommand) Help() string {
	return "The record must be there (limitans setup, limitans clinic). An interrupt ends it when running requests are answered."
}

// Run serves the pages of a record until it is interrupted.
func (c serveCommand) Run(out *console) error {
	p, err := c.open(out)
	if err != nil {
		return err
	}
	defer p.close()
	mode, declared, err := account.Recorded(out.Context, p.store)
	if err != nil {
		return undone{err}
	}
	if !declared {
		return undone{&fault.Error{Code: fault.Invalid, Where: p.store.Where(), What: "has no administrator yet", Mend: "run limitans setup first"}}
	}
	how := serving{address: c.Address, secure: c.Secure, remoteHeader: c.RemoteHeader, workers: c.Workers, signOn: c.SignOn}
	if c.ViewKey == "" && c.Database == "" {
		c.ViewKey = filepath.Join(c.Data, viewKeyName)
	}
	if c.ViewKey != "" {
		if how.viewKey, err = viewKeySort.read(c.ViewKey); err != nil {
			return undone{err}
		}
	}
	if c.SealingKey != "" {
		if how.sealingKey, err = sealingKeySort.read(c.SealingKey); err != nil {
			return undone{err}
		}
	}
	return serve(out, p, mode, how)
}

// serving is how pages are served.
type serving struct {
	address      string
	secure       bool
	remoteHeader string
	workers      int
	viewKey      []byte // nil: drawn anew
	sealingKey   []byte // nil: second factors are not sealed
	signOn       signOnFlags
}

// serve answers requests until the context ends.
func serve(out *console, p *place, mode account.Mode, how serving) error {
	listener, err := listen(how)
	if err != nil {
		return err
	}
	defer listener.Close()
	gate, err := account.Open(out.Context, p.store, account.Config{Mode: mode, Now: out.Now, SealingKey: how.sealingKey})
	if err != nil {
		return undone{err}
	}
	ctx, stop := signal.NotifyContext(out.Context, syscall.SIGTERM)
	defer stop()
	log := slog.New(slog.NewTextHandler(out.Stderr, nil))
	queue, err := startWork(ctx, out, p, how.workers, log)
	if err != nil {
		return err
	}
	// Jobs that run put themselves back when ctx ends.
	defer queue.Wait()
	defer stop()
	pages, err := web.New(web.Config{
		Store: p.store, Gate: gate, Vault: p.vault, Queue: queue, Program: version(), Now: out.Now, Log: log,
		Secure: how.secure, RemoteHeader: how.remoteHeader, ViewKey: how.viewKey,
	})
	if err != nil {
		return undone{err}
	}
	if pages.SignOn, err = how.signOn.open(pages.Sessions()); err != nil {
		return err
	}
	var background sync.WaitGroup
	background.Go(func() { pages.Sweep(ctx) })
	background.Go(func() { pages.Review(ctx) })
	defer background.Wait()
	defer stop()
	server := &http.Server{
		Handler: pages, ReadHeaderTimeout: 10 * time.Second, IdleTimeout: 2 * time.Minute,
		ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn),
	}
	fmt.Fprintf(out.Stdout, "http://%s/\n", listener.Addr())
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	select {
	case err := <-ended:
		return undone{err}
	case <-ctx.Done():
	}
	closing, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	if err := server.Shutdown(closing); err != nil {
		return undone{errors.Join(err, server.Close())}
	}
	pages.Sessions().Settle()
	fmt.Fprintln(out.Stdout, "Stopped.")
	return nil
}

// listen opens the address. Only a loopback address may be open to unencrypted
// connections.
func listen(how serving) (net.Listener, error) {
	refused := func(what, mend string) error {
		return &fault.Error{Code: fault.Invalid, Where: "--address " + how.address, What: what, Expected: "HOST:PORT", Mend: mend}
	}
	host, _, err := net.SplitHostPort(how.address)
	if err != nil {
		return nil, refused("is no address", "")
	}
	ip := net.ParseIP(host)
	if local := host == "localhost" || ip != nil && ip.IsLoopback(); !local && !how.secure {
		return nil, refused("can be reached from other machines, and passphrases would go over the line as they are", "use a loopback address, or a proxy that encrypts and --secure")
	}
	listener, err := net.Listen("tcp", how.address)
	if err != nil {
		return nil, undone{&fault.Error{Code: fault.Conflict, Where: "--address " + how.address, What: "cannot be opened", Mend: "another program may use it; take another port, or 0 for a free one", Cause: err}}
	}
	return listener, nil
}

// startWork opens the queue and begins to work on it, unless nobody is to.
func startWork(ctx context.Context, out *console, p *place, workers int, log *slog.Logger) (*work.Queue, error) {
	bench := intake.Bench{
		Store: p.store, Vault: p.vault, Program: version(), Now: out.Now,
		Told: func(job int64, what string) { log.Info("job", "number", job, "what", what) },
	}
	var kinds work.Kinds
	if err := bench.Register(&kinds); err != nil {
		return nil, undone{err}
	}
	queue, err := intake.Queue(ctx, p.store, &kinds, work.Options{Workers: max(workers, 1)})
	if err != nil {
		return nil, undone{err}
	}
	if workers > 0 {
		if err := queue.Start(ctx); err != nil {
			return nil, undone{err}
		}
	}
	return queue, nil
}
