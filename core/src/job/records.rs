//! The fields of every kind of record. All are optional: what is not known stays empty and
//! visible as such.

use chrono::NaiveDate;
use serde_bytes::ByteBuf;

use super::fields::record;
use super::*;

record! {
    /// The house and its owner; one a job.
    Property {
        /// Street and number.
        street: String,
        /// Town.
        town: String,
        /// State or province.
        state: String,
        /// Postal code.
        postal_code: String,
        /// Degrees north.
        latitude: f64,
        /// Degrees east.
        longitude: f64,
        /// Name of the time zone, as the IANA database writes it.
        time_zone: String,
        /// The homeowner.
        owner: String,
        /// How to reach the owner.
        owner_phone: String,
        /// How to reach the owner.
        owner_email: String,
        /// Storeys above grade.
        storeys: u32,
        /// Year the house was built.
        year_built: u32,
        /// True bearing that the front faces, degrees clockwise from north.
        front_bearing: f64,
        /// The day of the storm.
        date_of_loss: NaiveDate,
        /// Building code and edition in force, as the local authority names it.
        code_edition: String,
        /// Whether the local authority designates the area for an ice barrier.
        ice_barrier_designated: Known,
        /// Number of a bought measurement report.
        measurement_report: String,
        /// What storm reports near the address say, with their source.
        storm_reports: String,
    }
}

record! {
    /// What the owner said before the work; one a job.
    Interview {
        /// Leaks the owner knows of.
        interior_leaks: Known,
        /// Where and since when.
        leak_details: String,
        /// Repairs made earlier.
        earlier_repairs: String,
        /// Years since the roof was laid, as the owner says.
        roof_age_years: u32,
        /// Claims made earlier.
        earlier_claims: String,
        /// Pets on the lot.
        pets: String,
        /// Gates that are locked.
        locked_gates: String,
        /// The owner's leave to climb.
        may_climb: Known,
        /// Anything else.
        remarks: String,
    }
}

record! {
    /// What the owner was told at the end; one a job.
    Recap {
        /// What was found.
        found: String,
        /// What was there before.
        prior: String,
        /// What happens next.
        next: String,
        /// Milliseconds since 1970 when the talk took place.
        held_at: i64,
    }
}

record! {
    /// One stay of the crew at the house.
    Visit {
        /// The local day.
        day: NaiveDate,
        /// Milliseconds since 1970.
        arrived_at: i64,
        /// Who came.
        crew: String,
        /// Wind as entered by hand, miles an hour.
        wind_mph: u32,
        /// Air temperature as entered by hand, degrees Fahrenheit.
        temperature_f: i64,
        /// Light and sky in words.
        light: String,
        /// The cautions for ladder and roof were shown and read.
        cautions_read: bool,
    }
}

record! {
    /// One side of the house.
    Elevation {
        /// One of the four sides; empty for a further wall such as a court.
        side: Side,
        /// A name for a further wall.
        name: String,
        /// True bearing it faces, degrees clockwise from north.
        bearing: f64,
        /// Storeys on this side.
        storeys: u32,
        /// Grade to eave.
        eave_height: Length,
        /// Length of the wall.
        wall_length: Length,
        /// What the wall is covered with.
        cladding: Material,
        /// The crew worked this side from left to right.
        walked: bool,
        /// What keeps the side from being seen whole.
        blocked_by: String,
    }
}

record! {
    /// One plane of the roof.
    Slope {
        /// A name such as "main, front".
        name: String,
        /// The side of the house below it.
        side: Side,
        /// True bearing it faces, degrees clockwise from north.
        bearing: f64,
        /// What it is covered with.
        roofing: Material,
        /// Layers of roofing counted.
        layers: u32,
        /// Pitch in the measurement report.
        report_pitch: Pitch,
        /// Area in the measurement report.
        report_area: Area,
        /// Area from the crew's own measures.
        measured_area: Area,
        /// Years since it was laid, as far as known.
        age_years: u32,
        /// The crew walked it or saw all of it.
        walked: bool,
    }
}

record! {
    /// A line where slopes end or meet.
    Edge {
        /// What kind of line.
        kind: EdgeKind,
        /// A slope it belongs to.
        slope: Place,
        /// The other slope, for ridge, hip and valley.
        other_slope: Place,
        /// Its length.
        length: Length,
        /// For a valley, how it is lined.
        lining: Layer<ValleyLining>,
    }
}

