package account

import (
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"database/sql"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/coreos/go-oidc/v3/oidc"
	"golang.org/x/oauth2"

	"limitans/fault"
	"limitans/internal/store"
)

// SignOnConfig connects a department's identity provider by OpenID Connect
// Core 1.0 (https://openid.net/specs/openid-connect-core-1_0.html),
// authorisation code flow with PKCE (RFC 7636).
type SignOnConfig struct {
	Issuer       string // https://…, exactly as the provider names itself
	ClientID     string
	ClientSecret string
	RedirectURL  string          // the address of this program that calls Finish
	GroupsClaim  string          // the claim that lists groups, in the ID token or at the userinfo endpoint: "groups"
	Scopes       []string        // asked for beside openid and profile
	Roles        map[string]Role // group to role; who is in none of these groups is refused
	HTTP         *http.Client    // ten seconds a request
}

// SignOn lets people in who are known to the department's identity provider.
// It is safe for concurrent use. The provider is asked for its addresses at
// the first log-in, so that this program starts while the provider is down.
type SignOn struct {
	gate     *Gate
	sessions *Sessions
	config   SignOnConfig

	mu    sync.Mutex
	known *provider // nil until it has answered
}

// provider is what the identity provider says about itself.
type provider struct {
	*oidc.Provider
	verifier *oidc.IDTokenVerifier
	flow     *oauth2.Config
}

// signingAlgorithms are those with a public key. "none" and the HMACs, whose
// key would be the client's secret, are not among them.
var signingAlgorithms = []string{
	oidc.RS256, oidc.RS384, oidc.RS512, oidc.ES256, oidc.ES384, oidc.ES512, oidc.PS256, oidc.PS384, oidc.PS512, oidc.EdDSA,
}

// flowLasts is how long someone may take at the provider.
const flowLasts = 10 * time.Minute

// Keys of the session between Start and Finish. What is there binds the answer
// to the browser that asked.
const (
	keyState    = "sign-on state"
	keyNonce    = "sign-on nonce"
	keyVerifier = "sign-on verifier"
	keyStarted  = "sign-on started" // Unix milliseconds
)

// NewSignOn checks the configuration. It reaches no network.
func NewSignOn(sessions *Sessions, c SignOnConfig) (*SignOn, error) {
	if err := sessions.gate.needs(false); err != nil {
		return nil, err
	}
	for what, address := range map[string]string{"issuer": c.Issuer, "redirect address": c.RedirectURL} {
		if u, err := url.Parse(address); err != nil || u.Host == "" || (u.Scheme != "https" && !(u.Scheme == "http" && isLoopback(u.Hostname()))) {
			return nil, &fault.Error{Code: fault.Invalid, Where: "sign-on " + what, What: "unusable address", Expected: "https://…"}
		}
	}
	if c.ClientID == "" || len(c.Roles) == 0 {
		return nil, &fault.Error{
			Code: fault.Invalid, Where: "sign-on", What: "client identifier or groups are missing",
			Expected: "both, with a role for each group",
		}
	}
	for group, role := range c.Roles {
		if _, err := NewRoles(role); err != nil || group == "" {
			return nil, &fault.Error{
				Code: fault.Invalid, Where: "sign-on group " + strconv.Quote(group), What: "unknown role " + string(role),
				Expected: roleWords(), Cause: err,
			}
		}
	}
	if c.GroupsClaim == "" {
		c.GroupsClaim = "groups"
	}
	if c.HTTP == nil {
		c.HTTP = &http.Client{Timeout: 10 * time.Second}
	}
	return &SignOn{gate: sessions.gate, sessions: sessions, config: c}, nil
}

func isLoopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || (ip != nil && ip.IsLoopback())
}

// discover asks the provider for its addresses, once.
func (s *SignOn) discover(ctx context.Context) (*provider, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.known != nil {
		return s.known, nil
	}
	// The provider's keys are fetched later too, long after this request.
	ctx = oidc.ClientContext(context.WithoutCancel(ctx), s.config.HTTP)
	found, err := oidc.NewProvider(ctx, s.config.Issuer)
	if err != nil {
		return nil, &fault.Error{
			Code: fault.Internal, Where: "identity provider", What: "it does not answer as it should: " + err.Error(),
			Mend: "try again later, or log in with a passphrase", Cause: err,
		}
	}
	s.known = &provider{
		Provider: found,
		verifier: found.VerifierContext(ctx, &oidc.Config{
			ClientID: s.config.ClientID, SupportedSigningAlgs: signingAlgorithms, Now: s.gate.now,
		}),
		flow: &oauth2.Config{
			ClientID: s.config.ClientID, ClientSecret: s.config.ClientSecret, RedirectURL: s.config.RedirectURL,
			Endpoint: found.Endpoint(), Scopes: append([]string{oidc.ScopeOpenID, "profile"}, s.config.Scopes...),
		},
	}
	return s.known, nil
}

