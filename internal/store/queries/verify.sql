-- The walk over everything.

-- name: whole history
select number, at, account, place, action, kind, entity, version, before, after, reason, hash
from history order by number

-- name: all contests
select id, version, open, body from contest order by id

-- name: strange contests
select distinct entity from history h where kind = ? and not exists (select 1 from contest c where c.id = h.entity) order by entity
