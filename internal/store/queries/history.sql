-- The chain. Its entries are only ever added.

-- name: append history
insert into history (number, at, account, place, action, kind, entity, version, before, after, reason, hash)
values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)

-- name: head
select entries, hash from history_head where id = 1

-- name: lock head
select entries from history_head where id = 1 for update

-- name: move head
update history_head set entries = ?, hash = ? where id = 1

-- name: history of
select number, at, account, place, action, kind, entity, version, before, after, reason, hash
from history where kind = ? and entity = ? order by version

-- name: history since
select number, at, account, place, action, kind, entity, version, before, after, reason, hash
from history where number > ? order by number limit ?

-- What the walk over the nouns of a kind needs: for a stretch of identifiers,
-- every version with the text after it, and the text before it.
-- name: versions of stretch
select entity, version, before, after from history
where kind = ? and entity >= ? and entity <= ? order by entity, version

-- name: eyes made since
select entity from history where number > ? and number <= ? and kind = 'eye' and version = 1 order by number
