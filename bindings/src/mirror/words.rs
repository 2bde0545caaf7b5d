//! The words of the trade as other languages see them. Each enum repeats the core's: one that
//! differs does not compile.

use chalkwalk_core::job::{
    Audience, Cause, Component, Condition, DeckKind, EdgeKind, EdgeMetal, Finish, IceBarrier,
    Known, Material, MeasureMethod, MeasuredThing, PhotoRole, Placement, Role, ScopeChangeKind,
    Severity, Side, StarterKind, StormKind, StructureKind, Underlayment, Unit, ValleyLining,
    WorkAction,
};

/// A side of the house, as seen from the street facing the front. The crew walks them
/// counter-clockwise seen from above: front, right, rear, left.
#[uniffi::remote(Enum)]
pub enum Side {
    /// Front.
    Front,
    /// Right.
    Right,
    /// Rear.
    Rear,
    /// Left.
    Left,
}

/// What a part is. `ComponentFacts` tells how each is counted and where it lives.
#[uniffi::remote(Enum)]
pub enum Component {
    /// Gutter.
    Gutter,
    /// Downspout.
    Downspout,
    /// Gutter guard.
    GutterGuard,
    /// Fascia.
    Fascia,
    /// Soffit.
    Soffit,
    /// Siding.
    Siding,
    /// Trim.
    Trim,
    /// Window.
    Window,
    /// Window wrap.
    WindowWrap,
    /// Window beading.
    WindowBead,
    /// Window screen.
    Screen,
    /// Shutter.
    Shutter,
    /// Entry door.
    EntryDoor,
    /// Garage door.
    GarageDoor,
    /// Light fixture.
    LightFixture,
    /// Meter.
    Meter,
    /// Condenser.
    Condenser,
    /// Shingles.
    Shingles,
    /// Ridge cap.
    RidgeCap,
    /// Starter.
    Starter,
    /// Drip edge.
    DripEdge,
    /// Gutter apron.
    GutterApron,
    /// Valley.
    Valley,
    /// Step flashing.
    StepFlashing,
    /// Counter flashing.
    CounterFlashing,
    /// Chimney flashing.
    ChimneyFlashing,
    /// Chimney.
    Chimney,
    /// Chimney cap.
    ChimneyCap,
    /// Pipe boot.
    PipeBoot,
    /// Box vent.
    BoxVent,
    /// Ridge vent.
    RidgeVent,
    /// Turbine vent.
    TurbineVent,
    /// Power vent.
    PowerVent,
    /// Exhaust cap.
    ExhaustCap,
    /// Skylight.
    Skylight,
    /// Satellite dish.
    SatelliteDish,
    /// Solar panel.
    SolarPanel,
    /// Mast or antenna.
    Mast,
    /// Tar or caulk patch.
    TarPatch,
    /// Ceiling.
    Ceiling,
    /// Interior wall.
    Wall,
    /// Floor.
    Floor,
    /// Fence panel.
    FencePanel,
    /// Fence board.
    FenceBoard,
    /// Gate.
    Gate,
    /// Patio cover.
    PatioCover,
    /// Mailbox.
    Mailbox,
    /// Shed roof.
    ShedRoof,
    /// Shed wall.
    ShedWall,
    /// Wooden deck.
    Deck,
}

/// How quantities of an item are stated.
#[uniffi::remote(Enum)]
// Kotlin has a `Unit` of its own.
#[uniffi(name = "QuantityUnit")]
pub enum Unit {
    /// EA.
    Each,
    /// LF.
    LinearFoot,
    /// SF.
    SquareFoot,
    /// SQ.
    Square,
}

/// What state a part was found in.
#[uniffi::remote(Enum)]
pub enum Condition {
    /// Cleared.
    Cleared,
    /// Damaged.
    Damaged,
    /// Worn.
    Worn,
    /// Missing.
    Missing,
    /// Unsure.
    Unsure,
    /// Not present at this house.
    NotPresent,
}

/// What made the damage, as far as the crew can tell.
#[uniffi::remote(Enum)]
pub enum Cause {
    /// Hail.
    Hail,
    /// Wind.
    Wind,
    /// Other storm.
    OtherStorm,
    /// Mechanical.
    Mechanical,
    /// Wear or age.
    WearOrAge,
    /// Installation fault.
    InstallationFault,
    /// Prior condition.
    Prior,
    /// Unsure.
    Unsure,
}

/// Whether the part still does its work.
#[uniffi::remote(Enum)]
pub enum Severity {
    /// Cosmetic.
    Cosmetic,
    /// Functional.
    Functional,
}

/// Who may read an entry.
#[uniffi::remote(Enum)]
pub enum Audience {
    /// Shared.
    Shared,
    /// Office only.
    OfficeOnly,
}

/// How a surface got its colour.
#[uniffi::remote(Enum)]
pub enum Finish {
    /// Factory colour.
    Factory,
    /// Field-painted.
    FieldPainted,
    /// Bare.
    Bare,
    /// Stained.
    Stained,
}

/// What a part is made of.
#[uniffi::remote(Enum)]
pub enum Material {
    /// Aluminium.
    Aluminium,
    /// Steel.
    Steel,
    /// Galvanised steel.
    GalvanisedSteel,
    /// Copper.
    Copper,
    /// Lead.
    Lead,
    /// Vinyl.
    Vinyl,
    /// Rubber.
    Rubber,
    /// Wood.
    Wood,
    /// Fibre cement.
    FibreCement,
    /// Brick.
    Brick,
    /// Stone.
    Stone,
    /// Stucco.
    Stucco,
    /// Glass.
    Glass,
    /// Fibreglass mesh.
    FibreglassMesh,
    /// Aluminium mesh.
    AluminiumMesh,
    /// Three-tab shingle.
    ThreeTabShingle,
    /// Laminated shingle.
    LaminatedShingle,
    /// Wood shingle.
    WoodShingle,
    /// Wood shake.
    WoodShake,
    /// Slate.
    Slate,
    /// Clay tile.
    ClayTile,
    /// Concrete tile.
    ConcreteTile,
    /// Metal panel.
    MetalPanel,
    /// Roll roofing.
    RollRoofing,
    /// Drywall.
    Drywall,
    /// Plaster.
    Plaster,
    /// Concrete.
    Concrete,
    /// Plastic.
    Plastic,
}

