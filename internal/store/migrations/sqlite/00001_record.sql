-- The record: history, nouns, what is derived from them for search and registers.
--
-- Text is compared by bytes. Times are UTC text with microseconds
-- (2026-11-25T03:10:00.000000Z), days are ISO 8601 text as far as they are
-- known (2026-11-25, 2026-11, 2026, '' when not told). Both sort as text.
--
-- SQLite: integer and real are 64 bits wide; strict tables take no other type.

-- +goose Up
pragma application_id = 0x6c696d69; -- "limi", see applicationID in the code

-- One row for each change of a noun. "before" and "after" are the whole noun as
-- canonical JSON ('' where there was none). hash covers all other columns and
-- the hash of the row before; how is told at historyHash in the code.
create table history (
    number  integer not null primary key, -- 1, 2, 3, … without a gap
    at      text not null,            -- time
    account text not null,            -- who
    place   text not null,            -- from where
    action  text not null,            -- create, change, strike_out, restore, contest, resolve
    kind    text not null,            -- kind of the noun, or contest
    entity  text not null,            -- its identifier
    version integer not null,             -- its version after the change
    before  text not null,
    after   text not null,
    reason  text not null,            -- typed by a person, '' where none is asked for
    hash    text not null             -- 64 hexadecimal digits
) strict;
create unique index history_entity on history (kind, entity, version);
create index history_at on history (at);

-- How many entries there are and the hash of the last: a cut tail shows. On
-- PostgreSQL writers queue for this row.
create table history_head (
    id      integer not null primary key check (id = 1),
    entries integer not null,
    hash    text not null
) strict;
insert into history_head (id, entries, hash) values (1, 0, '');

-- Two versions of one noun that a person must choose between. body is the
-- contest as canonical JSON; the other columns repeat parts of it for queries.
create table contest (
    id      text not null primary key,
    version integer not null,              -- 1 open, 2 decided
    open    integer not null,              -- 0 or 1
    kind    text not null,             -- of the noun
    entity  text not null,             -- its identifier
    body    text not null
) strict;
create index contest_open on contest (open, id);
create index contest_entity on contest (kind, entity);

-- The nouns. body is the noun as canonical JSON and is what counts; the other
-- columns repeat parts of it for queries, are written in the same statement,
-- and are compared with it by every verification. The small index of those struck
-- out is for counting.

create table patient (
    id      text not null primary key,
    version integer not null,
    struck  integer not null,              -- 0 or 1: struck out
    body    text not null,
    birth_year integer not null            -- 0 when not known
) strict;
create index patient_struck on patient (id) where struck = 1;

-- Identity stands apart: person, file_origin, merge, person_now and search_suffix are
-- the only tables with anything that tells who somebody is (besides history and
-- contest, which hold whole nouns).
create table person (
    id      text not null primary key,
    version integer not null,
    struck  integer not null,              -- 0 or 1: struck out
    body    text not null,
    number      integer not null unique,   -- 1, 2, 3, …: short key for search_suffix; means nothing else
    patient_id  text not null references patient (id),
    name        text not null,         -- first name in the list, as given
    unit_number text not null,
    birth_date  text not null,         -- day
    died_on     text not null          -- day
) strict;
create index person_struck on person (id) where struck = 1;
create index person_patient on person (patient_id);
create index person_unit_number on person (unit_number);
create index person_name on person (name, id);

create table file_origin (
    id      text not null primary key,
    version integer not null,
    struck  integer not null,              -- 0 or 1: struck out
    body    text not null,
    patient_id text,
    of_kind    text not null,
    of_id      text not null,
    sha256     text not null
) strict;
create index file_origin_struck on file_origin (id) where struck = 1;
create index file_origin_of on file_origin (of_kind, of_id);
create index file_origin_sha256 on file_origin (sha256);

create table merge (
    id      text not null primary key,
    version integer not null,
    struck  integer not null,              -- 0 or 1: struck out
    body    text not null,
    survivor text references person (id),
    absorbed text references person (id),
    undoes   text references merge (id)
) strict;
create index merge_struck on merge (id) where struck = 1;

