package account

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"sync"
	"time"

	"github.com/alexedwards/scs/v2"

	"limitans/fault"
	"limitans/internal/record"
	"limitans/internal/store"
)

// SessionLimits are how long a session lasts. NIST SP 800-63B (2017), section
// 4.2.3 (from memory) wants a new log-in after 12 hours, and after 30 minutes
// without a sign of life, where two factors are in use; the defaults are
// these.
type SessionLimits struct {
	Idle     time.Duration // 30 minutes
	Absolute time.Duration // 12 hours
	Secure   bool          // the cookie goes over encrypted connections only
}

// touchEvery is how often a sign of life is written. Writing it at every
// request would cost a transaction a page.
const touchEvery = time.Minute

// touchWithin bounds the writing of a sign of life (ours, no source).
const touchWithin = 10 * time.Second

// Sessions keeps who is logged in, in the database. Tokens are random and
// stored as hashes only. It is safe for concurrent use.
type Sessions struct {
	gate    *Gate
	limits  SessionLimits
	manager *scs.SessionManager
	signs   *signs
}

// signs are the signs of life that are being written. A page does not wait for
// them: on a disk that is slow to say that something is safe, one page in sixty
// would take the time of a transaction for nothing that its reader sees.
type signs struct {
	mu      sync.Mutex
	writing map[string]bool // by the hash of the token
	wait    sync.WaitGroup
}

// write notes a sign of life in the background, once at a time a session.
func (s *signs) write(hash string, note func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.writing[hash] {
		return
	}
	s.writing[hash] = true
	s.wait.Go(func() {
		note()
		s.mu.Lock()
		defer s.mu.Unlock()
		delete(s.writing, hash)
	})
}

// keyAccount is where a session keeps its account. Values are strings.
const (
	keyAccount = "account"
	keyEpoch   = "epoch"
	keyRemote  = "remote"
	keyAgent   = "agent"
)

// NewSessions makes the sessions of a gate.
func NewSessions(g *Gate, limits SessionLimits) *Sessions {
	if limits.Idle <= 0 {
		limits.Idle = 30 * time.Minute
	}
	if limits.Absolute <= 0 {
		limits.Absolute = 12 * time.Hour
	}
	// Not by the library's own constructor: that starts a sweeper of a store in
	// memory which nothing ends.
	living := &signs{writing: map[string]bool{}}
	m := &scs.SessionManager{
		Lifetime: limits.Absolute, Codec: textCodec{}, Store: sessionStore{g, limits, living},
		Cookie: scs.SessionCookie{
			Name: "limitans", Path: "/", HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: limits.Secure,
			Persist: false, // gone with the browser
		},
	}
	if limits.Secure {
		m.Cookie.Name = "__Host-limitans" // a browser takes it from this host over TLS only
	}
	return &Sessions{gate: g, limits: limits, manager: m, signs: living}
}

// Settle waits until every sign of life is written. Whoever closes the record
// calls it first.
func (s *Sessions) Settle() { s.signs.wait.Wait() }

// Keep is the middleware that loads and saves the session of a request; the
// other methods want a context that went through it. failed answers a request
// whose session cannot be read or written.
func (s *Sessions) Keep(next http.Handler, failed func(http.ResponseWriter, *http.Request, error)) http.Handler {
	m := *s.manager
	m.ErrorFunc = failed
	return m.LoadAndSave(next)
}

// Begin lets the account in: the session gets a new token, so that one known
// from before the log-in is worth nothing, and whatever it held is dropped.
func (s *Sessions) Begin(ctx context.Context, a Account, remote, agent string) error {
	if err := s.manager.Clear(ctx); err != nil {
		return fmt.Errorf("beginning a session: %w", err)
	}
	if err := s.manager.RenewToken(ctx); err != nil {
		return fmt.Errorf("beginning a session: %w", err)
	}
	if len(agent) > 200 {
		agent = agent[:200]
	}
	s.manager.Put(ctx, keyAccount, string(a.ID))
	s.manager.Put(ctx, keyEpoch, strconv.FormatInt(a.epoch, 10))
	s.manager.Put(ctx, keyRemote, remote)
	s.manager.Put(ctx, keyAgent, agent)
	return nil
}

// Current is the account that is logged in, as the database has it now, or
// false. A deactivated account is not logged in.
func (s *Sessions) Current(ctx context.Context) (Account, bool, error) {
	id := record.AccountID(s.manager.GetString(ctx, keyAccount))
	if id == "" {
		return Account{}, false, nil
	}
	a, err := s.gate.Account(ctx, id)
	if fault.CodeOf(err) == fault.NotFound {
		return Account{}, false, nil
	}
	if err != nil {
		return Account{}, false, err
	}
	return a, a.Active, nil
}

// ID identifies the present session in the list of sessions; it is the hash of
// its token.
func (s *Sessions) ID(ctx context.Context) string { return tokenHash(s.manager.Token(ctx)) }

