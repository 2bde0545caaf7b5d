//! Every limit of the core, with its reason. A test goes one past each.

/// Largest frame of a session, bytes: one photo chunk or one batch of changes with room to spare.
pub const FRAME_BYTES: usize = 1 << 20;
/// Largest batch of changes once inflated, bytes.
pub const BATCH_BYTES: usize = 8 << 20;
/// Most changes in a batch: an acknowledgement then costs at most about two seconds of work.
pub const BATCH_CHANGES: usize = 4096;
/// Largest single change once inflated, bytes: a record with every text field at its limit.
pub const CHANGE_BYTES: usize = 1 << 20;
/// Most operations in one change: one action touches one record.
pub const CHANGE_OPS: usize = 1024;
/// Most changes in one job: fifty times the large job of the benches.
pub const JOB_CHANGES: u64 = 200_000;
/// Most jobs named in one session.
pub const SESSION_JOBS: usize = 4096;
/// Most authors (a device's opened sessions) in one job.
pub const JOB_AUTHORS: usize = 8192;
/// Longest text of one field, bytes: about ten pages.
pub const TEXT_BYTES: usize = 32 << 10;
/// Most bytes of one table read from another's file (a measurement report, a scope): about 3,000
/// rows, and well inside [`CHANGE_BYTES`].
pub const TABLE_BYTES: usize = 256 << 10;
/// Most columns of such a table: beyond any report, and small enough that rows cost little.
pub const TABLE_COLUMNS: usize = 200;
/// Bytes of a photo carried in one frame.
pub const PHOTO_CHUNK: usize = 256 << 10;
/// Photo chunks sent ahead of their acknowledgement.
pub const PHOTO_WINDOW: usize = 4;
/// Largest original, bytes: a 200-megapixel JPEG.
pub const ORIGINAL_BYTES: u64 = 96 << 20;
/// Largest thumbnail, bytes.
pub const THUMBNAIL_BYTES: u64 = 96 << 10;
/// Most pixels on either side of a picture that is decoded.
pub const PICTURE_SIDE: u32 = 30_000;
/// Most pixels of a picture that is decoded.
pub const PICTURE_PIXELS: u64 = 220_000_000;
/// Pixels of a thumbnail's long side.
pub const THUMBNAIL_SIDE: u32 = 320;
/// Most bytes of memory that decoding one picture may take: a phone lends an app little more.
pub const DECODE_BYTES: u64 = 256 << 20;
/// Most files in a folder that is read as a camera roll: ten years of daily visits.
pub const ROLL_FILES: usize = 100_000;
/// Changes after which the journal writes a snapshot.
pub const SNAPSHOT_EVERY: u64 = 200;
/// Most bytes of a snapshot once inflated.
pub const SNAPSHOT_BYTES: usize = 256 << 20;
/// Changes that go into one batch, bytes before compression: what a cut link loses at most is a
/// few hundred kilobytes on the wire.
pub const BATCH_TARGET_BYTES: usize = 1 << 20;
/// Batches sent ahead of their acknowledgement: many small jobs in one go.
pub const BATCH_WINDOW: usize = 256;
/// Bytes of changes sent ahead of their acknowledgement: a whole large job in one go.
pub const BATCH_WINDOW_BYTES: usize = 8 << 20;
/// Files asked for in one frame.
pub const WANT_PAGE: usize = 256;
/// Most files asked for in one session: ten times the photos of a hundred large jobs.
pub const SESSION_FILES: usize = 200_000;
/// Largest certificate body, bytes: names of a few hundred letters.
pub const CERTIFICATE_BYTES: usize = 4096;
/// Longest reason in words that a session gives when it ends, bytes.
pub const WORDS_BYTES: usize = 512;
/// A side that has said nothing for so long says that it is still there, milliseconds.
pub const KEEP_ALIVE_MS: i64 = 20_000;
/// A session that has heard nothing for so long ends, milliseconds: three signs of life missed,
/// and time for a slow phone to keep a large batch.
pub const IDLE_MS: i64 = 90_000;
/// Longest visit without a recorded departure, milliseconds: a long summer day.
pub const VISIT_MILLIS: i64 = 12 * 3_600_000;
/// How far a photo may lie before or after its visit, milliseconds: clocks differ, and the street
/// is photographed before anybody writes "arrived".
pub const VISIT_SLACK_MILLIS: i64 = 30 * 60_000;
/// Metres from the house beyond which a photo is asked about: a large lot, and twice the error of
/// a phone under trees.
pub const FAR_FROM_LOT_M: f64 = 150.0;
/// Difference between report and gauge, inches in twelve, from which a pitch is asked about: a
/// gauge is read to half an inch.
pub const PITCH_AT_ODDS: f64 = 0.5;
/// Longest name of a person or device at enrolment, bytes.
pub const NAME_BYTES: usize = 120;
/// Largest enrolment request, bytes: two names, a key and a code.
pub const ENROL_BYTES: usize = 4 << 10;
/// Wrong enrolment codes from one network in a minute: a person who mistypes.
pub const ENROL_TRIES: u32 = 10;
/// Wrong enrolment codes from everywhere in a minute: guessing sixty bits stays hopeless and cheap
/// to refuse.
pub const ENROL_TRIES_OF_ALL: u32 = 600;
/// Documents that the office keeps open: about 10 MB each.
pub const OPEN_DOCUMENTS: usize = 32;
/// Sessions that one server holds at a time: each may need two threads at once, of 512.
pub const LIVE_SESSIONS: usize = 200;
/// Most files of a packet that is checked: an original, a thumbnail and a capture for each of ten
/// thousand photos.
pub const PACKET_FILES: usize = 30_000;
/// Deepest folder of a packet that is checked, the bag's own folder being 0: `data/photos` and one
/// to spare.
pub const PACKET_DEPTH: usize = 3;
/// Largest text of a packet that is read at once, bytes: the custody of the largest job.
pub const PACKET_TEXT_BYTES: u64 = 128 << 20;
/// Largest file of another's scope, bytes: a scope of a few hundred rows takes a hundredth of it.
pub const SCOPE_FILE_BYTES: usize = 8 << 20;
/// Most bytes of a spreadsheet once inflated: a small file that grows past it is no scope.
pub const SCOPE_INFLATED_BYTES: u64 = 64 << 20;
/// Most files inside a spreadsheet: one for each sheet, and some twenty around them.
pub const SCOPE_PARTS: usize = 1024;
/// Most sheets of a spreadsheet: a scope stands on one.
pub const SCOPE_SHEETS: usize = 64;
/// Most filled rows of another's scope: ten times the scope of a large house.
pub const SCOPE_ROWS: usize = 5_000;
/// Most cells in one row of another's scope: twice what a wide export has.
pub const SCOPE_COLUMNS: usize = 128;
/// Most filled cells of another's scope: [`SCOPE_ROWS`] with twenty columns each.
pub const SCOPE_CELLS: usize = 100_000;
/// Longest cell of another's scope, bytes: a page of remarks.
pub const SCOPE_CELL_BYTES: usize = 4 << 10;
/// Rows from the top in which the head of another's scope is looked for: a page of titles.
pub const SCOPE_HEAD_ROWS: usize = 60;
/// Largest quantity of one line of a scope, in its unit: a thousand times a large house's siding.
pub const SCOPE_QUANTITY: f64 = 10_000_000.0;
/// Most money in one row of another's scope, in its currency: a thousand houses.
pub const SCOPE_MONEY: u64 = 1_000_000_000;
/// Largest price list that is read, bytes: about 20,000 rows, as many as a large trade list has.
pub const PRICE_LIST_BYTES: usize = 4 << 20;
/// Highest price of one unit: a thousand times a dear skylight, and far from the end of the decimals.
pub const UNIT_PRICE: i64 = 10_000_000;
/// Largest count of hits that is reckoned with: a thousand times what a crew chalks in a day, and
/// as far as the incomplete beta function in use is exact to eight digits.
pub const HITS_COUNTED: u64 = 50_000;
/// Most outcomes that an exact comparison of several counts goes through: a few hundredths of a
/// second on a phone. Above it the chi-square test answers, and says so.
pub const MULTINOMIAL_OUTCOMES: f64 = 200_000.0;
/// Most counts compared at once, and most surfaces in one pattern of hits: ten large roofs.
pub const PATTERN_SURFACES: usize = 200;
/// Largest ratio of wind to fall speed that a pattern of hits is fitted with: a 100 mph gust on
/// small natural hail. Above it walls alone are hit and the ratio cannot be told.
pub const PATTERN_RATIO: f64 = 4.0;
/// Fewest hits from which a wind is fitted: below it every direction fits some pattern (common
/// practice, no source; the intervals say the rest).
pub const PATTERN_HITS: u64 = 10;
/// Fewest different facings from which a wind is fitted: two cannot tell left from right of the
/// line between them.
pub const PATTERN_FACINGS: usize = 3;
/// Degrees by which two facings differ at least to count as different.
pub const PATTERN_FACING_APART: f64 = 30.0;
/// Most slopes that are compared in pairs: 66 pairs; above it only all of them at once.
pub const SLOPES_IN_PAIRS: usize = 12;
/// Height above grade, inches, below which hits are more likely from garden equipment than from
/// hail (common practice, no source).
pub const LOW_HIT_INCHES: f64 = 36.0;
/// Largest area of a slope, square feet, and longest edge, feet: beyond any house, so a slip of
/// the hand.
pub const ROOF_MEASURE: f64 = 1e7;
/// Largest waste that is taken, percent: twice the measured area.
pub const WASTE_PERCENT: f64 = 100.0;
/// Least that one unit of a material may be said to cover, so that no quantity overflows.
pub const LEAST_COVERAGE: f64 = 1e-3;
/// Share by which a bought report's lengths and areas may differ from others before they are
/// called different: two careful measurers of one roof differ by about that (common practice).
pub const MEASURE_AT_ODDS: f64 = 0.02;
/// Rise in twelve over which a slope is called steep, as 29 CFR 1926.500(b) does.
pub const STEEP_OVER_RISE: f64 = 4.0;
/// Storeys from which access is called high (common practice, no source).
pub const HIGH_FROM_STOREYS: u32 = 2;
/// Most corners of an outline whose roof is worked out: a house with fifty wings.
pub const ROOF_POINTS: usize = 200;
/// Longest text of a roof plan, bytes: the most corners with every figure at full length.
pub const PLAN_BYTES: usize = 64 << 10;
/// Feet that a roof may reach across, and that a corner may lie from zero: a mile would be a
/// mistake of units.
pub const ROOF_EXTENT_FT: f64 = 5_000.0;
/// Widest overhang, feet: a porch has posts and is drawn as part of the outline.
pub const ROOF_OVERHANG_FT: f64 = 20.0;
/// Least pitch whose planes are worked out, inches in twelve: below it a roof counts as flat, and
/// the lines where planes meet lie anywhere.
pub const ROOF_RISE_LEAST: f64 = 0.1;
/// Steepest pitch, inches in twelve: the range of a recorded pitch.
pub const ROOF_RISE_MOST: f64 = 40.0;
/// Largest file of storm reports once unpacked, bytes: a year of the whole country is under 100 MB.
pub const STORM_FILE_BYTES: usize = 256 << 20;
/// Most rows of a file of storm reports: a year of the whole country is under 100,000.
pub const STORM_ROWS: usize = 500_000;
/// Longest row of a file of storm reports, bytes: two narratives of several pages. What is longer
/// has a quotation mark that was never closed.
pub const STORM_ROW_BYTES: usize = 64 << 10;
/// Rows longer than [`STORM_ROW_BYTES`] after which a file is refused: each is read past twice.
pub const STORM_LONG_ROWS: usize = 16;
/// Broken rows of storm reports that are listed one by one; the rest are counted.
pub const STORM_BROKEN_LISTED: usize = 1000;
/// Largest radius round an address that is searched for storm reports, miles: beyond it no report
/// says anything of a roof.
pub const STORM_RADIUS_MILES: f64 = 250.0;
/// Most days before or after a date of loss that are searched for storm reports: a year.
pub const STORM_SEARCH_DAYS: u32 = 366;
/// Most storm reports that one plot draws: more cannot be told apart.
pub const PLOT_MARKS: usize = 200;
/// Most walls and slopes whose sun is worked out for one day.
pub const SUN_FACES: usize = 64;
