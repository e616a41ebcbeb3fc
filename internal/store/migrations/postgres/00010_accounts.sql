-- Accounts: who may come in, what they prove it with, their sessions.
--
-- All columns that end in _at are Unix milliseconds, 0 for never. Accounts are
-- deactivated and never deleted, because the history names them. Every change
-- of an account writes an entry of account_event in the same transaction;
-- sessions and counted attempts are no facts of the record and are forgotten.
--
-- PostgreSQL: bigint is 64 bits wide; collate "C" compares by bytes.

-- +goose Up

-- One row: what kind of store this is, for ever, and the end of the account
-- history. Its lock is the turn to change accounts.
create table account_state (
    singleton   bigint not null primary key check (singleton = 1),
    mode        text collate "C" not null check (mode in ('real', 'demo')),
    declared_at bigint not null,
    events      bigint not null,              -- number of the last entry of account_event
    event_hash  text collate "C" not null               -- and its hash
);

create table account (
    id               text collate "C" not null primary key,
    name             text collate "C" not null unique,     -- log-in name, prepared by RFC 8265 UsernameCaseMapped
    shown_name       text collate "C" not null,
    roles            text collate "C" not null,            -- with commas, in the order of the permission table
    active           bigint not null,         -- 0 or 1
    passphrase_hash  text collate "C" not null,            -- argon2id in PHC format, '' while none is set
    issuer           text collate "C" not null,            -- identity provider, '' for a local account
    issuer_subject   text collate "C" not null,            -- the provider's identifier of the person
    factor_secret    text collate "C" not null,            -- of the second factor, sealed or marked plain, '' for none
    factor_confirmed bigint not null,         -- 0 or 1
    factor_step      bigint not null,         -- the last accepted 30-second step
    epoch            bigint not null,         -- sessions of an earlier epoch are over
    made_at          bigint not null
);
create unique index account_issuer on account (issuer, issuer_subject) where issuer <> '';

-- One-time codes of administrators and recovery codes of second factors.
create table account_code (
    hash    text collate "C" not null primary key,         -- SHA-256 of kind, account and code
    account text collate "C" not null references account (id),
    kind    text collate "C" not null check (kind in ('one-time', 'recovery')),
    made_at bigint not null,
    ends_at bigint not null,
    used_at bigint not null                   -- also set when it was voided
);
create index account_code_account on account_code (account, kind);

create table account_session (
    token_hash   text collate "C" not null primary key,    -- SHA-256; the token itself is in the browser only
    account      text collate "C" not null,                -- '' before the log-in
    epoch        bigint not null,             -- of the account when the session began
    data         text collate "C" not null,                -- JSON, '' once ended
    remote       text collate "C" not null,
    agent        text collate "C" not null,
    began_at     bigint not null,
    seen_at      bigint not null,             -- to within a minute
    idle_ends_at bigint not null,
    ends_at      bigint not null,
    ended_at     bigint not null
);
create index account_session_account on account_session (account);

-- Failed attempts by typed name (hashed, it may be a passphrase) and by
-- remote address.
create table account_attempt (
    key           text collate "C" not null primary key,
    failures      bigint not null,
    last_at       bigint not null,
    blocked_until_at bigint not null,
    unseen        bigint not null             -- attempts during the block, not looked at
);
create index account_attempt_last on account_attempt (last_at);

-- The account history: what happened to accounts and at the door. Nothing here
-- is changed or removed. Each hash covers the entry and the hash before it; how
-- is told at Event.hashAfter in the code.
create table account_event (
    number      bigint not null primary key,  -- 1, 2, 3, … without a gap
    happened_at bigint not null,
    actor       text collate "C" not null,                -- account, 'console' or 'unknown'
    place       text collate "C" not null,                -- from where
    account     text collate "C" not null,                -- about which, or 'unknown'
    what        text collate "C" not null,
    before      text collate "C" not null,
    after       text collate "C" not null,
    reason      text collate "C" not null,
    hash        text collate "C" not null                 -- 64 hexadecimal digits
);
create index account_event_account on account_event (account, number);

-- What is for ever is held by the database itself too.
-- +goose StatementBegin
create function account_refuse() returns trigger language plpgsql as $$
begin
    raise exception '%', tg_argv[0];
end $$;
-- +goose StatementEnd
create trigger account_state_mode before update of mode on account_state for each row when (new.mode <> old.mode)
    execute function account_refuse('the mode of a store never changes');
create trigger account_state_stays before delete on account_state for each row
    execute function account_refuse('the mode of a store never changes');
create trigger account_stays before delete on account for each row
    execute function account_refuse('accounts are deactivated, not deleted');
create trigger account_event_stays before update or delete on account_event for each row
    execute function account_refuse('the account history is not changed');
