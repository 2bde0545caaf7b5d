-- Layout 1. A released layout is never edited: the next one is a file of its own.
CREATE TABLE person (
    id BLOB PRIMARY KEY,
    name TEXT NOT NULL,
    mail TEXT,
    role TEXT NOT NULL,
    password TEXT,
    made_at INTEGER NOT NULL,
    shut_out_at INTEGER
) STRICT, WITHOUT ROWID;

-- Names and mail addresses as they are compared: each opens one account.
CREATE TABLE login (
    folded TEXT PRIMARY KEY,
    person BLOB NOT NULL REFERENCES person (id)
) STRICT, WITHOUT ROWID;

CREATE TABLE sign_in (
    hash BLOB PRIMARY KEY,
    person BLOB NOT NULL REFERENCES person (id),
    made_at INTEGER NOT NULL,
    seen_at INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX sign_in_by_person ON sign_in (person);

CREATE TABLE once (
    hash BLOB PRIMARY KEY,
    purpose TEXT NOT NULL,
    -- A role's word or a person's id, by purpose.
    about BLOB NOT NULL,
    made_at INTEGER NOT NULL,
    expires_at INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE share (
    seq INTEGER PRIMARY KEY,
    id BLOB NOT NULL UNIQUE,
    hash BLOB NOT NULL UNIQUE,
    job BLOB NOT NULL,
    note TEXT NOT NULL,
    made_by BLOB NOT NULL,
    made_at INTEGER NOT NULL,
    expires_at INTEGER NOT NULL,
    withdrawn_at INTEGER
) STRICT;
CREATE INDEX share_by_job ON share (job);

CREATE TABLE closed (
    job BLOB PRIMARY KEY,
    at INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE assigned (
    job BLOB NOT NULL,
    device BLOB NOT NULL,
    PRIMARY KEY (job, device)
) STRICT, WITHOUT ROWID;

CREATE TABLE deed (
    seq INTEGER PRIMARY KEY,
    at INTEGER NOT NULL,
    who TEXT NOT NULL,
    who_id BLOB,
    what TEXT NOT NULL,
    job BLOB,
    about TEXT NOT NULL
) STRICT;

-- What people did stays as it was written.
CREATE TRIGGER deed_stays BEFORE DELETE ON deed BEGIN
    SELECT RAISE(ABORT, 'what people did is never removed');
END;
CREATE TRIGGER deed_unaltered BEFORE UPDATE ON deed BEGIN
    SELECT RAISE(ABORT, 'what people did is never altered');
END;
