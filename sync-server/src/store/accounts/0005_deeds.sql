-- What people did is looked up by person, kind and job, the newest first: SQLite keeps the number of
-- the row at the end of each of these.
CREATE INDEX deed_by_person ON deed (who_id);
CREATE INDEX deed_by_kind ON deed (what);
CREATE INDEX deed_by_job ON deed (job);