/// What a photo is for.
#[uniffi::remote(Enum)]
pub enum PhotoRole {
    /// Overview.
    Overview,
    /// Standoff.
    Standoff,
    /// Close-up.
    CloseUp,
    /// Measurement.
    Measurement,
    /// Layer.
    Layer,
    /// Panorama.
    Panorama,
    /// Document.
    Document,
}

/// A line where roof planes end or meet.
#[uniffi::remote(Enum)]
pub enum EdgeKind {
    /// Eave.
    Eave,
    /// Rake.
    Rake,
    /// Ridge.
    Ridge,
    /// Hip.
    Hip,
    /// Valley.
    Valley,
    /// Sidewall.
    Sidewall,
    /// Headwall.
    Headwall,
}

/// A structure on the lot apart from the house.
#[uniffi::remote(Enum)]
pub enum StructureKind {
    /// Fence.
    Fence,
    /// Gate.
    Gate,
    /// Shed.
    Shed,
    /// Detached garage.
    DetachedGarage,
    /// Patio cover.
    PatioCover,
    /// Mailbox.
    Mailbox,
    /// Equipment.
    Equipment,
    /// Other structure.
    Other,
}

/// What is measured.
#[uniffi::remote(Enum)]
pub enum MeasuredThing {
    /// Pitch.
    Pitch,
    /// Gutter width.
    GutterWidth,
    /// Shingle exposure.
    ShingleExposure,
    /// Overhang.
    Overhang,
    /// Wall thickness.
    WallThickness,
    /// Length.
    Length,
    /// Height.
    Height,
}

/// How a measure was taken.
#[uniffi::remote(Enum)]
pub enum MeasureMethod {
    /// Pitch gauge.
    Gauge,
    /// Tape.
    Tape,
    /// Phone inclinometer.
    Phone,
    /// Counted courses.
    Counted,
    /// Estimated.
    Estimated,
    /// Measurement report.
    Report,
}

/// What starts the first course.
#[uniffi::remote(Enum)]
pub enum StarterKind {
    /// Proper strip.
    ProperStrip,
    /// Reversed shingle.
    ReversedShingle,
}

/// What lies between deck and roofing.
#[uniffi::remote(Enum)]
pub enum Underlayment {
    /// 15 lb felt.
    Felt15,
    /// 30 lb felt.
    Felt30,
    /// Synthetic.
    Synthetic,
}

/// A self-adhered membrane at the eave.
#[uniffi::remote(Enum)]
pub enum IceBarrier {
    /// Standard.
    Standard,
    /// High temperature.
    HighTemperature,
}

/// What the roofing is nailed to.
#[uniffi::remote(Enum)]
pub enum DeckKind {
    /// Plywood.
    Plywood,
    /// Oriented strand board.
    OrientedStrandBoard,
    /// Spaced boards.
    SpacedBoards,
    /// Planks.
    Planks,
}

/// An edge metal: there is only one word, because only its presence matters.
#[uniffi::remote(Enum)]
pub enum EdgeMetal {
    /// Metal.
    Metal,
}

/// How a valley is lined.
#[uniffi::remote(Enum)]
pub enum ValleyLining {
    /// Open metal.
    OpenMetal,
    /// Closed-cut.
    ClosedCut,
    /// Woven.
    Woven,
    /// Roll roofing.
    RollRoofing,
    /// Membrane under.
    MembraneUnder,
}

/// How a test square's place on the slope was chosen.
#[uniffi::remote(Enum)]
pub enum Placement {
    /// Typical spot.
    Typical,
    /// Random spot.
    Random,
    /// Worst spot.
    Worst,
}

/// What a storm report tells of.
#[uniffi::remote(Enum)]
pub enum StormKind {
    /// Hail.
    Hail,
    /// Wind.
    Wind,
}

/// The work that a line of a scope asks for.
#[uniffi::remote(Enum)]
pub enum WorkAction {
    /// Remove and replace.
    RemoveAndReplace,
    /// Remove only.
    RemoveOnly,
    /// Install.
    Install,
    /// Detach and reset.
    DetachAndReset,
    /// Repair.
    Repair,
    /// Straighten fins.
    StraightenFins,
    /// Clean.
    Clean,
    /// Paint.
    Paint,
    /// Stain.
    Stain,
    /// Inspect.
    Inspect,
    /// Additional charge.
    Charge,
}

/// What an estimator does to a line of the scope.
#[uniffi::remote(Enum)]
pub enum ScopeChangeKind {
    /// Amended.
    Amended,
    /// Left out.
    LeftOut,
    /// Added.
    Added,
}

/// Yes, no, or not known.
#[uniffi::remote(Enum)]
pub enum Known {
    /// Yes.
    Yes,
    /// No.
    No,
    /// Not known.
    Unknown,
}

/// What a person does for the job.
#[uniffi::remote(Enum)]
pub enum Role {
    /// Crew.
    Crew,
    /// Estimator.
    Estimator,
    /// Admin.
    Admin,
    /// Office server.
    Office,
}
