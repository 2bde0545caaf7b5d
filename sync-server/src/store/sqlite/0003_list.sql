-- Layout 3: what the list of jobs says without opening a job. Summaries are made anew.
ALTER TABLE summary ADD COLUMN owner TEXT;
ALTER TABLE summary ADD COLUMN questions INTEGER NOT NULL DEFAULT 0;
-- 0 expected, 1 at the house, 2 left.
ALTER TABLE summary ADD COLUMN crew INTEGER NOT NULL DEFAULT 0;
UPDATE summary SET read_at = 0;
