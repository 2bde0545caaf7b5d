-- Layout 4: what the list of jobs says without opening a job. Summaries are made anew.
ALTER TABLE @summary ADD COLUMN owner text;
ALTER TABLE @summary ADD COLUMN questions int8 NOT NULL DEFAULT 0;
-- 0 expected, 1 at the house, 2 left.
ALTER TABLE @summary ADD COLUMN crew int8 NOT NULL DEFAULT 0;
UPDATE @summary SET read_at = 0;

-- The office's own word on a job.
CREATE TABLE @mark (
    job bytea PRIMARY KEY,
    mark text NOT NULL,
    person bytea NOT NULL,
    at int8 NOT NULL
);
