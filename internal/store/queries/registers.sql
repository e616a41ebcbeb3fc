-- The registers: what is due, what is in which eye, who got what.

-- name: forget due
delete from due where eye_id = ? and reason <> 'unsigned_figures'

-- name: forget in eye
delete from in_eye where eye_id = ?

-- name: add due
insert into due (eye_id, reason, source_id, patient_id, due_on, since) values (?, ?, ?, ?, ?, ?)

-- name: add in eye
insert into in_eye (eye_id, position, medium, since, operation_id, content) values (?, ?, ?, ?, ?, ?)

-- name: register input
select 'eye', e.body from eye e join patient t on t.id = e.patient_id and t.struck = 0 where e.id = ? and e.struck = 0
union all select 'visit', body from visit where eye_id = ? and struck = 0
union all select 'operation', body from operation where eye_id = ? and struck = 0
union all select 'plan', body from plan where eye_id = ? and struck = 0

-- The lists for people. Their first seven columns say whose eye it is; of
-- several persons of one patient the first stands for all.

-- The few rows of a page are picked first, reason by reason along its index, and
-- only they are joined with whose they are.
-- name: due
select d.eye_id, d.patient_id, coalesce(p.id, ''), e.side, coalesce(p.name, ''), coalesce(p.unit_number, ''), coalesce(p.died_on, ''),
    d.reason, d.source_id, d.due_on, d.since
from (%s) d
join eye e on e.id = d.eye_id
left join person p on p.id = (select min(q.id) from person q where q.patient_id = d.patient_id and q.struck = 0)

-- name: due: picked
select d.eye_id, d.patient_id, d.reason, d.source_id, d.due_on, d.since from due d
where d.due_on <= ? and d.due_on >= ?
and (d.due_on > ? or d.eye_id > ? or (d.eye_id = ? and (d.reason > ? or (d.reason = ? and d.source_id > ?))))

-- name: due: order
order by d.due_on, d.eye_id, d.reason, d.source_id limit ?

-- name: due: old gas
-- A day that is told only in part is earlier when all of it is.
(d.reason = 'gas_check' and d.since < substr(cast(? as text), 1, length(d.since)) and (d.due_on = '' or d.due_on < substr(cast(? as text), 1, length(d.due_on))))

-- name: due: count old gas
select count(*) from due d where d.due_on <= ?

-- name: in eyes
select i.eye_id, e.patient_id, coalesce(p.id, ''), e.side, coalesce(p.name, ''), coalesce(p.unit_number, ''), coalesce(p.died_on, ''),
    i.since, i.position, i.content
from (%s) i
join eye e on e.id = i.eye_id
left join person p on p.id = (select min(q.id) from person q where q.patient_id = e.patient_id and q.struck = 0)

-- name: in eyes: picked
select i.eye_id, i.since, i.position, i.content from in_eye i
where i.since >= ? and (i.since > ? or i.eye_id > ? or (i.eye_id = ? and i.position > ?))

-- name: in eyes: order
order by i.since, i.eye_id, i.position limit ?

-- A use counts by the number on its label and by that of the batch it names.
-- name: eyes with lot
select o.eye_id, o.patient_id, coalesce(p.id, ''), e.side, coalesce(p.name, ''), coalesce(p.unit_number, ''), coalesce(p.died_on, ''),
    a.operation_id, o.day, a.class, a.action, a.product, a.lot, a.expiry, coalesce(a.batch_id, '')
from agent a
join operation o on o.id = a.operation_id and o.struck = 0
join eye e on e.id = o.eye_id
left join person p on p.id = (select min(q.id) from person q where q.patient_id = o.patient_id and q.struck = 0)
where a.lot_key = ? or a.batch_id in (select b.id from batch b where b.lot_key = ?)
order by o.day, a.operation_id, a.position

-- name: count in eyes
select medium, count(*) from in_eye group by medium

-- name: count overdue
select reason, count(*) from due where due_on < ? group by reason

-- name: count contests
select count(*) from contest where open = 1
