//! Positions in the lists of a case, one type for each list, so that none is taken for another.
//!
//! A position says nothing about the feature: its identifier does. It has no arithmetic; a list that takes it as its index is
//! a `TiVec` or `TiSlice`. Rasters and outputs hold numbers instead: 1 for the first of a list, 0 in a raster for none.

/// Defines a type of positions in one kind of list, counted from 0.
#[macro_export]
macro_rules! position {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub usize);

        impl $name {
            /// The position with a number: 1 for the first, 0 for none.
            pub fn from_number(number: u32) -> Option<Self> {
                number.checked_sub(1).map(|position| Self(position as usize))
            }

            /// 1 for the first.
            ///
            /// # Panics
            /// More than 32 bits count.
            pub fn number(self) -> u32 {
                u32::try_from(self.0 + 1).expect("32 bits count the list")
            }
        }

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
    /// A road's position among the roads of the case.
    RoadIx
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
    /// A structure's position among all that are mapped in the case, also those that carry nothing on its elevation.
    MappedStructureIx
);

position!(
    /// A constraint's position among the wetlands, regulated areas, fish habitats and utilities of the case.
    ConstraintIx
);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_has_the_number_1() {
        assert_eq!(ParcelIx::from_number(0), None);
        assert_eq!(ParcelIx::from_number(1), Some(ParcelIx(0)));
        assert_eq!(ParcelIx(0).number(), 1);
        assert_eq!(ParcelIx::from_number(u32::MAX), Some(ParcelIx(4_294_967_294)));
    }
}
