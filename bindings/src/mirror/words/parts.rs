//! What a part is and what it is made of.

use chalkwalk_core::job::{Component, Finish, Material, Unit};

/// What a part is.
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
    /// By the piece (EA).
    Each,
    /// By the foot (LF).
    LinearFoot,
    /// By the square foot (SF).
    SquareFoot,
    /// By the square of 100 square feet (SQ).
    Square,
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
