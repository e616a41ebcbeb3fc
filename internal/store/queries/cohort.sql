-- Eyes by what they have; identifiers rise with the time of entry, so that the
-- newest eyes come first.

-- name: eyes diagnosed
select distinct d.eye_id from diagnosis d
join eye e on e.id = d.eye_id and e.struck = 0
join patient t on t.id = e.patient_id and t.struck = 0
where d.eye_id < ? and d.code in
