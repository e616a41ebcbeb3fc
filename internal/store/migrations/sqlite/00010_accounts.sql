-- Accounts: who may come in, what they prove it with, their sessions.
--
-- All columns that end in _at are Unix milliseconds, 0 for never. Accounts are
-- deactivated and never deleted, because the history names them. Every change
-- of an account writes an entry of account_event in the same transaction;
-- sessions and counted attempts are no facts of the record and are forgotten.
--
-- SQLite: integer is 64 bits wide; strict tables take no other type.

-- +goose Up

-- One row: what kind of store this is, for ever, and the end of the account
-- history. Its lock is the turn to change accounts.
create table account_state (
    singleton   integer not null primary key check (singleton = 1),
    mode        text not null check (mode in ('real', 'demo')),
    declared_at integer not null,
    events      integer not null,              -- number of the last entry of account_event
    event_hash  text not null               -- and its hash
) strict;

create table account (
    id               text not null primary key,
    name             text not null unique,     -- log-in name, prepared by RFC 8265 UsernameCaseMapped
    shown_name       text not null,
    roles            text not null,            -- with commas, in the order of the permission table
    active           integer not null,         -- 0 or 1
    passphrase_hash  text not null,            -- argon2id in PHC format, '' while none is set
    issuer           text not null,            -- identity provider, '' for a local account
    issuer_subject   text not null,            -- the provider's identifier of the person
    factor_secret    text not null,            -- of the second factor, sealed or marked plain, '' for none
    factor_confirmed integer not null,         -- 0 or 1
    factor_step      integer not null,         -- the last accepted 30-second step
    epoch            integer not null,         -- sessions of an earlier epoch are over
    made_at          integer not null
) strict;
create unique index account_issuer on account (issuer, issuer_subject) where issuer <> '';

-- One-time codes of administrators and recovery codes of second factors.
create table account_code (
    hash    text not null primary key,         -- SHA-256 of kind, account and code
    account text not null references account (id),
    kind    text not null check (kind in ('one-time', 'recovery')),
    made_at integer not null,
    ends_at integer not null,
    used_at integer not null                   -- also set when it was voided
) strict;
create index account_code_account on account_code (account, kind);

create table account_session (
    token_hash   text not null primary key,    -- SHA-256; the token itself is in the browser only
    account      text not null,                -- '' before the log-in
    epoch        integer not null,             -- of the account when the session began
    data         text not null,                -- JSON, '' once ended
    remote       text not null,
    agent        text not null,
    began_at     integer not null,
    seen_at      integer not null,             -- to within a minute
    idle_ends_at integer not null,
    ends_at      integer not null,
    ended_at     integer not null
) strict;
create index account_session_account on account_session (account);

-- Failed attempts by typed name (hashed, it may be a passphrase) and by
-- remote address.
create table account_attempt (
    key           text not null primary key,
    failures      integer not null,
    last_at       integer not null,
    blocked_until_at integer not null,
    unseen        integer not null             -- attempts during the block, not looked at
) strict;
create index account_attempt_last on account_attempt (last_at);

-- The account history: what happened to accounts and at the door. Nothing here
-- is changed or removed. Each hash covers the entry and the hash before it; how
-- is told at Event.hashAfter in the code.
create table account_event (
    number      integer not null primary key,  -- 1, 2, 3, … without a gap
    happened_at integer not null,
    actor       text not null,                -- account, 'console' or 'unknown'
    place       text not null,                -- from where
    account     text not null,                -- about which, or 'unknown'
    what        text not null,
    before      text not null,
    after       text not null,
    reason      text not null,
    hash        text not null                 -- 64 hexadecimal digits
) strict;
create index account_event_account on account_event (account, number);

-- What is for ever is held by the database itself too.
-- +goose StatementBegin
create trigger account_state_mode before update of mode on account_state when new.mode <> old.mode
begin select raise(abort, 'the mode of a store never changes'); end;
-- +goose StatementEnd
-- +goose StatementBegin
create trigger account_state_stays before delete on account_state
begin select raise(abort, 'the mode of a store never changes'); end;
-- +goose StatementEnd
-- +goose StatementBegin
create trigger account_stays before delete on account
begin select raise(abort, 'accounts are deactivated, not deleted'); end;
-- +goose StatementEnd
-- +goose StatementBegin
create trigger account_event_unchanged before update on account_event
begin select raise(abort, 'the account history is not changed'); end;
-- +goose StatementEnd
-- +goose StatementBegin
create trigger account_event_stays before delete on account_event
begin select raise(abort, 'the account history is not changed'); end;
-- +goose StatementEnd
