-- Layout 3: the office's own word on a job.
CREATE TABLE mark (
    job BLOB PRIMARY KEY,
    mark TEXT NOT NULL,
    person BLOB NOT NULL,
    at INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
