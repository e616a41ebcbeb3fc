-- Papers that wait for a signature; see migration 20. Newest first.

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
