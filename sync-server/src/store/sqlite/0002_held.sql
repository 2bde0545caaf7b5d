-- Layout 2. A released layout is never edited: the next one is a file of its own.
-- The jobs that a device has written to: authors begin with their device.
CREATE INDEX author_by_device ON author (author, job);

-- Bytes of whole files.
CREATE TABLE held (
    part INTEGER PRIMARY KEY,
    bytes INTEGER NOT NULL
) STRICT;
INSERT INTO held (part, bytes) SELECT 0, coalesce(sum(size), 0) FROM blob;

-- Room that is set aside for files on their way in, where a company has a quota.
CREATE TABLE aside (
    kind TEXT NOT NULL,
    hash BLOB NOT NULL,
    size INTEGER NOT NULL,
    ends INTEGER NOT NULL,
    PRIMARY KEY (kind, hash)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER blob_counted AFTER INSERT ON blob BEGIN
    UPDATE held SET bytes = bytes + NEW.size WHERE part = 0;
    DELETE FROM aside WHERE kind = NEW.kind AND hash = NEW.hash;
END;
CREATE TRIGGER blob_uncounted AFTER DELETE ON blob BEGIN
    UPDATE held SET bytes = bytes - OLD.size WHERE part = 0;
END;
