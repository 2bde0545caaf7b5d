//! Every limit of the office server, with its reason. Those that devices share are in the core's
//! `limits`. A test goes one past each.

use chalkwalk_core::job::Millis;

const SECOND: Millis = 1_000;
const MINUTE: Millis = 60 * SECOND;
const HOUR: Millis = 60 * MINUTE;
const DAY: Millis = 24 * HOUR;

/// A person who has asked for nothing for so long is signed out, milliseconds: a working day.
pub const SIGN_IN_IDLE_MS: Millis = 12 * HOUR;
/// A sign-in ends after so long in any case, milliseconds: two working weeks.
pub const SIGN_IN_LIFE_MS: Millis = 14 * DAY;
/// How often a sign-in's last use is written down, milliseconds: reading pages must not mean
/// writing for each picture.
pub const SIGN_IN_TOUCH_MS: Millis = 5 * MINUTE;
/// Most sign-ins of one person at a time: the oldest end. A person has a few machines.
pub const SIGN_INS: usize = 20;
/// Fewest characters of a password: common practice for a password that stands alone.
pub const PASSWORD_CHARS: usize = 12;
/// Most bytes of a password: a long sentence. Longer ones would only cost the server time.
pub const PASSWORD_BYTES: usize = 256;
/// Fewest different characters in a password.
pub const PASSWORD_KINDS: usize = 5;
/// Passwords checked at a time: each takes 19 MiB and one processor.
pub const PASSWORDS_AT_ONCE: usize = 2;
/// How long a sign-in waits for its turn, milliseconds.
pub const PASSWORD_WAIT_MS: u64 = 5_000;
/// Wrong passwords from one network in a minute: an office of people who mistype.
pub const SIGN_IN_TRIES: u32 = 10;
/// Wrong passwords from everywhere in a minute.
pub const SIGN_IN_TRIES_OF_ALL: u32 = 300;
/// Wrong passwords of one account in a quarter of an hour: guessing twelve characters stays
/// hopeless, and nobody is locked out for long.
pub const ACCOUNT_TRIES: u32 = 10;
/// The quarter of an hour, milliseconds.
pub const ACCOUNT_WINDOW_MS: Millis = 15 * MINUTE;
/// Wrong tokens and challenges from one network in a minute: phones behind one router.
pub const TOKEN_TRIES: u32 = 60;
/// Wrong tokens and challenges from everywhere in a minute.
pub const TOKEN_TRIES_OF_ALL: u32 = 1_000;
/// A link that invites a person counts so long, milliseconds.
pub const INVITATION_MS: Millis = 7 * DAY;
/// A link that signs a person in, or sets a new password, counts so long, milliseconds.
pub const ENTRY_MS: Millis = DAY;
/// Most people of one company.
pub const PEOPLE: usize = 2_000;
/// Longest name of a person or mail address, bytes; the same as a device's name.
pub const NAME_BYTES: usize = chalkwalk_core::limits::NAME_BYTES;
/// Largest form of a page, bytes: a few short fields.
pub const FORM_BYTES: usize = 16 << 10;
/// Largest form of somebody who is signed in, bytes: a record with its longest texts, each with the
/// value it was shown with, in the three bytes a letter takes in a form.
pub const RECORD_FORM_BYTES: usize = 512 << 10;
/// Largest form with a file in it, bytes: the largest table that is read, and a few short fields.
pub const FILE_FORM_BYTES: usize = chalkwalk_core::limits::SCOPE_FILE_BYTES + FORM_BYTES;
/// Most papers of one office beside the records: price list, inputs of scopes, files of others.
pub const PAPERS: usize = 20_000;
/// Tables read at a time: a spreadsheet may unpack to 64 MB.
pub const TABLES_AT_ONCE: usize = 2;
/// How long a table waits for its turn, milliseconds.
pub const TABLE_WAIT_MS: u64 = 10_000;
/// Packets made at a time: each copies every photo of a job once, and sets some of them in a PDF.
pub const PACKETS_AT_ONCE: usize = 1;
/// Bytes of a packet that are read at a time while somebody fetches it.
pub const PACKET_PIECE: usize = 256 << 10;
/// Longest reason that a form takes, bytes.
pub const REASON_BYTES: usize = 2_000;
/// Lines of custody on one page.
pub const CUSTODY_PAGE: usize = 200;
/// Rows of another's table shown before it is kept.
pub const PREVIEW_ROWS: usize = 12;
/// A device has so long to answer a challenge, milliseconds.
pub const CHALLENGE_MS: Millis = 2 * MINUTE;
/// A device's HTTP token counts so long, milliseconds: the background upload of one large photo
/// over a slow link.
pub const TOKEN_MS: Millis = 10 * MINUTE;
/// Largest request of the token and photo calls that carry JSON, bytes.
pub const CALL_BYTES: usize = 128 << 10;
/// Most hashes in one question which files are lacking.
pub const LACKING_HASHES: usize = 1_000;
/// Bytes of an upload that are made durable at a time when it can be resumed.
pub const UPLOAD_PIECE: usize = 1 << 20;
/// Bytes of a refused upload that are still read, so that a sender who looks up only at the end
/// hears why. A longer one should ask first (`Expect: 100-continue`).
pub const REFUSED_BYTES: u64 = 2 << 20;
/// A refused upload is still read for so long, milliseconds.
pub const REFUSED_MS: u64 = 5_000;
/// An upload that sends nothing for so long is cut, milliseconds.
pub const UPLOAD_STALL_MS: u64 = 60_000;
/// Whole-file uploads that one server takes at a time.
pub const UPLOADS: usize = 64;
/// Longest life of a shared link, days: a claim seldom takes longer than two years.
pub const SHARE_DAYS: u32 = 730;
/// Most shared links of one job.
pub const SHARES: usize = 200;
/// Largest report that is given out of a packet by itself, bytes: some 1,500 photos.
pub const PACKET_PDF_BYTES: u64 = 256 << 20;
/// Packets of a company that wait or are being made at a time; they are made one after another.
pub const PACKETS_WAITING: usize = 20;
/// Finished packets of a company that are kept to be fetched; older ones are made again.
pub const PACKETS_KEPT: usize = 20;
/// Longest note on a shared link, bytes.
pub const SHARE_NOTE_BYTES: usize = 200;
/// Entries of the audit on one page.
pub const AUDIT_PAGE: usize = 200;
/// News of jobs is waited for so long, before pages are worked out again ahead of who asks,
/// milliseconds.
pub const AHEAD_PAUSE_MS: u64 = 250;
/// Jobs that the audit offers to choose from; any job leads to its own part of the audit.
pub const AUDIT_JOBS: usize = 100;
/// Longest detail of an audit entry, bytes; longer ones are cut.
pub const AUDIT_DETAIL_BYTES: usize = 400;
/// Longest name of a company in an address, letters.
pub const SLUG_LETTERS: usize = 40;
/// Most companies on one server: each holds a database and up to 32 open documents.
pub const COMPANIES: usize = 64;
/// How often a server looks whether another process has shut out a device, milliseconds.
pub const WATCH_MS: u64 = 1_000;
/// A document that nobody has worked at for so long is closed, milliseconds: a crew that records
/// sends something every few seconds.
pub const DOCUMENT_IDLE_MS: u64 = 30_000;
/// Room for a file on its way in is kept so long, milliseconds, where a company has a quota: the
/// largest original over a slow link. A phone that comes back later asks again.
pub const ASIDE_MS: Millis = 6 * HOUR;
/// How often a server looks for companies that were added, milliseconds.
pub const COMPANIES_MS: u64 = 2_000;
/// How often what was named for removal is removed, milliseconds.
pub const SWEEP_MS: u64 = 3_600_000;
/// A TLS handshake that takes longer is cut, milliseconds.
pub const HANDSHAKE_MS: u64 = 10_000;
/// TLS handshakes under way at a time.
pub const HANDSHAKES: usize = 256;
/// Processes in which batches of peers are judged: one bad batch at a time must not keep others
/// waiting, and a small machine has few processors.
pub const WORKERS: usize = 4;
/// Memory of such a process, bytes, beyond what the program takes at its start: the largest job is
/// held three times while a batch is proven.
pub const WORKER_MEMORY: u64 = 2 << 30;
/// How long one batch may take there, milliseconds: ten times the largest honest one on a slow
/// machine.
pub const WORKER_MS: u64 = 30_000;
/// How long such a process may take to start, milliseconds.
pub const WORKER_START_MS: u64 = 10_000;
/// Documents that such a process keeps: all of them together as many as the server keeps open.
pub const WORKER_DOCUMENTS: usize = chalkwalk_core::limits::OPEN_DOCUMENTS / WORKERS;
/// Largest frame to such a process, bytes: the largest document and what stands round it.
pub const WORKER_FRAME_BYTES: usize = chalkwalk_core::limits::SNAPSHOT_BYTES + (1 << 20);
/// Largest answer of such a process, bytes: a few words.
pub const WORKER_ANSWER_BYTES: usize = 64 << 10;
/// Refused batches that are kept to be looked at; the oldest leave.
pub const QUARANTINED: usize = 200;
/// Bytes that they may take together: a few of the largest and many of the usual ones.
pub const QUARANTINE_BYTES: u64 = 64 << 20;
/// Pages of one person and job within so long are one look, milliseconds: a walk of two hundred
/// photos is one line of the audit, not two hundred.
pub const SAME_LOOK_MS: Millis = 10 * MINUTE;
/// Jobs on one page of the list.
pub const JOBS_PAGE: usize = 50;
/// Longest text that jobs are searched for, bytes.
pub const SEARCH_BYTES: usize = 200;
/// Pages that listen for news at a time, of all people: each holds a connection.
pub const LIVE_PAGES: usize = 512;
/// A page listens so long before it asks again and the sign-in is looked at again, milliseconds.
pub const LIVE_MS: u64 = 15 * 60_000;
/// How often a listening page that hears nothing is told that the line is open, milliseconds.
pub const LIVE_BEAT_MS: u64 = 20_000;
/// Largest form with which a job is prepared, bytes: a measurement report and a few files of storm
/// reports, of which a year of the whole country takes some twelve once compressed.
pub const PREPARE_BYTES: usize = 32 << 20;
/// Most typed fields of a form with files: three times what any of ours has.
pub const FORM_FIELDS: usize = 64;
/// Large files of a form that are read at a time: each takes a processor for seconds.
pub const FILES_READ: usize = 1;
/// Most files of storm reports handed in with a job: three days in two formats.
pub const STORM_FILES: usize = 6;
/// Most storm reports that are kept with a job: what one person can read through.
pub const STORM_KEPT: usize = 200;
/// Findings on one page of a list.
pub const FINDINGS_PAGE: usize = 100;
/// Pictures on the page of one place; the walk has them all.
pub const PICTURES_PAGE: usize = 120;
/// How long what follows from acknowledged changes waits for more of them, milliseconds.
pub const FOLLOW_PAUSE_MS: u64 = 25;
/// Certificates that a session keeps in mind once they are verified: more than the devices that
/// record at one house.
pub const PROVEN_CERTIFICATES: usize = 16;
