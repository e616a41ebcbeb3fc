package web

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"log/slog"
	"net/http"
	"time"

	"limitans/decide"
	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/internal/vault"
	"limitans/internal/work"
)

// Config is what a server is made with. Store and Gate are needed, the fields
// below them have the default that stands beside each.
type Config struct {
	Store *store.Store
	Gate  *account.Gate
	Vault *vault.Vault // nil: scans cannot be shown or brought in
	Queue *work.Queue  // nil: scans that are brought in are measured by nobody

	Program string           // version, shown and stored: "unknown"
	Now     func() time.Time // time.Now
	Log     *slog.Logger     // slog.Default

	Limits account.SessionLimits // 30 minutes idle, 12 hours at most
	SignOn *account.SignOn       // nil: passphrases only

	// Secure says that people come over encrypted connections.
	Secure bool
	// RemoteHeader names the header in which a proxy tells the address of the
	// browser; empty: the address of the connection.
	RemoteHeader string
	// MaxUploadBytes of one scan, film or document: 4 GiB.
	MaxUploadBytes int64
	// ShelfBytes bounds the memory of scans that are kept read for the next look:
	// 512 MiB.
	ShelfBytes int64
	// ViewKey makes the pseudonyms of the de-identified view; 16 bytes or more.
	// Without one a key is drawn at every start, so that pseudonyms change with it.
	ViewKey []byte
}

// Server answers requests. It is safe for concurrent use.
type Server struct {
	Config
	sessions *account.Sessions
	pages    *pages
	assets   *assets
	shelf    *scanShelf
	routes   []route
	// described is the description of the API.
	described json.RawMessage
	cases     *caseIndex
	review    review
	handler   http.Handler
	own       ownCache
	due       dueShelf
}

// New makes a server. It fails with fault.Internal on a route without a rule or
// a page that cannot be read, which are defects of the program.
func New(c Config) (*Server, error) {
	if c.Store == nil || c.Gate == nil {
		return nil, &fault.Error{Code: fault.Internal, Where: "pages", What: "made without a record or a gate"}
	}
	c.Limits.Secure = c.Secure
	if c.Now == nil {
		c.Now = time.Now
	}
	if c.Log == nil {
		c.Log = slog.Default()
	}
	if c.Program == "" {
		c.Program = "unknown"
	}
	if c.MaxUploadBytes == 0 {
		c.MaxUploadBytes = 4 << 30
	}
	if c.ShelfBytes == 0 {
		c.ShelfBytes = 512 << 20
	}
	if len(c.ViewKey) == 0 {
		c.ViewKey = make([]byte, 32)
		if _, err := rand.Read(c.ViewKey); err != nil {
			return nil, err
		}
	}
	s := &Server{Config: c, sessions: account.NewSessions(c.Gate, c.Limits), shelf: newScanShelf(c.ShelfBytes)}
	s.cases = &caseIndex{store: c.Store, key: c.ViewKey}
	var err error
	if s.assets, err = loadAssets(); err != nil {
		return nil, err
	}
	if s.pages, err = loadPages(s.assets); err != nil {
		return nil, err
	}
	if s.described, err = s.describe(); err != nil {
		return nil, err
	}
	s.routes = s.allRoutes()
	mux := http.NewServeMux()
	for _, one := range s.routes {
		if err := one.check(); err != nil {
			return nil, err
		}
		mux.Handle(one.pattern(), s.serve(one))
	}
	s.handler = s.guard(s.sessions.Keep(s.routed(mux), s.sessionFailed))
	return s, nil
}

// ServeHTTP answers one request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.handler.ServeHTTP(w, r) }

// Sessions are those of this server, for sign-on through a provider.
func (s *Server) Sessions() *account.Sessions { return s.sessions }

// Sweep forgets sessions that are over, every quarter of an hour, until ctx ends.
func (s *Server) Sweep(ctx context.Context) {
	s.prime(ctx)
	tick := time.NewTicker(15 * time.Minute)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			if err := s.sessions.Sweep(ctx); err != nil && ctx.Err() == nil {
				s.Log.Error("sessions not swept", "error", err)
			}
		}
	}
}

// prime works out ahead of the first question what takes a moment and stays: the
// pseudonyms of a large record, the lists of today, the published and the own results.
func (s *Server) prime(ctx context.Context) {
	for what, work := range map[string]func() error{
		"pseudonyms": func() error { return s.cases.prime(ctx, s.Now()) },
		"lists of today": func() error {
			_, err := s.due.read(ctx, s.Store, record.DayOf(s.Now()))
			return err
		},
		"published results": decide.Ready,
		"own results":       func() error { return s.own.count(ctx, s.Store, s.Now()) },
	} {
		if err := work(); err != nil && ctx.Err() == nil {
			s.Log.Error("not made ready", "what", what, "error", err)
		}
	}
}