record! {
    /// A room.
    Room {
        /// Its name.
        name: String,
        /// Storey, 1 at grade.
        storey: u32,
        /// Longer side.
        length: Length,
        /// Shorter side.
        width: Length,
        /// Floor to ceiling.
        height: Length,
    }
}

record! {
    /// A structure on the lot apart from the house.
    Structure {
        /// What it is.
        kind: StructureKind,
        /// A name such as "rear fence".
        name: String,
        /// What it is made of.
        material: Material,
        /// Length along the ground.
        length: Length,
        /// Height.
        height: Length,
        /// The crew looked at it.
        walked: bool,
    }
}

record! {
    /// How many of a part stand at a place and what state they are in as a whole. A part that
    /// is in order is *cleared* here, without a photo.
    ComponentCount {
        /// Where.
        place: Place,
        /// What.
        component: Component,
        /// How many there are.
        count: u32,
        /// Length or width for parts that have one.
        length: Length,
        /// State of all of them; damaged ones have findings of their own.
        condition: Condition,
        /// What they are made of.
        material: Material,
        /// How they got their colour.
        finish: Finish,
        /// Size, profile, how it is held, in words.
        details: String,
    }
}

record! {
    /// One thing found: what, where, in which state, from which cause and why.
    Finding {
        /// Where.
        place: Place,
        /// What.
        component: Component,
        /// Storey, 1 at grade.
        storey: u32,
        /// Place from left to right as one faces the side, 1 at the left end.
        from_left: u32,
        /// Number or name of the panel or unit.
        unit_name: String,
        /// Height above grade, where low hits matter.
        height: Length,
        /// State.
        condition: Condition,
        /// Cause.
        cause: Cause,
        /// Why the crew thinks so.
        cause_reason: String,
        /// Units damaged.
        units: u32,
        /// Units there are.
        units_total: u32,
        /// Length damaged.
        extent_length: Length,
        /// Area damaged.
        extent_area: Area,
        /// What it is made of.
        material: Material,
        /// How it got its colour.
        finish: Finish,
        /// Whether it still does its work.
        severity: Severity,
        /// Who may read it; empty counts as shared.
        audience: Audience,
        /// The finding in words.
        text: String,
    }
}

record! {
    /// One photo: the signed bytes of its capture, and what the crew says of it.
    Photo {
        /// A [`SignedCapture`](super::SignedCapture), encoded.
        capture: ByteBuf,
        /// What it is for.
        role: PhotoRole,
        /// Where it was taken.
        place: Place,
        /// Words below it.
        caption: String,
        /// Who may see it; empty counts as shared.
        audience: Audience,
        /// Place from left to right as one faces the side, 1 at the left end.
        from_left: u32,
        /// Marks drawn beside the picture, never in it: an encoded list of [`Mark`](super::Mark).
        marks: ByteBuf,
    }
}

record! {
    /// A measure.
    Measurement {
        /// Where.
        place: Place,
        /// What was measured.
        of: MeasuredThing,
        /// The pitch, for a pitch.
        pitch: Pitch,
        /// The length, for the rest.
        length: Length,
        /// How it was taken.
        method: MeasureMethod,
        /// Anything else, such as how guards are held.
        remarks: String,
    }
}

record! {
    /// What lies under the first course at an eave, layer by layer. Nothing may be broken to look.
    EaveOpening {
        /// The slope above.
        slope: Place,
        /// The side of the house.
        side: Side,
        /// It lies beside a valley.
        beside_valley: bool,
        /// What starts the first course.
        starter: Layer<StarterKind>,
        /// Metal over the deck's edge.
        drip_edge: Layer<EdgeMetal>,
        /// Metal from the deck into the gutter.
        gutter_apron: Layer<EdgeMetal>,
        /// What lies between deck and roofing.
        underlayment: Layer<Underlayment>,
        /// Self-adhered membrane.
        ice_barrier: Layer<IceBarrier>,
        /// What the roofing is nailed to.
        deck: Layer<DeckKind>,
        /// Widest gap between boards.
        widest_gap: Length,
        /// How the valley beside it is lined.
        valley_lining: Layer<ValleyLining>,
        /// Layers of roofing.
        roofing_layers: u32,
        /// Why something could not be seen, or from what it was inferred.
        reason: String,
    }
}

