-- What people did is looked up by person, kind and job, the newest first.
CREATE INDEX deed_by_person ON @deed (who_id, seq);
CREATE INDEX deed_by_kind ON @deed (what, seq);
CREATE INDEX deed_by_job ON @deed (job, seq);
