//! Positions in the lists of a case, one type for each list, so that none is taken for another.
//!
//! A position says nothing about the feature: its identifier does. It has no arithmetic; a list that takes it as its index is
//! a `TiVec` or `TiSlice`.

macro_rules! position {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub usize);

        impl From<usize> for $name {
            fn from(position: usize) -> Self {
                Self(position)
            }
        }

        impl From<$name> for usize {
            fn from($name(position): $name) -> Self {
                position
            }
        }
    };
}

position!(
    /// A parcel's position among the parcels of the case.
    ParcelIx
);
position!(
    /// A share's position among the shares of one parcel.
    ShareIx
);
position!(
    /// A waterway's position among the waterways of the case, as mapped and on cells alike.
    WaterwayIx
);
position!(
    /// A reach's position among the reaches that the waterways are cut into.
    ReachIx
);
position!(
    /// A structure's position among those that carry water on the cells of the elevation.
    StructureIx
);
position!(
    /// A structure's position among all structures mapped in the case, also those that carry nothing on its elevation.
    MappedStructureIx
);
