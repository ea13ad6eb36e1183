//! Thin newtypes over `f64`: only the arithmetic that means something.

use std::ops::{Add, Sub};

use thiserror::Error;

/// One hectare is exactly 10 000 m² (SI Brochure, 9th edition, table 8).
pub const SQUARE_METRES_PER_HECTARE: f64 = 10_000.0;

/// A quantity was given a value that is not a finite number.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[error("{quantity} must be a finite number, found {value}")]
pub struct NotFinite {
    pub quantity: &'static str,
    pub value: f64,
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $word:literal, $make:ident, $get:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            pub const ZERO: Self = Self(0.0);

            /// # Errors
            /// A value that is not finite.
            pub fn $make(value: f64) -> Result<Self, NotFinite> {
                if value.is_finite() {
                    Ok(Self(value))
                } else {
                    Err(NotFinite { quantity: $word, value })
                }
            }

            pub const fn $get(self) -> f64 {
                self.0
            }
        }

        impl Add for $name {
            type Output = Self;

            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl Sub for $name {
            type Output = Self;

            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
    };
}

quantity!(
    /// A length, distance or height in metres.
    Metres, "a length in metres", from_metres, metres
);
quantity!(
    /// An area in hectares.
    Hectares, "an area in hectares", from_hectares, hectares
);

impl Hectares {
    /// # Errors
    /// A value that is not finite.
    pub fn from_square_metres(value: f64) -> Result<Self, NotFinite> {
        Self::from_hectares(value / SQUARE_METRES_PER_HECTARE)
    }
}

quantity!(
    /// An area in square metres, such as that of a wetted cross-section.
    SquareMetres, "an area in square metres", from_square_metres, square_metres
);
quantity!(
    /// A depth of rain or a diameter in millimetres.
    Millimetres, "a length in millimetres", from_millimetres, millimetres
);
quantity!(
    /// A depth of water a day over an area: the unit of a drainage coefficient.
    MillimetresPerDay, "a depth in millimetres a day", from_millimetres_per_day, millimetres_per_day
);
quantity!(
    /// An intensity of rain.
    MillimetresPerHour, "an intensity in millimetres an hour", from_millimetres_per_hour, millimetres_per_hour
);
quantity!(
    /// A flow in cubic metres a second.
    CubicMetresPerSecond, "a flow in cubic metres a second", from_cubic_metres_per_second, cubic_metres_per_second
);
quantity!(
    /// A velocity in metres a second.
    MetresPerSecond, "a velocity in metres a second", from_metres_per_second, metres_per_second
);
quantity!(
    /// A duration in hours.
    Hours, "a duration in hours", from_hours, hours
);
quantity!(
    /// A grade: metres of fall per metre of length. Positive downstream; adverse grades are below 0.
    Slope, "a grade in metres per metre", from_metres_per_metre, metres_per_metre
);

impl Slope {
    /// # Errors
    /// A value that is not finite.
    pub fn from_percent(value: f64) -> Result<Self, NotFinite> {
        Self::from_metres_per_metre(value / 100.0)
    }

    pub const fn percent(self) -> f64 {
        self.0 * 100.0
    }
}

/// The unit of heights in an elevation raster.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum VerticalUnit {
    Metre,
    InternationalFoot,
    UsSurveyFoot,
}

impl VerticalUnit {
    /// Metres in one unit. The international foot is exactly 0.3048 m (Refinement of values for the yard and the pound,
    /// Federal Register, 1 July 1959); the US survey foot is exactly 1200/3937 m (same notice).
    pub const fn metres(self) -> f64 {
        match self {
            Self::Metre => 1.0,
            Self::InternationalFoot => 0.3048,
            Self::UsSurveyFoot => 1200.0 / 3937.0,
        }
    }

    /// The name used in the case file and in outputs.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Metre => "m",
            Self::InternationalFoot => "ft",
            Self::UsSurveyFoot => "us-ft",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_length_must_be_finite() {
        assert!(Metres::from_metres(f64::NAN).is_err());
        assert!(Metres::from_metres(f64::INFINITY).is_err());
        assert_eq!(Metres::from_metres(2.5).map(Metres::metres), Ok(2.5));
    }

    #[test]
    fn hectares_from_square_metres() {
        assert_eq!(Hectares::from_square_metres(25_000.0).map(Hectares::hectares), Ok(2.5));
    }

    #[test]
    fn feet_are_exact() {
        assert_eq!(VerticalUnit::InternationalFoot.metres(), 0.3048);
        assert!((VerticalUnit::UsSurveyFoot.metres() * 3937.0 - 1200.0).abs() < 1e-9);
    }
}
