//! The table of rules, in the order of a visit. Adding a rule is one entry here, one function
//! beside it and one case in `cases`; a test proves that each entry has its case.
//!
//! `field` rules need somebody at the house; `office` rules can be settled from what is there, or
//! by a call.

use super::{Rule, Source, eave, findings, gutters, interior, pattern, photos, roof, sides, visit};
use Source::Practice;

const CLIMB: Source = Source::Standard {
    name: "29 CFR",
    edition: "US construction rules as codified",
    section: "1926.1053(b) and 1926.501(b)(13)",
};
const ICE: Source = Source::Standard {
    name: "International Residential Code",
    // The edition is from memory: the rule is in the editions of about 2015 on.
    edition: "2021; the edition in force locally comes first",
    section: "R905.1.2",
};
const SHINGLE_SLOPE: Source = Source::Standard {
    name: "International Residential Code",
    // The edition is from memory: the rule is in the editions of about 2015 on.
    edition: "2021; the edition in force locally comes first",
    section: "R905.2.2",
};

macro_rules! rules {
    (@office office) => { true };
    (@office field) => { false };
    ($( $id:literal, $urgency:ident, $who:ident, $source:expr, $find:path,
        $why:literal, $settles:literal; )*) => {
        /// Every rule, in the order of a visit.
        pub const RULES: &[Rule] = &[$( Rule {
            id: $id,
            urgency: super::Urgency::$urgency,
            why: $why,
            settles: $settles,
            office_can_settle: rules!(@office $who),
            source: $source,
            find: $find,
        } ),*];
    };
}

