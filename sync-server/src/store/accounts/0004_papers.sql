-- Layout 4: papers of the office that are no part of a job's record.
CREATE TABLE paper (
    name TEXT PRIMARY KEY,
    -- Tells one version from another.
    mark TEXT NOT NULL,
    bytes BLOB NOT NULL
) STRICT;
