//! People, photos, and the work of a scope.

use chalkwalk_core::job::{PhotoRole, Role, ScopeChangeKind, WorkAction};

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