rules! {
    "visit.date-of-loss", Must, office, Practice, visit::date_of_loss,
        "Every claimed item is tied to one storm.",
        "Ask the owner for the day, and note what storm reports say.";
    "visit.interview", Must, office, Practice, visit::interview,
        "Leaks, earlier repairs and the age of the roof explain what is seen.",
        "Ask the owner: leaks, repairs, age of roof, earlier claims, pets, gates, leave to climb.";
    "visit.leave-to-climb", Should, office, Practice, visit::leave_to_climb,
        "Nobody goes on a roof without its owner's leave.",
        "Ask the owner and record the answer.";
    "visit.cautions", Must, field, CLIMB, visit::cautions,
        "Falls from ladders and roofs are what kills in this trade.",
        "Show the cautions before the next climb; your training and local rules come first.";
    "visit.ice-barrier-area", Consider, office, ICE, visit::ice_barrier_area,
        "An ice barrier is required only where the local authority designates the area.",
        "Ask the local building office.";
    "interior.ceilings", Must, field, Practice, interior::ceilings,
        "Interiors are photographed even where nothing is reported: later stains are then new.",
        "Photograph the ceilings of the rooms below the roof, or say why they could not be seen.";
    "interior.room-photo", Must, field, Practice, interior::room_photo,
        "A room that is named and not shown proves nothing.",
        "Photograph the ceiling of that room.";
    "interior.room-size", Should, field, Practice, interior::room_size,
        "Drywall and paint are stated by area.",
        "Measure length, width and height of the room.";
    "interior.leak", Must, field, Practice, interior::leak_not_found,
        "What the owner reports must be found or cleared.",
        "Look at the place, and record what is there, or that it is clear.";
    "side.overview", Must, field, Practice, sides::overview,
        "Without it nobody knows where the other photos of that side belong.",
        "One photo of the whole side before its details.";
    "side.blocked-overview", Should, field, Practice, sides::blocked_overview,
        "Where the view is blocked, two or more overviews together show the whole side.",
        "Take another overview from the other end.";
    "side.front-first", Should, office, Practice, sides::front_first,
        "The front overview parts one house from the next in a camera roll.",
        "Check that the earlier photos belong to this house; begin with the front next time.";
    "side.walked", Must, field, Practice, sides::walked,
        "A side that was not walked is a reason for a second visit.",
        "Walk the side from left to right.";
    "side.parts", Must, field, Practice, sides::parts,
        "What is not said to be clear cannot be told from what was forgotten.",
        "Say for each: damaged, cleared or not present.";
    "side.height", Consider, field, Practice, sides::eave_height,
        "Storeys and height decide on ladders, scaffold and charges for high work.",
        "Count the storeys, or measure from grade to eave.";
    "structure.none", Should, office, Practice, visit::structures,
        "Fences, sheds and equipment are often listed apart from the house.",
        "Record each, or one of their parts as not present.";
    "structure.walked", Should, field, Practice, visit::structure_walked,
        "A structure that is named and not looked at stays open.",
        "Look at it and say what state it is in.";
    "photo.unattached", Should, office, Practice, photos::unattached,
        "A photo that belongs nowhere helps nobody.",
        "Say where it was taken or what it shows, or strike it with a reason.";
    "photo.role", Should, office, Practice, photos::no_role,
        "The role puts the photo at its place in the walk.",
        "Say what it is for: overview, standoff, close-up, measurement, layer.";
    "photo.unusable", Should, field, Practice, photos::unusable,
        "A photo that cannot be read does not prove its finding.",
        "Take it again.";
    "photo.out-of-time", Consider, office, Practice, photos::out_of_time,
        "A photo of another day or house weakens all the others.",
        "Check the camera's clock, and whether the photo belongs to this job.";
    "photo.far", Consider, office, Practice, photos::far_away,
        "A photo of another house weakens all the others.",
        "Check whether it belongs to this job; places in files can be wrong under eaves and trees.";
    "photo.original-missing", Must, field, Practice, photos::original_missing,
        "Without the original the photo cannot be vouched for.",
        "Find the file on the camera or the other phone, or take the photo again.";
    "photo.not-safe", Consider, office, Practice, photos::not_safe,
        "A lost phone would lose them.",
        "Sync before the device is put away.";
    "finding.place", Must, office, Practice, findings::place,
        "A finding without a place cannot be found again.",
        "Say which elevation, slope, room or structure.";
    "finding.what", Must, office, Practice, findings::what,
        "An estimator cannot write a line from it.",
        "Name the part and its condition.";
    "finding.standoff", Must, field, Practice, findings::standoff,
        "The standoff shows where it is: side, storey, panel.",
        "One photo from far enough to see where on the house it is.";
    "finding.close-up", Must, field, Practice, findings::close_up,
        "The close-up shows what it is.",
        "Chalk the hits and photograph them from near.";
    "finding.pair-order", Consider, office, Practice, findings::pair_order,
        "Looked through in order, the photos should lead up to the damage.",
        "Nothing to retake: the walk order puts the standoff first. Begin far off next time.";
    "finding.prior-photo", Must, field, Practice, findings::prior_photo,
        "What was there before must be shown, for the owner's sake and the crew's.",
        "Photograph it.";
    "finding.cause", Must, office, Practice, findings::cause,
        "Who reads the record asks for the cause first.",
        "State the cause, or that it is unsure.";
    "finding.cause-reason", Must, office, Practice, findings::cause_reason,
        "A cause without a reason is an opinion.",
        "Say in words what points to it: shape, pattern, side, fresh or old.";
    "finding.unsure", Should, field, Practice, findings::unsure,
        "It is easier to decide at the house than from a photo.",
        "Look again, or say what would decide it.";
    "finding.hits", Should, field, Practice, findings::hits,
        "Counts tell the sides apart and the storm from a single knock.",
        "Count the hits.";
    "finding.single-hit", Consider, field, Practice, findings::single_hit,
        "One isolated hit is mechanical until proved otherwise.",
        "Look for more hits near it and on soft metal of the same side, and say so.";
    "finding.low-hits", Should, field, Practice, findings::only_low_hits,
        "Hits within two to three feet of grade are likely garden equipment.",
        "Look higher on the same side, and record what is there.";
    "finding.clean-soft-metal", Should, field, Practice, findings::clean_soft_metal,
        "Small hail marks soft metal first: clean metal makes shingle hail on that side doubtful.",
        "Look again at both, and say in the reason why they differ.";
    "finding.total", Should, office, Practice, findings::total,
        "Three of eight says more than three.",
        "Count all of them, from an overview if it shows them all.";
    "finding.over-total", Must, office, Practice, findings::over_total,
        "More units damaged than there are cannot be.",
        "Count again.";
    "finding.garage-panel", Should, office, Practice, findings::garage_panel,
        "Panels are replaced one by one.",
        "Name the panel by row and place, counted from the top and from the left.";
    "finding.finish", Consider, field, Practice, findings::finish,
        "Field-painted metal needs paint to match after replacement.",
        "Look at edges and seams: factory colour or field-painted.";
    "finding.extent", Should, field, Practice, findings::extent,
        "It is stated by the foot.",
        "Measure the damaged run, or the whole run of that side.";
    "finding.mechanical-shared", Consider, office, Practice, findings::mechanical_shared,
        "A dent that a ladder or vehicle made is recorded, as a rule for the office only.",
        "Decide who may read it.";
    "gutter.width", Must, field, Practice, gutters::width,
        "Five and six inch gutters are both common, and a scope often assumes five.",
        "Hold a tape across the gutter and photograph it.";
    "gutter.guards", Should, field, Practice, gutters::guards_asked,
        "Guards come off and go back for a new roof.",
        "Record guards as present, damaged or not present.";
    "gutter.guards-held", Should, field, Practice, gutters::guards_held,
        "How they are held decides whether they can be taken off and put back.",
        "Look from the ladder: screwed, clipped, slid under the first course.";
    "eave.opening", Must, field, Practice, eave::opening,
        "What lies under the first course decides much of the scope, and nobody sees it later.",
        "Look under the first course at an eave, best beside a valley, breaking nothing.";
    "eave.layers", Must, field, Practice, eave::all_layers,
        "A layer nobody spoke of cannot be told from one that is absent.",
        "Say for each layer: seen, seen absent, could not see or inferred.";
    "eave.photo", Must, field, Practice, eave::layer_photo,
        "The photo is what proves the layers.",
        "Photograph the layers with something lifting the edge.";
    "eave.deck-gap", Should, field, Practice, eave::deck_gap,
        "Wide gaps between boards ask for a new deck; makers of shingles limit them.",
        "Measure the widest gap, from the attic where the eave hides it.";
    "eave.reason", Should, office, Practice, eave::reason,
        "Tear-off must know what was guessed and from what.",
        "Say why it could not be seen, or from what it was inferred.";
    "eave.valley-lining", Must, field, Practice, eave::valley_lining,
        "Valley linings differ in material and work.",
        "Look at the valley and its foot at the eave, or say that it could not be seen.";
    "eave.beside-valley", Consider, field, Practice, eave::beside_valley,
        "Beside a valley one look shows eave and valley layers.",
        "Open the eave beside a valley.";
    "roof.slopes", Must, field, Practice, roof::slopes,
        "Without slopes there is no roof to write up.",
        "Record each slope with its side.";
    "roof.walked", Should, field, Practice, roof::walked,
        "A slope that was not seen stays open.",
        "See all of it, from the roof, a ladder or a pole, as far as that is safe.";
    "roof.panorama", Should, field, Practice, roof::panorama,
        "The turn from the ridge shows every slope and what stands on it.",
        "A full turn of photos from the ridge.";
    "roof.layers", Should, field, Practice, roof::layers,
        "A second layer is removed and hauled too.",
        "Count the layers at an eave or a rake.";
    "roof.pitch", Must, field, Practice, roof::pitch,
        "Pitch decides area, steep charges and safety; a bought report can be wrong.",
        "Hold a gauge on the slope.";
    "roof.pitch-photo", Should, field, Practice, roof::pitch_photo,
        "A reading is proved by the gauge in the photo.",
        "Photograph the gauge on the slope.";
    "roof.pitch-report", Should, office, Practice, roof::pitch_report,
        "The difference changes the area of the slope.",
        "Compare the photo of the gauge; if in doubt, read it again at another spot.";
    "roof.low-slope", Consider, office, SHINGLE_SLOPE, roof::low_slope,
        "Asphalt shingles are for slopes of 2 in 12 and more.",
        "Tell the estimator; the local code and the manufacturer come first.";
    "roof.test-square", Must, field, Practice, roof::test_square,
        "Sides that carry many hits and sides that carry few tell where the storm came from.",
        "Chalk 10 ft by 10 ft on that slope and count the hits; zero counts too.";
    "roof.test-square-count", Must, field, Practice, roof::test_square_count,
        "A square without a count says nothing.",
        "Count the hits in the square and record the number, zero too.";
    "roof.test-square-size", Consider, field, Practice, roof::test_square_size,
        "Counts are compared for squares of the same size.",
        "Chalk the square again, or say why it has another size.";
    "roof.test-square-photo", Should, field, Practice, roof::test_square_photo,
        "The count is proved by the chalked square.",
        "Photograph the square with its hits ringed.";
    "roof.pattern", Should, field, Practice, pattern::contradiction,
        "Hail falls with the wind: sides that disagree with one another and with the reports are a warning.",
        "Look again at the sides named: soft metal first, then the squares; say in the reasons what differs.";
    "roof.counts", Should, office, Practice, roof::counts,
        "Boots and vents are often left off a first scope.",
        "Count them, from the turn of views if it shows them.";
    "roof.obstacles", Should, office, Practice, roof::obstacles,
        "Dishes, panels, masts, tar and skylights delay tear-off when nobody knew of them.",
        "Say for each: there, or not present.";
    "record.conflict", Must, office, Practice, visit::conflicts,
        "Two people stated different things; the record shows only one of them.",
        "The two agree, and one of them settles it.";
    "record.unread", Consider, office, Practice, visit::unread,
        "A newer version wrote it.",
        "Update this device and check again.";
    "record.question", Should, field, Practice, visit::questions,
        "Somebody waits for the answer.",
        "Answer it, with a photo where one shows it.";
    "visit.recap", Must, office, Practice, visit::recap,
        "The owner should hear what was found, what is prior and what happens next.",
        "Hold the recap, on the doorstep or by phone.";
    "visit.signature", Should, office, Practice, visit::signature,
        "It says that the visit took place, and nothing else.",
        "Let the owner sign that the visit took place.";
}