// End logs out.
func (s *Sessions) End(ctx context.Context, remote string) error {
	a, in, err := s.Current(ctx)
	if err != nil {
		return err
	}
	if err := s.manager.Destroy(ctx); err != nil {
		return fmt.Errorf("ending a session: %w", err)
	}
	if !in {
		return nil
	}
	return s.gate.change(ctx, a.Actor(remote), func(tx *store.Tx) error {
		return s.gate.record(ctx, tx, entry{subject: a.ID, what: "logged out"})
	})
}

// Session is one open session of an account.
type Session struct {
	ID            string
	Account       record.AccountID
	BeganAt       time.Time
	SeenAt        time.Time // to within a minute
	Remote, Agent string
}

// List gives the open sessions of an account, for its holder or for someone
// who may manage accounts, the newest first.
func (s *Sessions) List(ctx context.Context, by Actor, account record.AccountID) ([]Session, error) {
	g := s.gate
	if by.Account != account {
		if err := g.authorise(ctx, g.store.Reader(), by, ManageAccounts); err != nil {
			return nil, err
		}
	}
	now := g.millis()
	rows, err := g.store.Reader().Query(ctx, `select token_hash, began_at, seen_at, remote, agent from account_session
		where account = ? and ended_at = 0 and idle_ends_at > ? and ends_at > ? order by began_at desc, token_hash`, account, now, now)
	if err != nil {
		return nil, fmt.Errorf("listing sessions: %w", err)
	}
	defer func() { _ = rows.Close() }()
	var all []Session
	for rows.Next() {
		one := Session{Account: account}
		var began, seen int64
		if err := rows.Scan(&one.ID, &began, &seen, &one.Remote, &one.Agent); err != nil {
			return nil, fmt.Errorf("listing sessions: %w", err)
		}
		one.BeganAt, one.SeenAt = time.UnixMilli(began).UTC(), time.UnixMilli(seen).UTC()
		all = append(all, one)
	}
	return all, rows.Err()
}

// EndOne ends one session of an account, for its holder or for someone who may
// manage accounts. It fails with fault.NotFound if it is over already.
func (s *Sessions) EndOne(ctx context.Context, by Actor, account record.AccountID, session string) error {
	g := s.gate
	return g.change(ctx, by, func(tx *store.Tx) error {
		if by.Account != account {
			if err := g.authorise(ctx, tx, by, ManageAccounts); err != nil {
				return err
			}
		}
		n, err := exec(ctx, tx, `update account_session set ended_at = ?, data = '' where account = ? and token_hash = ? and ended_at = 0`,
			g.millis(), account, session)
		if err != nil {
			return fmt.Errorf("ending a session: %w", err)
		}
		if n == 0 {
			return &fault.Error{Code: fault.NotFound, Where: "session", What: "it is over already"}
		}
		return g.record(ctx, tx, entry{subject: account, what: "session ended"})
	})
}

// Sweep forgets sessions that are over and failed attempts that are forgotten.
// It is called now and then.
func (s *Sessions) Sweep(ctx context.Context) error {
	now := s.gate.millis()
	// What was ended stays until its natural end: a request that was under way
	// must not bring it back.
	if _, err := exec(ctx, s.gate.store.Writer(), `delete from account_session where ends_at <= ? or (idle_ends_at <= ? and ended_at = 0)`, now, now); err != nil {
		return fmt.Errorf("forgetting old sessions: %w", err)
	}
	if _, err := exec(ctx, s.gate.store.Writer(), `delete from account_attempt where last_at <= ?`, now-forgetAfter.Milliseconds()); err != nil {
		return fmt.Errorf("forgetting old attempts: %w", err)
	}
	return nil
}

// endSessions ends all sessions of an account but the one to keep. The epoch
// ends those too that a log-in is about to begin, on the word of a passphrase
// that no longer holds.
func (g *Gate) endSessions(ctx context.Context, tx *store.Tx, account record.AccountID, keep string) error {
	for _, statement := range []struct {
		query string
		args  []any
	}{
		{`update account set epoch = epoch + 1 where id = ?`, []any{account}},
		{`update account_session set epoch = epoch + 1 where account = ? and token_hash = ?`, []any{account, keep}},
		{
			`update account_session set ended_at = ?, data = '' where account = ? and ended_at = 0 and token_hash <> ?`,
			[]any{g.millis(), account, keep},
		},
	} {
		if _, err := exec(ctx, tx, statement.query, statement.args...); err != nil {
			return fmt.Errorf("ending sessions: %w", err)
		}
	}
	return nil
}

// tokenHash is SHA-256: tokens have 256 random bits, a slow hash adds nothing.
func tokenHash(token string) string {
	sum := sha256.Sum256([]byte("session\x00" + token))
	return hex.EncodeToString(sum[:])
}

// sessionStore is the session manager's view of the table account_session.
type sessionStore struct {
	gate   *Gate
	limits SessionLimits
	signs  *signs
}

var _ scs.CtxStore = sessionStore{}

