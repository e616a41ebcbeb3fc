-- The registers: what is due, what is in which eye, who got what.

-- name: forget due
delete from due where eye_id = ?

-- name: forget in eye
delete from in_eye where eye_id = ?

-- name: add due
insert into due (eye_id, reason, source_id, patient_id, due_on, since) values (?, ?, ?, ?, ?, ?)

-- name: add in eye
insert into in_eye (eye_id, operation_id, position, class, since) values (?, ?, ?, ?, ?)

-- name: register input
select 'eye', body from eye where id = ? and struck = 0
union all select 'visit', body from visit where eye_id = ? and struck = 0
union all select 'operation', body from operation where eye_id = ? and struck = 0
union all select 'plan', body from plan where eye_id = ? and struck = 0