record! {
    /// A square of 10 ft by 10 ft in which hits were counted; the hits are the record's tally.
    TestSquare {
        /// The slope.
        slope: Place,
        /// Width.
        width: Length,
        /// Height along the slope.
        height: Length,
        /// How its spot was chosen.
        placement: Placement,
        /// Anything else.
        remarks: String,
    }
}

record! {
    /// A note. Notes are added, never rewritten.
    Note {
        /// What it is about.
        about: RecordRef,
        /// The note.
        text: String,
        /// Who may read it; empty counts as shared.
        audience: Audience,
    }
}

record! {
    /// A question of the office to the crew.
    Question {
        /// What it is about.
        about: RecordRef,
        /// The question.
        text: String,
    }
}

record! {
    /// An answer to a question.
    Answer {
        /// The question.
        question: RecordRef,
        /// The answer.
        text: String,
        /// A photo that shows it.
        photo: RecordRef,
    }
}

record! {
    /// A signature that the visit took place; it promises nothing else.
    Signature {
        /// Who signed.
        signer: String,
        /// In which part: owner, rep.
        signs_as: String,
        /// The sentence that was signed.
        statement: String,
        /// The strokes as an SVG path in a box of 1000 by 400.
        strokes: String,
    }
}

record! {
    /// The crew leaves the site. The change that adds it seals all that came before it.
    Departure {
        /// The visit it ends.
        visit: RecordRef,
        /// Open points the crew knows of, in words.
        known_open: String,
    }
}

record! {
    /// A report of hail or wind near the house, from a public file or a person.
    StormReport {
        /// Hail or wind.
        kind: StormKind,
        /// Milliseconds since 1970.
        at: i64,
        /// Degrees north.
        latitude: f64,
        /// Degrees east.
        longitude: f64,
        /// Largest stone.
        size: Length,
        /// The reporter's own word for the size, such as "golf ball".
        size_word: String,
        /// Gust, miles an hour.
        gust_mph: f64,
        /// The gust was measured, not estimated.
        gust_measured: bool,
        /// Where, in the reporter's words.
        where_said: String,
        /// The file and row it was read from, or who said it.
        source: String,
        /// Anything else.
        remarks: String,
    }
}

record! {
    /// The outline of the house with the pitch and form of each side, from which roof planes are
    /// worked out.
    Plan {
        /// A name such as "house" or "garage".
        name: String,
        /// The outline and its sides, as the JSON of `trade::roof` reads it.
        outline: String,
        /// How it was measured.
        method: MeasureMethod,
        /// Anything else.
        remarks: String,
    }
}

record! {
    /// A bought report of areas, pitches and edge lengths.
    MeasurementReport {
        /// Its number or name.
        name: String,
        /// The day it was made.
        day: NaiveDate,
        /// BLAKE3 hash of the file, in hexadecimal.
        file_hash: String,
        /// What was read from the file: an encoded list of rows.
        rows: ByteBuf,
    }
}

record! {
    /// An estimator's change to a line of the scope. The line worked out from the record stays
    /// readable below it.
    ScopeChange {
        /// The key of the line; for an added line a key of its own.
        line: String,
        /// What is done to the line.
        kind: ScopeChangeKind,
        /// Where, for an added line.
        place: Place,
        /// The item in trade words, for an added line.
        item: String,
        /// The work, where it changes.
        action: WorkAction,
        /// The quantity, where it changes.
        quantity: f64,
        /// Its unit.
        unit: Unit,
        /// Why.
        reason: String,
        /// Who may read it; empty counts as shared.
        audience: Audience,
    }
}

record! {
    /// A scope that somebody else wrote, such as the insurer's.
    OtherScope {
        /// Whose it is, in words.
        name: String,
        /// The file's name.
        file_name: String,
        /// BLAKE3 hash of the file, in hexadecimal.
        file_hash: String,
        /// Which column means what, as JSON.
        columns: String,
        /// What was read from the file: an encoded list of rows.
        rows: ByteBuf,
    }
}

record! {
    /// An estimator's word on which row of another scope stands for which line of ours.
    ScopeMatch {
        /// The other scope.
        other: RecordRef,
        /// The row in its file, 1 for the first below the head.
        row: u32,
        /// The key of our line; empty where ours has no such line.
        line: String,
        /// Why.
        reason: String,
    }
}
