//! Identifiers. They are text for ever: leading zeros and long roll numbers stay as given. A copy shares the text.

use std::fmt;
use std::sync::Arc;

macro_rules! text_id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(Arc<str>);

        impl $name {
            pub fn new(text: impl Into<String>) -> Self {
                Self(text.into().into())
            }

            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }
    };
}

text_id!(
    /// A parcel's identifier, for instance its roll number.
    ParcelId
);
text_id!(
    /// A road's identifier. It may be a parcel's too: what is written says which of the two is meant.
    RoadId
);
text_id!(
    /// A field within a parcel.
    FieldId
);
text_id!(
    /// A mapped waterway: natural watercourse, drain or ditch.
    WaterwayId
);
text_id!(
    /// A structure with two ends: culvert, pipe or tile main.
    LinkId
);
text_id!(
    /// A stretch of one waterway between junctions.
    ReachId
);
