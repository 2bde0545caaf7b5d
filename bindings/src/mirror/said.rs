//! The words that people read for words of the trade, and what the trade knows of a part.

use chalkwalk_core::job::*;

macro_rules! said {
    ($($doc:literal $function:ident: $of:ident;)*) => {$(
        #[doc = $doc]
        #[uniffi::export]
        pub fn $function(word: $of) -> String {
            word.label().to_owned()
        }
    )*};
}

said! {
    "The words that people read for a kind of record." kind_in_words: Kind;
    "The words that people read for a side of the house." side_in_words: Side;
    "The words that people read for a kind of edge." edge_kind_in_words: EdgeKind;
    "The words that people read for a kind of structure." structure_kind_in_words: StructureKind;
    "The words that people read for how a test square was placed." placement_in_words: Placement;
    "The words that people read for a part." component_in_words: Component;
    "The words that people read for a unit of quantity." quantity_unit_in_words: Unit;
    "The words that people read for a material." material_in_words: Material;
    "The words that people read for a finish." finish_in_words: Finish;
    "The words that people read for a condition." condition_in_words: Condition;
    "The words that people read for a cause." cause_in_words: Cause;
    "The words that people read for a severity." severity_in_words: Severity;
    "The words that people read for who may read an entry." audience_in_words: Audience;
    "The words that people read for yes, no and not known." known_in_words: Known;
    "The words that people read for what is measured." measured_thing_in_words: MeasuredThing;
    "The words that people read for how a measure was taken." measure_method_in_words: MeasureMethod;
    "The words that people read for a kind of storm report." storm_kind_in_words: StormKind;
    "The words that people read for a starter." starter_kind_in_words: StarterKind;
    "The words that people read for an underlayment." underlayment_in_words: Underlayment;
    "The words that people read for an ice barrier." ice_barrier_in_words: IceBarrier;
    "The words that people read for a deck." deck_kind_in_words: DeckKind;
    "The words that people read for an edge metal." edge_metal_in_words: EdgeMetal;
    "The words that people read for the lining of a valley." valley_lining_in_words: ValleyLining;
    "The words that people read for what a person does." role_in_words: Role;
    "The words that people read for what a photo is for." photo_role_in_words: PhotoRole;
    "The words that people read for the work of a line." work_action_in_words: WorkAction;
    "The words that people read for what was done to a line." scope_change_kind_in_words: ScopeChangeKind;
}

/// What the trade knows of a part, whatever house it is on (common practice, no source).
#[uniffi::remote(Record)]
pub struct ComponentFacts {
    /// How its quantity is stated.
    pub unit: Unit,
    /// Thin metal or mesh that is marked by small hail, so that it tells which sides were hit.
    pub soft_metal: bool,
    /// Damage is stated as so many of so many.
    pub of_total: bool,
    /// It stands in the way of tear-off and is looked at for that too.
    pub obstacle: bool,
}

/// What the trade knows of a part: what to ask for when it is recorded.
#[uniffi::export]
pub fn component_facts(component: Component) -> ComponentFacts {
    component.facts()
}
