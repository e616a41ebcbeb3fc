-- De-identified eyes. As in deidentified.sql only the clinical tables are named.

-- name: eye ids
select id from eye order by id

-- Everything of the patient whose eye it is, since the days of both eyes begin at
-- one operation.
-- name: clinical nouns around eye
with one as (select patient_id from eye where id = ?)
select 'patient', body from patient where id in (select patient_id from one)
union all select 'eye', body from eye where patient_id in (select patient_id from one)
union all select 'scan', body from scan where eye_id in (select id from eye where patient_id in (select patient_id from one))
union all select 'hole_figures', body from hole_figures where eye_id in (select id from eye where patient_id in (select patient_id from one))
union all select 'plan', body from plan where eye_id in (select id from eye where patient_id in (select patient_id from one))
union all select 'operation', body from operation where eye_id in (select id from eye where patient_id in (select patient_id from one))
union all select 'visit', body from visit where eye_id in (select id from eye where patient_id in (select patient_id from one))
union all select 'film', body from film where eye_id in (select id from eye where patient_id in (select patient_id from one))

-- For a list: eyes, their patients, the operations of these eyes' patients. The
-- identifiers stand once in each of the three places.
-- name: eyes for cases
select 'eye', body from eye where id in (%s)
union all select 'patient', body from patient where id in (select patient_id from eye where id in (%s))
union all select 'operation', body from operation where eye_id in (
    select f.id from eye e join eye f on f.patient_id = e.patient_id where e.id in (%s)
)
