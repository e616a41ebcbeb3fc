-- One eye with everything around it. Nouns struck out come when the second
-- parameter of their line is 1.

-- name: course
select 'patient', '', id, body from patient where id = ?
union all select 'person', '', id, body from person where patient_id = ? and struck <= ?
union all select 'eye', '', id, body from eye where patient_id = ? and id <> ? and struck <= ?
union all select 'scan', day, id, body from scan where eye_id = ? and struck <= ?
union all select 'hole_figures', day, id, body from hole_figures where eye_id = ? and struck <= ?
union all select 'plan', day, id, body from plan where eye_id = ? and struck <= ?
union all select 'operation', day, id, body from operation where eye_id = ? and struck <= ?
union all select 'visit', day, id, body from visit where eye_id = ? and struck <= ?
union all select 'film', day, id, body from film where eye_id = ? and struck <= ?
union all select 'document', day, id, body from document where patient_id = ? and (eye_id = ? or eye_id is null) and struck <= ?
union all select 'contact_attempt', day, id, body from contact_attempt where patient_id = ? and (eye_id = ? or eye_id is null) and struck <= ?
union all select 'batch', '', id, body from batch where id in (
    select a.batch_id from agent a join operation o on o.id = a.operation_id where o.eye_id = ?
)
order by 2, 3

-- name: read as
select coalesce((select survivor_id from person_now where person_id = ?), ?)

-- name: due of eye
select reason, source_id, due_on, since from due where eye_id = ? and due_on < '~' order by due_on, reason, source_id

-- name: in this eye
select content from in_eye where eye_id = ? order by position

-- name: contests of eye
select body from contest where open = 1 and entity in (
    select cast(? as text) union all select cast(? as text)
    union all select id from person where patient_id = ?
    union all select id from scan where eye_id = ?
    union all select id from hole_figures where eye_id = ?
    union all select id from plan where eye_id = ?
    union all select id from operation where eye_id = ?
    union all select id from visit where eye_id = ?
    union all select id from film where eye_id = ?
    union all select id from document where eye_id = ?
    union all select id from contact_attempt where eye_id = ?
) order by id
