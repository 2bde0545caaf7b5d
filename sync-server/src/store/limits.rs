//! Every limit of storage, with its reason.

use std::time::Duration;

/// Connections that one node keeps to the database: the gate, which is work for the processor,
/// stands before each write, so a node of a few cores keeps no more than this many busy.
pub const CONNECTIONS: usize = 8;
/// Most connections that may be asked for: PostgreSQL itself allows a hundred unless told otherwise.
pub const CONNECTIONS_MOST: usize = 64;
/// Longest name of a schema, letters: PostgreSQL cuts names at 63.
pub const SCHEMA_LETTERS: usize = 48;
/// How long making a connection may take: three lost packets and their repetition.
pub const CONNECT: Duration = Duration::from_secs(10);
/// How long one statement may take before the database gives it up.
pub const STATEMENT: Duration = Duration::from_secs(20);
/// How long a statement waits for a job that another node writes.
pub const JOB_LOCK: Duration = Duration::from_secs(15);
/// How long a whole call may take before this side gives up the connection: longer than a
/// statement, so that the database's own word is heard where there is one.
pub const CALL: Duration = Duration::from_secs(30);
/// How often a node looks for what others wrote when no hint comes.
pub const LOOK_EVERY: Duration = Duration::from_secs(2);
/// Hints are gathered for so long before one is sent: fifty a second are the most.
pub const HINT_EVERY: Duration = Duration::from_millis(20);
/// How long news stay in the database. A node that has not looked for half of it looks at all jobs.
pub const NEWS_KEPT: Duration = Duration::from_secs(3_600);
/// News read at a time; where there are more, a node looks at all jobs.
pub const NEWS_AT_ONCE: usize = 10_000;
/// Bytes of a file that are put at a time. Larger files go in parts.
pub const PART: usize = 8 << 20;
/// How long one request to the bucket may take: a part over a line of two megabits.
pub const BUCKET_REQUEST: Duration = Duration::from_secs(60);
/// How long requests to the bucket are tried again: a phone waits for about this long.
pub const BUCKET_TRIES: Duration = Duration::from_secs(20);
/// Rows copied at a time from one database to another.
pub const COPY_ROWS: usize = 500;
/// Bytes of rows copied at a time, unless one row is larger.
pub const COPY_BYTES: usize = 8 << 20;
/// Files copied at the same time between a folder and a bucket.
pub const COPY_FILES: usize = 4;
/// Bytes of SQLite's log that are on the disk from the start: about what it grows to before its pages
/// are taken over into the file and it begins anew.
pub const LOG_BYTES: u32 = 4 << 20;
/// Free bytes of a disk on which that is done: the logs of many companies are nothing to it.
pub const LOG_FREE_BYTES: u64 = 256 << 20;
