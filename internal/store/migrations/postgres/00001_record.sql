-- The record: history, nouns, what is derived from them for search and registers.
--
-- Text is compared by bytes. Times are UTC text with microseconds
-- (2026-11-25T03:10:00.000000Z), days are ISO 8601 text as far as they are
-- known (2026-11-25, 2026-11, 2026, '' when not told). Both sort as text.
--
-- PostgreSQL: bigint and double precision are 64 bits wide; collate "C" compares by bytes.

-- +goose Up

-- One row for each change of a noun. "before" and "after" are the whole noun as
-- canonical JSON ('' where there was none). hash covers all other columns and
-- the hash of the row before; how is told at historyHash in the code.
create table history (
    number  bigint not null primary key, -- 1, 2, 3, … without a gap
    at      text collate "C" not null,            -- time
    account text collate "C" not null,            -- who
    place   text collate "C" not null,            -- from where
    action  text collate "C" not null,            -- create, change, strike_out, restore, contest, resolve
    kind    text collate "C" not null,            -- kind of the noun, or contest
    entity  text collate "C" not null,            -- its identifier
    version bigint not null,             -- its version after the change
    before  text collate "C" not null,
    after   text collate "C" not null,
    reason  text collate "C" not null,            -- typed by a person, '' where none is asked for
    hash    text collate "C" not null             -- 64 hexadecimal digits
);
create unique index history_entity on history (kind, entity, version);
create index history_at on history (at);

-- How many entries there are and the hash of the last: a cut tail shows. On
-- PostgreSQL writers queue for this row.
create table history_head (
    id      bigint not null primary key check (id = 1),
    entries bigint not null,
    hash    text collate "C" not null
);
insert into history_head (id, entries, hash) values (1, 0, '');

-- Two versions of one noun that a person must choose between. body is the
-- contest as canonical JSON; the other columns repeat parts of it for queries.
create table contest (
    id      text collate "C" not null primary key,
    version bigint not null,              -- 1 open, 2 decided
    open    bigint not null,              -- 0 or 1
    kind    text collate "C" not null,             -- of the noun
    entity  text collate "C" not null,             -- its identifier
    body    text collate "C" not null
);
create index contest_open on contest (open, id);
create index contest_entity on contest (kind, entity);

-- The nouns. body is the noun as canonical JSON and is what counts; the other
-- columns repeat parts of it for queries, are written in the same statement,
-- and are compared with it by every verification. The small index of those struck
-- out is for counting.

create table patient (
    id      text collate "C" not null primary key,
    version bigint not null,
    struck  bigint not null,              -- 0 or 1: struck out
    body    text collate "C" not null,
    birth_year bigint not null            -- 0 when not known
);
create index patient_struck on patient (id) where struck = 1;

-- Identity stands apart: person, file_origin, merge, person_now and search_suffix are
-- the only tables with anything that tells who somebody is (besides history and
-- contest, which hold whole nouns).
create table person (
    id      text collate "C" not null primary key,
    version bigint not null,
    struck  bigint not null,              -- 0 or 1: struck out
    body    text collate "C" not null,
    number      bigint not null unique,   -- 1, 2, 3, …: short key for search_suffix; means nothing else
    patient_id  text collate "C" not null references patient (id),
    name        text collate "C" not null,         -- first name in the list, as given
    unit_number text collate "C" not null,
    birth_date  text collate "C" not null,         -- day
    died_on     text collate "C" not null          -- day
);
create index person_struck on person (id) where struck = 1;
create index person_patient on person (patient_id);
create index person_unit_number on person (unit_number);
create index person_name on person (name, id);

create table file_origin (
    id      text collate "C" not null primary key,
    version bigint not null,
    struck  bigint not null,              -- 0 or 1: struck out
    body    text collate "C" not null,
    patient_id text collate "C",
    of_kind    text collate "C" not null,
    of_id      text collate "C" not null,
    sha256     text collate "C" not null
);
create index file_origin_struck on file_origin (id) where struck = 1;
create index file_origin_of on file_origin (of_kind, of_id);
create index file_origin_sha256 on file_origin (sha256);

create table merge (
    id      text collate "C" not null primary key,
    version bigint not null,
    struck  bigint not null,              -- 0 or 1: struck out
    body    text collate "C" not null,
    survivor text collate "C" references person (id),
    absorbed text collate "C" references person (id),
    undoes   text collate "C" references merge (id)
);
create index merge_struck on merge (id) where struck = 1;

-- Who an absorbed person is read as now, by the merges that stand. Derived.
create table person_now (
    person_id   text collate "C" not null primary key references person (id),
    survivor_id text collate "C" not null references person (id)
);
create index person_now_survivor on person_now (survivor_id);

