-- What the registers say of an eye beside what is in it; the identifiers of the
-- eyes follow each query.

-- name: register due
select eye_id, reason, due_on from due where due_on < '~' and eye_id in

-- name: register visits
select eye_id, '', max(day) from visit where struck = 0 and eye_id in

-- name: register contacts
select e.id, c.outcome, c.day from eye e
join contact_attempt c on c.patient_id = e.patient_id and c.struck = 0 and (c.eye_id is null or c.eye_id = e.id)
where e.id in