// FindCtx gives the data of a session that is neither over nor idle for too
// long, and notes the sign of life.
func (s sessionStore) FindCtx(ctx context.Context, token string) ([]byte, bool, error) {
	now := s.gate.now()
	var data string
	var seen int64
	hash := tokenHash(token)
	err := s.gate.store.Reader().QueryRow(ctx, `select data, seen_at from account_session
		where token_hash = ? and ended_at = 0 and idle_ends_at > ? and ends_at > ?
		and (account = '' or epoch = (select epoch from account where account.id = account_session.account))`,
		hash, now.UnixMilli(), now.UnixMilli()).Scan(&data, &seen)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, false, nil
	}
	if err != nil {
		return nil, false, fmt.Errorf("reading a session: %w", err)
	}
	if now.UnixMilli()-seen >= touchEvery.Milliseconds() {
		s.signs.write(hash, func() {
			within, cancel := context.WithTimeout(context.WithoutCancel(ctx), touchWithin)
			defer cancel()
			// A sign that is not written is written at the next page; at worst the
			// session is idle too early, and its holder logs in again.
			_, _ = exec(within, s.gate.store.Writer(), `update account_session set seen_at = ?, idle_ends_at = ? where token_hash = ? and ended_at = 0`,
				now.UnixMilli(), now.Add(s.limits.Idle).UnixMilli(), hash)
		})
	}
	return []byte(data), true, nil
}

// CommitCtx stores a session. One that has been ended meanwhile stays ended.
func (s sessionStore) CommitCtx(ctx context.Context, token string, data []byte, _ time.Time) error {
	_, values, err := textCodec{}.Decode(data)
	if err != nil {
		return err
	}
	text := func(key string) string { word, _ := values[key].(string); return word }
	epoch, err := strconv.ParseInt(text(keyEpoch), 10, 64)
	if err != nil && text(keyEpoch) != "" {
		return &fault.Error{Code: fault.Malformed, Where: "session", What: "its epoch is no number", Cause: err}
	}
	now := s.gate.now()
	_, err = exec(ctx, s.gate.store.Writer(), `insert into account_session
		(token_hash, account, epoch, data, remote, agent, began_at, seen_at, idle_ends_at, ends_at, ended_at) values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, 0)
		on conflict (token_hash) do update set account = excluded.account, data = excluded.data, remote = excluded.remote,
			agent = excluded.agent, seen_at = excluded.seen_at, idle_ends_at = excluded.idle_ends_at
		where account_session.ended_at = 0`,
		tokenHash(token), text(keyAccount), epoch, string(data), text(keyRemote), text(keyAgent),
		now.UnixMilli(), now.UnixMilli(), now.Add(s.limits.Idle).UnixMilli(), now.Add(s.limits.Absolute).UnixMilli())
	if err != nil {
		return fmt.Errorf("storing a session: %w", err)
	}
	return nil
}

// DeleteCtx ends a session.
func (s sessionStore) DeleteCtx(ctx context.Context, token string) error {
	if _, err := exec(ctx, s.gate.store.Writer(), `update account_session set ended_at = ?, data = '' where token_hash = ? and ended_at = 0`,
		s.gate.millis(), tokenHash(token)); err != nil {
		return fmt.Errorf("ending a session: %w", err)
	}
	return nil
}

// Find, Commit and Delete are the same without a context; the manager calls
// the others.
func (s sessionStore) Find(token string) ([]byte, bool, error) {
	return s.FindCtx(context.Background(), token)
}

func (s sessionStore) Commit(token string, data []byte, expiry time.Time) error {
	return s.CommitCtx(context.Background(), token, data, expiry)
}

func (s sessionStore) Delete(token string) error { return s.DeleteCtx(context.Background(), token) }

// textCodec writes a session as JSON. Values are strings only, so that a row
// that someone has altered decodes to nothing worse than strings.
type textCodec struct{}

type sessionText struct {
	Deadline int64             `json:"deadline"` // Unix milliseconds
	Values   map[string]string `json:"values"`
}

// Encode refuses values that are not strings.
func (textCodec) Encode(deadline time.Time, values map[string]any) ([]byte, error) {
	text := sessionText{Deadline: deadline.UnixMilli(), Values: map[string]string{}}
	for key, value := range values {
		word, is := value.(string)
		if !is {
			return nil, fmt.Errorf("session value %q is a %T, not a string", key, value)
		}
		text.Values[key] = word
	}
	return json.Marshal(text)
}

// Decode reads what Encode wrote.
func (textCodec) Decode(data []byte) (time.Time, map[string]any, error) {
	var text sessionText
	if err := json.Unmarshal(data, &text); err != nil {
		return time.Time{}, nil, &fault.Error{Code: fault.Malformed, Where: "stored session", What: "it is not JSON", Cause: err}
	}
	values := make(map[string]any, len(text.Values))
	for key, word := range text.Values {
		values[key] = word
	}
	return time.UnixMilli(text.Deadline).UTC(), values, nil
}
