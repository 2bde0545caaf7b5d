-- Layout 1. A released layout is never edited: the next one is a file of its own.
CREATE TABLE company (
    only_one INTEGER PRIMARY KEY CHECK (only_one = 1),
    id BLOB NOT NULL,
    name TEXT NOT NULL,
    office_key BLOB NOT NULL,
    founded_at INTEGER NOT NULL
) STRICT;

CREATE TABLE device (
    id BLOB PRIMARY KEY,
    key BLOB NOT NULL,
    certificate BLOB NOT NULL,
    certificate_signature BLOB NOT NULL,
    known_since INTEGER NOT NULL,
    revoked_at INTEGER
) STRICT, WITHOUT ROWID;

CREATE TABLE code (
    hash BLOB PRIMARY KEY,
    role TEXT NOT NULL,
    person TEXT NOT NULL,
    made_at INTEGER NOT NULL,
    expires_at INTEGER NOT NULL,
    used_by BLOB
) STRICT, WITHOUT ROWID;

-- One row a change, in causal order: a change is added after those it builds on.
CREATE TABLE change (
    seq INTEGER PRIMARY KEY,
    job BLOB NOT NULL,
    author BLOB NOT NULL,
    number INTEGER NOT NULL,
    hash BLOB NOT NULL,
    signature BLOB,
    bytes BLOB NOT NULL,
    UNIQUE (job, author, number),
    UNIQUE (job, hash)
) STRICT;
CREATE INDEX change_by_job ON change (job, seq);

-- The last change of each author, so that a table is read without the changes.
CREATE TABLE author (
    job BLOB NOT NULL,
    author BLOB NOT NULL,
    number INTEGER NOT NULL,
    hash BLOB NOT NULL,
    PRIMARY KEY (job, author)
) STRICT, WITHOUT ROWID;

CREATE TABLE job (
    id BLOB PRIMARY KEY,
    changes INTEGER NOT NULL,
    first_news INTEGER NOT NULL,
    last_news INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- What was read from a job last; it can be made anew.
CREATE TABLE summary (
    job BLOB PRIMARY KEY,
    title TEXT NOT NULL,
    date_of_loss TEXT,
    findings INTEGER NOT NULL,
    photos INTEGER NOT NULL,
    -- How many changes it was read from.
    read_at INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE photo (
    job BLOB NOT NULL,
    hash BLOB NOT NULL,
    ordinal INTEGER NOT NULL,
    size INTEGER NOT NULL,
    role TEXT,
    PRIMARY KEY (job, hash)
) STRICT, WITHOUT ROWID;

CREATE TABLE blob (
    kind TEXT NOT NULL,
    hash BLOB NOT NULL,
    size INTEGER NOT NULL,
    complete_at INTEGER NOT NULL,
    PRIMARY KEY (kind, hash)
) STRICT, WITHOUT ROWID;

CREATE TABLE snapshot (
    job BLOB PRIMARY KEY,
    held BLOB NOT NULL,
    heads BLOB NOT NULL,
    bytes BLOB NOT NULL,
    made_at INTEGER NOT NULL
) STRICT;

CREATE TABLE peer (
    job BLOB NOT NULL,
    device BLOB NOT NULL,
    held BLOB NOT NULL,
    at INTEGER NOT NULL,
    PRIMARY KEY (job, device)
) STRICT, WITHOUT ROWID;

CREATE TABLE audit (
    seq INTEGER PRIMARY KEY,
    at INTEGER NOT NULL,
    what TEXT NOT NULL,
    device BLOB,
    job BLOB,
    detail TEXT NOT NULL
) STRICT;
