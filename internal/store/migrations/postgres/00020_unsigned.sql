-- Papers that wait for a signature stand in the due list too: figures of a hole
-- that nobody has signed and none replaces, and operations. Their day stands
-- behind a tilde, after every day that was agreed with a patient, so that lists of
-- days never meet them.

-- +goose Up
-- First, since the second list below looks by it: without it a large record takes hours.
create index hole_figures_supersedes on hole_figures (supersedes);
insert into due (eye_id, reason, source_id, patient_id, due_on, since)
select o.eye_id, 'unsigned_operation', o.id, e.patient_id, '~' || o.day, o.day
from operation o join eye e on e.id = o.eye_id and e.struck = 0 join patient p on p.id = e.patient_id and p.struck = 0
where o.struck = 0 and o.signed = 0
on conflict do nothing;
insert into due (eye_id, reason, source_id, patient_id, due_on, since)
select f.eye_id, 'unsigned_figures', f.id, f.patient_id, '~' || f.day, f.day
from hole_figures f
where f.struck = 0 and (f.body::json -> 'signed') is null
and not exists (select 1 from hole_figures n where n.supersedes = f.id and n.struck = 0)
on conflict do nothing;
create index person_birth on person (birth_date, id);
create index merge_survivor on merge (survivor);
create index merge_absorbed on merge (absorbed);
