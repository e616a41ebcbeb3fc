-- Single nouns, contests and what belongs to a noun.

-- name: person of patient
select body from person where patient_id = ? and struck = 0 order by id limit 1

-- name: next person number
select coalesce(max(number), 0) + 1 from person

-- name: forget file references
delete from file_reference where kind = ? and entity = ?

-- name: text of version
select after from history where kind = ? and entity = ? and version = ?

-- name: add contest
insert into contest (id, version, open, kind, entity, body) values (?, ?, ?, ?, ?, ?)

-- name: one contest
select body from contest where id = ?

-- name: decide contest
update contest set version = ?, open = 0, body = ? where id = ?

-- An empty identifier asks for the contests of all nouns.
-- name: open contests
select body from contest where open = 1 and (cast(? as text) = '' or (kind = ? and entity = ?)) order by id

-- name: merges that stand
select body from merge where struck = 0 order by id

-- name: forget who is who
delete from person_now

-- name: add who is who
insert into person_now (person_id, survivor_id) values (?, ?)

-- name: count file
select count(*) from file_reference where sha256 = ?

-- name: files
select distinct sha256 from file_reference where sha256 > ? order by sha256 limit ?

-- name: nouns with file
select distinct entity from file_reference where kind = ? and sha256 = ? order by entity

-- name: figures of scan
select body from hole_figures where scan_id = ? and struck = 0 order by id

-- name: eyes of patient
select id from eye where patient_id = ? order by id

-- Whether anything hangs on an eye.
-- name: eye is used
select case when exists (select 1 from scan where eye_id = ?)
    or exists (select 1 from hole_figures where eye_id = ?)
    or exists (select 1 from plan where eye_id = ?)
    or exists (select 1 from operation where eye_id = ?)
    or exists (select 1 from visit where eye_id = ?)
    or exists (select 1 from film where eye_id = ?)
    or exists (select 1 from document where eye_id = ?)
    or exists (select 1 from contact_attempt where eye_id = ?)
then 1 else 0 end