create table eye (
    id      text collate "C" not null primary key,
    version bigint not null,
    struck  bigint not null,              -- 0 or 1: struck out
    body    text collate "C" not null,
    patient_id text collate "C" not null references patient (id),
    side       text collate "C" not null           -- right, left, ''
);
create index eye_struck on eye (id) where struck = 1;
create index eye_patient on eye (patient_id, side);

create table diagnosis (
    eye_id   text collate "C" not null references eye (id),
    position bigint not null,             -- 0, 1, … in the eye's list
    code     text collate "C" not null,
    since    text collate "C" not null,            -- day
    primary key (eye_id, position)
);
create index diagnosis_code on diagnosis (code, eye_id);

create table scan (
    id      text collate "C" not null primary key,
    version bigint not null,
    struck  bigint not null,              -- 0 or 1: struck out
    body    text collate "C" not null,
    patient_id text collate "C" not null references patient (id),
    eye_id     text collate "C" not null references eye (id),
    day        text collate "C" not null,
    sha256     text collate "C" not null
);
create index scan_struck on scan (id) where struck = 1;
create index scan_eye on scan (eye_id, day);
create index scan_sha256 on scan (sha256);

create table hole_figures (
    id      text collate "C" not null primary key,
    version bigint not null,
    struck  bigint not null,              -- 0 or 1: struck out
    body    text collate "C" not null,
    patient_id text collate "C" not null references patient (id),
    eye_id     text collate "C" not null references eye (id),
    scan_id    text collate "C" references scan (id),
    day        text collate "C" not null,
    supersedes text collate "C" references hole_figures (id),
    mld_um     double precision                     -- micrometres; null when there is no number
);
create index hole_figures_struck on hole_figures (id) where struck = 1;
create index hole_figures_eye on hole_figures (eye_id, day);
create index hole_figures_scan on hole_figures (scan_id);

create table plan (
    id      text collate "C" not null primary key,
    version bigint not null,
    struck  bigint not null,              -- 0 or 1: struck out
    body    text collate "C" not null,
    patient_id text collate "C" not null references patient (id),
    eye_id     text collate "C" not null references eye (id),
    day        text collate "C" not null,
    replaces   text collate "C" references plan (id),
    signed     bigint not null            -- 0 or 1
);
create index plan_struck on plan (id) where struck = 1;
create index plan_eye on plan (eye_id, day);

create table operation (
    id      text collate "C" not null primary key,
    version bigint not null,
    struck  bigint not null,              -- 0 or 1: struck out
    body    text collate "C" not null,
    patient_id     text collate "C" not null references patient (id),
    eye_id         text collate "C" not null references eye (id),
    plan_id        text collate "C" references plan (id),
    day            text collate "C" not null,
    procedure_code text collate "C" not null,
    indication     text collate "C" not null,
    surgeon        text collate "C" not null,
    signed         bigint not null        -- 0 or 1
);
create index operation_struck on operation (id) where struck = 1;
create index operation_eye on operation (eye_id, day);
create index operation_day on operation (day);

create table step (
    operation_id text collate "C" not null references operation (id),
    position     bigint not null,         -- 0, 1, … in the operation's list
    code         text collate "C" not null,
    elapsed_s    double precision,                 -- seconds since the start
    primary key (operation_id, position)
);

create table batch (
    id      text collate "C" not null primary key,
    version bigint not null,
    struck  bigint not null,              -- 0 or 1: struck out
    body    text collate "C" not null,
    class    text collate "C" not null,
    product  text collate "C" not null,
    lot      text collate "C" not null,
    lot_key  text collate "C" not null,            -- the lot's letters and digits alone, folded
    expiry   text collate "C" not null,            -- day
    recalled bigint not null              -- 0 or 1
);
create index batch_struck on batch (id) where struck = 1;
create index batch_lot on batch (lot_key);

create table agent (
    operation_id text collate "C" not null references operation (id),
    position     bigint not null,         -- 0, 1, … in the operation's list
    class        text collate "C" not null,
    action       text collate "C" not null,
    gas          text collate "C" not null,
    product      text collate "C" not null,
    batch_id     text collate "C" references batch (id),
    lot          text collate "C" not null,
    lot_key      text collate "C" not null,        -- the lot's letters and digits alone, folded
    expiry       text collate "C" not null,        -- day
    primary key (operation_id, position)
);
create index agent_lot on agent (lot_key);
create index agent_batch on agent (batch_id);

