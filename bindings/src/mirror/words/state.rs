//! In which state a part is, from what cause, and who may read of it.

use chalkwalk_core::job::{Audience, Cause, Condition, Known, Severity};

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
