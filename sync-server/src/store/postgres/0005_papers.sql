-- Layout 5: papers of the office that are no part of a job's record.
CREATE TABLE @paper (
    -- By bytes, whatever order of letters the database has: rows are compared with other stores.
    name text COLLATE "C" PRIMARY KEY,
    -- Tells one version from another.
    mark text NOT NULL,
    bytes bytea NOT NULL
);