-- Who an absorbed person is read as now, by the merges that stand. Derived.
create table person_now (
    person_id   text not null primary key references person (id),
    survivor_id text not null references person (id)
) strict;
create index person_now_survivor on person_now (survivor_id);

create table eye (
    id      text not null primary key,
    version integer not null,
    struck  integer not null,              -- 0 or 1: struck out
    body    text not null,
    patient_id text not null references patient (id),
    side       text not null           -- right, left, ''
) strict;
create index eye_struck on eye (id) where struck = 1;
create index eye_patient on eye (patient_id, side);

create table diagnosis (
    eye_id   text not null references eye (id),
    position integer not null,             -- 0, 1, … in the eye's list
    code     text not null,
    since    text not null,            -- day
    primary key (eye_id, position)
) strict;
create index diagnosis_code on diagnosis (code, eye_id);

create table scan (
    id      text not null primary key,
    version integer not null,
    struck  integer not null,              -- 0 or 1: struck out
    body    text not null,
    patient_id text not null references patient (id),
    eye_id     text not null references eye (id),
    day        text not null,
    sha256     text not null
) strict;
create index scan_struck on scan (id) where struck = 1;
create index scan_eye on scan (eye_id, day);
create index scan_sha256 on scan (sha256);

create table hole_figures (
    id      text not null primary key,
    version integer not null,
    struck  integer not null,              -- 0 or 1: struck out
    body    text not null,
    patient_id text not null references patient (id),
    eye_id     text not null references eye (id),
    scan_id    text references scan (id),
    day        text not null,
    supersedes text references hole_figures (id),
    mld_um     real                     -- micrometres; null when there is no number
) strict;
create index hole_figures_struck on hole_figures (id) where struck = 1;
create index hole_figures_eye on hole_figures (eye_id, day);
create index hole_figures_scan on hole_figures (scan_id);

create table plan (
    id      text not null primary key,
    version integer not null,
    struck  integer not null,              -- 0 or 1: struck out
    body    text not null,
    patient_id text not null references patient (id),
    eye_id     text not null references eye (id),
    day        text not null,
    replaces   text references plan (id),
    signed     integer not null            -- 0 or 1
) strict;
create index plan_struck on plan (id) where struck = 1;
create index plan_eye on plan (eye_id, day);

create table operation (
    id      text not null primary key,
    version integer not null,
    struck  integer not null,              -- 0 or 1: struck out
    body    text not null,
    patient_id     text not null references patient (id),
    eye_id         text not null references eye (id),
    plan_id        text references plan (id),
    day            text not null,
    procedure_code text not null,
    indication     text not null,
    surgeon        text not null,
    signed         integer not null        -- 0 or 1
) strict;
create index operation_struck on operation (id) where struck = 1;
create index operation_eye on operation (eye_id, day);
create index operation_day on operation (day);

create table step (
    operation_id text not null references operation (id),
    position     integer not null,         -- 0, 1, … in the operation's list
    code         text not null,
    elapsed_s    real,                 -- seconds since the start
    primary key (operation_id, position)
) strict;

create table batch (
    id      text not null primary key,
    version integer not null,
    struck  integer not null,              -- 0 or 1: struck out
    body    text not null,
    class    text not null,
    product  text not null,
    lot      text not null,
    lot_key  text not null,            -- the lot's letters and digits alone, folded
    expiry   text not null,            -- day
    recalled integer not null              -- 0 or 1
) strict;
create index batch_struck on batch (id) where struck = 1;
create index batch_lot on batch (lot_key);

create table agent (
    operation_id text not null references operation (id),
    position     integer not null,         -- 0, 1, … in the operation's list
    class        text not null,
    action       text not null,
    gas          text not null,
    product      text not null,
    batch_id     text references batch (id),
    lot          text not null,
    lot_key      text not null,        -- the lot's letters and digits alone, folded
    expiry       text not null,        -- day
    primary key (operation_id, position)
) strict;
create index agent_lot on agent (lot_key);
create index agent_batch on agent (batch_id);

