//! What the crew can say of a layer at the eave, for each kind of layer.

use chalkwalk_core::job::{
    DeckKind, EdgeMetal, IceBarrier, Layer, StarterKind, Underlayment, ValleyLining,
};

macro_rules! layer {
    ($($doc:literal $name:ident, $seen:ident, $what:ident;)*) => {$(
        #[doc = $doc]
        #[derive(Clone, Copy, Debug, PartialEq, Eq, uniffi::Enum)]
        pub enum $name {
            /// It was seen.
            Seen {
                /// What it is.
                what: $what,
            },
            /// The place was seen and the layer is not there.
            SeenAbsent,
            /// The place could not be seen: confirm at tear-off.
            CouldNotSee,
            /// Not seen, but other signs point to it.
            Inferred {
                /// What it is.
                what: $what,
            },
        }

        #[doc = $doc]
        pub type $seen = Layer<$what>;

        uniffi::custom_type!($seen, $name, {
            remote,
            try_lift: |layer| Ok(match layer {
                $name::Seen { what } => Layer::Seen(what),
                $name::SeenAbsent => Layer::SeenAbsent,
                $name::CouldNotSee => Layer::CouldNotSee,
                $name::Inferred { what } => Layer::Inferred(what),
            }),
            lower: |layer| match layer {
                Layer::Seen(what) => $name::Seen { what },
                Layer::SeenAbsent => $name::SeenAbsent,
                Layer::CouldNotSee => $name::CouldNotSee,
                Layer::Inferred(what) => $name::Inferred { what },
            },
        });
    )*};
}

layer! {
    "What starts the first course." StarterLayer, StarterLayerSeen, StarterKind;
    "Metal over the deck's edge or into the gutter." MetalLayer, MetalLayerSeen, EdgeMetal;
    "What lies between deck and roofing." UnderlaymentLayer, UnderlaymentLayerSeen, Underlayment;
    "Self-adhered membrane." IceBarrierLayer, IceBarrierLayerSeen, IceBarrier;
    "What the roofing is nailed to." DeckLayer, DeckLayerSeen, DeckKind;
    "How a valley is lined." ValleyLayer, ValleyLayerSeen, ValleyLining;
}