// Start remembers a fresh state, nonce and PKCE verifier in the session and
// gives the provider's address to send the browser to.
func (s *SignOn) Start(ctx context.Context) (string, error) {
	known, err := s.discover(ctx)
	if err != nil {
		return "", err
	}
	var words [3]string
	for i := range words {
		b := make([]byte, 32)
		if err := s.gate.fill(b); err != nil {
			return "", err
		}
		words[i] = base64.RawURLEncoding.EncodeToString(b)
	}
	m := s.sessions.manager
	m.Put(ctx, keyState, words[0])
	m.Put(ctx, keyNonce, words[1])
	m.Put(ctx, keyVerifier, words[2])
	m.Put(ctx, keyStarted, strconv.FormatInt(s.gate.millis(), 10))
	return known.flow.AuthCodeURL(words[0], oidc.Nonce(words[1]), oauth2.S256ChallengeOption(words[2])), nil
}

// person is what the ID token says about who came.
type person struct {
	subject, name, shownName string
	roles                    Roles
}

// Finish takes the query with which the provider sent the browser back. What
// Start remembered is used up whatever happens, so neither state nor code can
// be sent twice. The account is made at the first log-in, and its roles follow
// the groups at each. A person in no known group, or whose account was
// deactivated here, is refused; every refusal has ErrRefused as its cause and
// is in the history. The caller begins the session.
func (s *SignOn) Finish(ctx context.Context, query url.Values, remote string) (Account, error) {
	g := s.gate
	m := s.sessions.manager
	state, nonce := m.PopString(ctx, keyState), m.PopString(ctx, keyNonce)
	verifier, started := m.PopString(ctx, keyVerifier), m.PopString(ctx, keyStarted)
	attempts, err := g.reserve(ctx, "", remote)
	if err != nil {
		return Account{}, err
	}
	who, reason := person{}, ""
	startedAt, err := strconv.ParseInt(started, 10, 64)
	switch {
	case state == "" || err != nil || subtle.ConstantTimeCompare([]byte(state), []byte(query.Get("state"))) != 1:
		reason = "the answer belongs to no log-in that this browser began"
	case g.millis()-startedAt > flowLasts.Milliseconds():
		reason = "it took too long"
	case query.Has("error"):
		reason = "the identity provider refused"
	case query.Has("iss") && query.Get("iss") != s.config.Issuer: // RFC 9207
		reason = "the answer is another provider's"
	default:
		who, reason, err = s.redeem(ctx, query.Get("code"), nonce, verifier)
		if err != nil {
			return Account{}, err
		}
	}
	var a Account
	var refusal error
	isNew := false
	if reason == "" {
		if a, isNew, err = s.account(ctx, who); err != nil {
			return Account{}, err
		}
	}
	err = g.change(ctx, a.actorOrUnknown(remote), func(tx *store.Tx) error {
		refusal = nil
		if reason == "" {
			var err error
			if a, err = s.admit(ctx, tx, a, isNew, who); err != nil {
				return err
			}
			if a.Active {
				if err := takeBack(ctx, tx, attempts); err != nil {
					return err
				}
				return g.record(ctx, tx, entry{subject: a.ID, what: "logged in", reason: "through " + s.config.Issuer})
			}
			reason = "account deactivated"
		}
		refusal = &fault.Error{
			Code: fault.Invalid, Where: "sign-on", What: "not let in: " + reason, Mend: "begin again, or ask an administrator", Cause: ErrRefused,
		}
		return g.fail(ctx, tx, a, note("sign-on: "+reason, attempts))
	})
	if err != nil {
		return Account{}, err
	}
	if refusal != nil {
		return Account{}, refusal
	}
	return g.Account(ctx, a.ID)
}

// redeem changes the code for an ID token and checks it by OpenID Connect
// Core, section 3.1.3.7. reason is in words for people and never holds what
// the other side sent.
func (s *SignOn) redeem(ctx context.Context, code, nonce, verifier string) (who person, reason string, err error) {
	known, err := s.discover(ctx)
	if err != nil {
		return person{}, "", err
	}
	ctx = oidc.ClientContext(ctx, s.config.HTTP)
	token, err := known.flow.Exchange(ctx, code, oauth2.VerifierOption(verifier))
	if err != nil {
		var answered *oauth2.RetrieveError
		if errors.As(err, &answered) {
			return person{}, "the identity provider did not take the code", nil
		}
		return person{}, "", &fault.Error{
			Code: fault.Internal, Where: "identity provider", What: "it does not answer as it should", Mend: "try again later", Cause: err,
		}
	}
	raw, has := token.Extra("id_token").(string)
	if !has {
		return person{}, "the identity provider sent no identity", nil
	}
	identity, err := known.verifier.Verify(ctx, raw)
	var expired *oidc.TokenExpiredError
	switch {
	case errors.As(err, &expired):
		return person{}, "the identity is out of date", nil
	case err != nil:
		return person{}, "the identity's signature, issuer or audience is not right", nil
	case subtle.ConstantTimeCompare([]byte(identity.Nonce), []byte(nonce)) != 1:
		return person{}, "the identity was made for another log-in", nil
	case identity.AccessTokenHash != "" && identity.VerifyAccessToken(token.AccessToken) != nil:
		return person{}, "the identity does not belong to its token", nil
	case identity.Subject == "":
		return person{}, "the identity names nobody", nil
	}
	claims := map[string]json.RawMessage{}
	if identity.Claims(&claims) != nil {
		return person{}, "the identity cannot be read", nil
	}
	if by := text(claims["azp"]); (len(identity.Audience) > 1 || by != "") && by != s.config.ClientID {
		return person{}, "the identity was made for another program", nil
	}
	// Many providers tell names and groups at the userinfo endpoint only (OpenID
	// Connect Core, section 5.4).
	if claims[s.config.GroupsClaim] == nil && known.UserInfoEndpoint() != "" {
		info, err := known.UserInfo(ctx, oauth2.StaticTokenSource(token))
		more := map[string]json.RawMessage{}
		switch {
		case err != nil || info.Claims(&more) != nil:
			return person{}, "the identity provider tells nothing about this person", nil
		case info.Subject != identity.Subject: // section 5.3.2
			return person{}, "the identity provider tells about somebody else", nil
		}
		maps.Copy(more, claims) // what was signed counts
		claims = more
	}
	return s.read(identity.Subject, claims)
}

