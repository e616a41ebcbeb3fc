-- Lists of eyes with who they belong to. All have the same columns; the first
-- two tell where a search found the person.

-- Next page: names after the last one, or the same name and a later person, or
-- the same person and a later eye.
-- name: all eyes
select '', 0, e.id, e.patient_id, p.id, coalesce(n.survivor_id, p.id), e.side, p.name, p.unit_number, p.birth_date
from person p
join patient t on t.id = p.patient_id and t.struck = 0
join eye e on e.patient_id = p.patient_id and e.struck = 0
left join person_now n on n.person_id = p.id
where p.struck = 0 and p.name >= ?
and (p.name > ? or p.id > ? or (p.id = ? and e.id > ?))
order by p.name, p.id, e.id limit ?

-- A person is taken at the first of all hits only (the not exists), so that
-- nobody is listed twice.
-- name: search eyes
select s.suffix, s.person, e.id, e.patient_id, p.id, coalesce(n.survivor_id, p.id), e.side, p.name, p.unit_number, p.birth_date
from search_suffix s
join person p on p.number = s.person
join patient t on t.id = p.patient_id and t.struck = 0
join eye e on e.patient_id = p.patient_id and e.struck = 0
left join person_now n on n.person_id = p.id
where s.inside = ? and s.suffix >= ? and s.suffix < ?
and s.suffix >= ? and (s.suffix > ? or s.person > ? or (s.person = ? and e.id > ?))
and not exists (
    select 1 from search_suffix f
    where f.person = s.person and f.suffix >= ? and f.suffix < ?
    and (f.inside < s.inside or (f.inside = s.inside and f.suffix < s.suffix))
)

-- name: search eyes: other fragment
and exists (select 1 from search_suffix o where o.person = s.person and o.suffix >= ? and o.suffix < ?)

-- name: search eyes: order
order by s.suffix, s.person, e.id limit ?

-- name: count hits
select count(*) from (
    select 1 from search_suffix where inside = 0 and suffix >= ? and suffix < ?
    union all
    select 1 from search_suffix where inside = 1 and suffix >= ? and suffix < ?
    limit ?
) hits

-- name: eyes of person
select '', 0, e.id, e.patient_id, p.id, coalesce(n.survivor_id, p.id), e.side, p.name, p.unit_number, p.birth_date
from person p
join patient t on t.id = p.patient_id and t.struck = 0
join eye e on e.patient_id = p.patient_id and e.struck = 0
left join person_now n on n.person_id = p.id
where p.struck = 0 and (p.id = ? or n.survivor_id = ?)
order by p.id, e.side desc, e.id
