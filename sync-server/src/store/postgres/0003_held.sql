-- Layout 3. A released layout is never edited: the next one is a file of its own.
-- The jobs that a device has written to: authors begin with their device.
CREATE INDEX author_by_device ON @author (author, job);

-- Bytes of whole files, kept in parts so that nodes that take photos at once seldom wait.
CREATE TABLE @held (
    part int8 PRIMARY KEY,
    bytes int8 NOT NULL
);
INSERT INTO @held (part, bytes) SELECT part, 0 FROM generate_series(0, 15) part;
UPDATE @held h SET bytes = s.bytes
    FROM (SELECT get_byte(hash, 0) & 15 AS part, sum(size)::int8 AS bytes FROM @blob GROUP BY 1) s
    WHERE s.part = h.part;

-- Room that is set aside for files on their way in, where a company has a quota.
CREATE TABLE @aside (
    kind text NOT NULL,
    hash bytea NOT NULL,
    size int8 NOT NULL,
    ends int8 NOT NULL,
    PRIMARY KEY (kind, hash)
);

CREATE FUNCTION @blob_counted() RETURNS trigger LANGUAGE plpgsql AS $counted$
BEGIN
    IF TG_OP = 'DELETE' THEN
        UPDATE @held SET bytes = bytes - OLD.size WHERE part = get_byte(OLD.hash, 0) & 15;
        RETURN OLD;
    END IF;
    UPDATE @held SET bytes = bytes + NEW.size WHERE part = get_byte(NEW.hash, 0) & 15;
    DELETE FROM @aside WHERE kind = NEW.kind AND hash = NEW.hash;
    RETURN NEW;
END
$counted$;
CREATE TRIGGER blob_counted AFTER INSERT OR DELETE ON @blob
    FOR EACH ROW EXECUTE FUNCTION @blob_counted();