// text reads a claim that is a text, or gives nothing.
func text(claim json.RawMessage) string {
	var word string
	if json.Unmarshal(claim, &word) != nil {
		return ""
	}
	return word
}

// read takes the person out of checked claims.
func (s *SignOn) read(subject string, claims map[string]json.RawMessage) (who person, reason string, err error) {
	var groups []string
	if claim := claims[s.config.GroupsClaim]; claim != nil && json.Unmarshal(claim, &groups) != nil {
		one := text(claim)
		if one == "" {
			return person{}, "the identity's groups cannot be read", nil
		}
		groups = []string{one}
	}
	var roles []Role
	for _, group := range groups {
		if role, known := s.config.Roles[group]; known && !slices.Contains(roles, role) {
			roles = append(roles, role)
		}
	}
	if len(roles) == 0 {
		return person{}, "none of this person's groups has a role here", nil
	}
	who = person{subject: subject, name: text(claims["preferred_username"]), shownName: strings.TrimSpace(text(claims["name"]))}
	if who.roles, err = NewRoles(roles...); err != nil {
		return person{}, "this person's groups give an auditor a second role", nil
	}
	return who, "", nil
}

// account finds the account of a person, or drafts one for the first time. Its
// name ends in the provider's host, so that nobody becomes a namesake's local
// account.
func (s *SignOn) account(ctx context.Context, who person) (a Account, isNew bool, err error) {
	g := s.gate
	a, err = scanAccount(g.store.Reader().QueryRow(ctx, `select `+accountColumns+` from account where issuer = ? and issuer_subject = ?`,
		s.config.Issuer, who.subject))
	if err == nil {
		return a, false, nil
	}
	if !errors.Is(err, sql.ErrNoRows) {
		return Account{}, false, fmt.Errorf("finding an account: %w", err)
	}
	host := "provider"
	if u, err := url.Parse(s.config.Issuer); err == nil {
		host = u.Hostname()
	}
	sum := sha256.Sum256([]byte(s.config.Issuer + "\x00" + who.subject))
	fallback := "person-" + hex.EncodeToString(sum[:8]) + "@" + host
	name, err := foldName(who.name + "@" + host)
	if err != nil || who.name == "" {
		name = fallback
	}
	if _, err := find(ctx, g.store.Reader(), "name", name); err == nil {
		name = fallback
	} else if fault.CodeOf(err) != fault.NotFound {
		return Account{}, false, err
	}
	if checkShownName(who.shownName) != nil {
		who.shownName = name
	}
	a, err = g.draft(name, who.shownName, who.roles)
	a.issuer, a.subject = s.config.Issuer, who.subject
	return a, true, err
}

// admit makes the account if it is new, and lets its roles follow the groups.
func (s *SignOn) admit(ctx context.Context, tx *store.Tx, a Account, isNew bool, who person) (Account, error) {
	g := s.gate
	if isNew {
		return a, g.insert(ctx, tx, a, "first log-in through "+s.config.Issuer)
	}
	a, err := find(ctx, tx, "id", a.ID)
	if err != nil || !a.Active || a.Roles.String() == who.roles.String() {
		return a, err
	}
	if _, err := exec(ctx, tx, `update account set roles = ? where id = ?`, who.roles.String(), a.ID); err != nil {
		return Account{}, fmt.Errorf("changing roles: %w", err)
	}
	if err := g.endSessions(ctx, tx, a.ID, ""); err != nil {
		return Account{}, err
	}
	return a, g.record(ctx, tx, entry{
		subject: a.ID, what: whatRoles,
		before: a.Roles.String(), after: who.roles.String(), reason: "groups at " + s.config.Issuer,
	})
}