create table visit (
    id      text collate "C" not null primary key,
    version bigint not null,
    struck  bigint not null,              -- 0 or 1: struck out
    body    text collate "C" not null,
    patient_id text collate "C" not null references patient (id),
    eye_id     text collate "C" not null references eye (id),
    day        text collate "C" not null,
    lens       text collate "C" not null,
    closure    text collate "C" not null,
    due_by     text collate "C" not null,          -- day
    due_for    text collate "C" not null
);
create index visit_struck on visit (id) where struck = 1;
create index visit_eye on visit (eye_id, day);
create index visit_day on visit (day);

create table acuity (
    visit_id text collate "C" not null references visit (id),
    position bigint not null,             -- 0, 1, …: entries in order, each with its values in order
    raw      text collate "C" not null,
    kind     text collate "C" not null,
    role     text collate "C" not null,
    logmar   double precision,
    letters  double precision,
    through  text collate "C" not null,            -- medium in the eye then
    primary key (visit_id, position)
);

create table pressure (
    visit_id text collate "C" not null references visit (id),
    position bigint not null,
    mmhg     double precision,
    method   text collate "C" not null,
    primary key (visit_id, position)
);

create table film (
    id      text collate "C" not null primary key,
    version bigint not null,
    struck  bigint not null,              -- 0 or 1: struck out
    body    text collate "C" not null,
    patient_id   text collate "C" not null references patient (id),
    eye_id       text collate "C" references eye (id),
    operation_id text collate "C" references operation (id),
    day          text collate "C" not null
);
create index film_struck on film (id) where struck = 1;
create index film_eye on film (eye_id, day);

create table document (
    id      text collate "C" not null primary key,
    version bigint not null,
    struck  bigint not null,              -- 0 or 1: struck out
    body    text collate "C" not null,
    patient_id   text collate "C" not null references patient (id),
    eye_id       text collate "C" references eye (id),
    operation_id text collate "C" references operation (id),
    day          text collate "C" not null,
    sort         text collate "C" not null
);
create index document_struck on document (id) where struck = 1;
create index document_eye on document (eye_id, day);
create index document_patient on document (patient_id, day);

create table contact_attempt (
    id      text collate "C" not null primary key,
    version bigint not null,
    struck  bigint not null,              -- 0 or 1: struck out
    body    text collate "C" not null,
    patient_id text collate "C" not null references patient (id),
    eye_id     text collate "C" references eye (id),
    day        text collate "C" not null,
    outcome    text collate "C" not null
);
create index contact_attempt_struck on contact_attempt (id) where struck = 1;
create index contact_attempt_patient on contact_attempt (patient_id, day);

-- Files of the vault that nouns name, by content. A file that stands here is
-- never removed.
create table file_reference (
    kind     text collate "C" not null,
    entity   text collate "C" not null,
    position bigint not null,
    sha256   text collate "C" not null,
    primary key (kind, entity, position)
);
create index file_reference_sha256 on file_reference (sha256);

-- Derived registers. They hold no fact of their own and are made anew for an
-- eye or a person in the transaction that changes it.

-- What is due: one row for each reason that an eye must be seen or done.
create table due (
    eye_id     text collate "C" not null references eye (id),
    reason     text collate "C" not null,
    source_id  text collate "C" not null,          -- visit, operation or plan that it comes from; the eye where none is known
    patient_id text collate "C" not null references patient (id),
    due_on     text collate "C" not null,          -- day; '' when nobody agreed one
    since      text collate "C" not null,          -- day of the source
    primary key (eye_id, reason, source_id)
);
create index due_on on due (due_on, eye_id, reason);
create index due_reason on due (reason, due_on, eye_id);

-- What is, or may still be, in which eye now, by the rules of package record.
create table in_eye (
    eye_id       text collate "C" not null references eye (id),
    position     bigint not null,         -- 0, 1, …: oldest first
    medium       text collate "C" not null,
    since        text collate "C" not null,        -- day
    operation_id text collate "C" references operation (id), -- null when it was put in elsewhere
    content      text collate "C" not null,        -- JSON of what the rules tell
    primary key (eye_id, position)
);
create index in_eye_medium on in_eye (medium, since, eye_id);
create index in_eye_since on in_eye (since, eye_id, position);

-- Every end of every word of a person's names and numbers, folded: a fragment
-- is the beginning of one of them, so one index finds any fragment on both
-- engines. inside is 0 where the whole word is meant, so that beginnings come
-- first.
create table search_suffix (
    inside bigint not null,
    suffix  text collate "C" not null,
    person  bigint not null references person (number),
    primary key (inside, suffix, person)
);
create index search_suffix_person on search_suffix (person, suffix);
