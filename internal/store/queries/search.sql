-- Search: every end of every word is in search_suffix, so a fragment is a range
-- of one index on both engines.

-- name: person number
select number from person where id = ?

-- name: forget suffixes
delete from search_suffix where person = ?

-- The rows are added by the code.
-- name: add suffixes
insert into search_suffix (inside, suffix, person) values
