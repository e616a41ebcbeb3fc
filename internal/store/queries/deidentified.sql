-- The clinical tables alone: person, file_origin, merge, person_now,
-- search_suffix, history and contest are never read here.

-- name: clinical nouns
select 'patient', body from patient
union all select 'eye', body from eye
union all select 'scan', body from scan
union all select 'hole_figures', body from hole_figures
union all select 'plan', body from plan
union all select 'operation', body from operation
union all select 'visit', body from visit
union all select 'film', body from film