create table visit (
    id      text not null primary key,
    version integer not null,
    struck  integer not null,              -- 0 or 1: struck out
    body    text not null,
    patient_id text not null references patient (id),
    eye_id     text not null references eye (id),
    day        text not null,
    lens       text not null,
    closure    text not null,
    due_by     text not null,          -- day
    due_for    text not null
) strict;
create index visit_struck on visit (id) where struck = 1;
create index visit_eye on visit (eye_id, day);
create index visit_day on visit (day);

create table acuity (
    visit_id text not null references visit (id),
    position integer not null,             -- 0, 1, …: entries in order, each with its values in order
    raw      text not null,
    kind     text not null,
    role     text not null,
    logmar   real,
    letters  real,
    through  text not null,            -- medium in the eye then
    primary key (visit_id, position)
) strict;

create table pressure (
    visit_id text not null references visit (id),
    position integer not null,
    mmhg     real,
    method   text not null,
    primary key (visit_id, position)
) strict;

create table film (
    id      text not null primary key,
    version integer not null,
    struck  integer not null,              -- 0 or 1: struck out
    body    text not null,
    patient_id   text not null references patient (id),
    eye_id       text references eye (id),
    operation_id text references operation (id),
    day          text not null
) strict;
create index film_struck on film (id) where struck = 1;
create index film_eye on film (eye_id, day);

create table document (
    id      text not null primary key,
    version integer not null,
    struck  integer not null,              -- 0 or 1: struck out
    body    text not null,
    patient_id   text not null references patient (id),
    eye_id       text references eye (id),
    operation_id text references operation (id),
    day          text not null,
    sort         text not null
) strict;
create index document_struck on document (id) where struck = 1;
create index document_eye on document (eye_id, day);
create index document_patient on document (patient_id, day);

create table contact_attempt (
    id      text not null primary key,
    version integer not null,
    struck  integer not null,              -- 0 or 1: struck out
    body    text not null,
    patient_id text not null references patient (id),
    eye_id     text references eye (id),
    day        text not null,
    outcome    text not null
) strict;
create index contact_attempt_struck on contact_attempt (id) where struck = 1;
create index contact_attempt_patient on contact_attempt (patient_id, day);

-- Files of the vault that nouns name, by content. A file that stands here is
-- never removed.
create table file_reference (
    kind     text not null,
    entity   text not null,
    position integer not null,
    sha256   text not null,
    primary key (kind, entity, position)
) strict;
create index file_reference_sha256 on file_reference (sha256);

-- Derived registers. They hold no fact of their own and are made anew for an
-- eye or a person in the transaction that changes it.

-- What is due: one row for each reason that an eye must be seen or done.
create table due (
    eye_id     text not null references eye (id),
    reason     text not null,
    source_id  text not null,          -- visit, operation or plan that it comes from; the eye where none is known
    patient_id text not null references patient (id),
    due_on     text not null,          -- day; '' when nobody agreed one
    since      text not null,          -- day of the source
    primary key (eye_id, reason, source_id)
) strict;
create index due_on on due (due_on, eye_id, reason);
create index due_reason on due (reason, due_on, eye_id);

-- What is, or may still be, in which eye now, by the rules of package record.
create table in_eye (
    eye_id       text not null references eye (id),
    position     integer not null,         -- 0, 1, …: oldest first
    medium       text not null,
    since        text not null,        -- day
    operation_id text references operation (id), -- null when it was put in elsewhere
    content      text not null,        -- JSON of what the rules tell
    primary key (eye_id, position)
) strict;
create index in_eye_medium on in_eye (medium, since, eye_id);
create index in_eye_since on in_eye (since, eye_id, position);

-- Every end of every word of a person's names and numbers, folded: a fragment
-- is the beginning of one of them, so one index finds any fragment on both
-- engines. inside is 0 where the whole word is meant, so that beginnings come
-- first.
create table search_suffix (
    inside integer not null,
    suffix  text not null,
    person  integer not null references person (number),
    primary key (inside, suffix, person)
) strict, without rowid;
create index search_suffix_person on search_suffix (person, suffix);
