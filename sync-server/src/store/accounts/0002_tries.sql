-- Layout 2. A released layout is never edited: the next one is a file of its own.
CREATE INDEX assigned_by_device ON assigned (device);

-- Wrong tries in a window of time, by a hash of what was tried and by whom.
CREATE TABLE tries (
    key BLOB PRIMARY KEY,
    ends INTEGER NOT NULL,
    count INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX tries_by_end ON tries (ends);

-- Challenges that were answered, until their time is over.
CREATE TABLE answered (
    nonce BLOB PRIMARY KEY,
    ends INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX answered_by_end ON answered (ends);
