-- What waits for a person. Papers that wait for a signature: see migration 20.

-- name: forget paper
delete from due where eye_id = ? and reason = ? and source_id = ?

-- name: replaced by another
select count(*) from hole_figures where supersedes = ? and struck = 0

-- name: papers
select d.eye_id, d.patient_id, coalesce(p.id, ''), e.side, coalesce(p.name, ''), coalesce(p.unit_number, ''), coalesce(p.died_on, ''),
    d.reason, d.source_id, d.since
from due d
join eye e on e.id = d.eye_id and e.struck = 0
left join person p on p.id = (select min(q.id) from person q where q.patient_id = d.patient_id and q.struck = 0)
where d.reason = ? and d.due_on >= '~' order by d.due_on desc, d.eye_id desc limit ?

-- name: open contests newest
select body from contest where open = 1 order by id desc limit ?

-- name: persons born on
select body from person where birth_date = ? and struck = 0 order by id limit ?

-- name: merges of person
select body from merge where (survivor = ? or absorbed = ?) and struck = 0
and not exists (select 1 from merge u where u.undoes = merge.id and u.struck = 0) order by id
