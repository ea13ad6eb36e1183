//! US customary units in and out, by exact definitions.
//!
//! The international foot is exactly 0.3048 m (Refinement of values for the yard and the pound, Federal Register, 1 July
//! 1959); 12 inches make a foot, 5280 feet a mile, and an acre is 43 560 square feet (NIST Handbook 44, appendix C).

use crate::{
    CubicMetresPerSecond, Hectares, Metres, MetresPerSecond, Millimetres, MillimetresPerDay, MillimetresPerHour,
    NotFinite, SQUARE_METRES_PER_HECTARE,
};

pub const METRES_PER_FOOT: f64 = 0.3048;
pub const MILLIMETRES_PER_INCH: f64 = METRES_PER_FOOT * 1000.0 / 12.0;
pub const HECTARES_PER_ACRE: f64 = 43_560.0 * METRES_PER_FOOT * METRES_PER_FOOT / SQUARE_METRES_PER_HECTARE;
pub const HECTARES_PER_SQUARE_MILE: f64 = 640.0 * HECTARES_PER_ACRE;
pub const CUBIC_METRES_PER_CUBIC_FOOT: f64 = METRES_PER_FOOT * METRES_PER_FOOT * METRES_PER_FOOT;

macro_rules! in_us_customary {
    ($name:ident, $from:ident, $get:ident, $make:ident, $take:ident, $factor:expr) => {
        impl $name {
            /// # Errors
            /// A value that is not finite.
            pub fn $make(value: f64) -> Result<Self, NotFinite> {
                Self::$from(value * $factor)
            }

            pub fn $take(self) -> f64 {
                self.$get() / $factor
            }
        }
    };
}

in_us_customary!(Metres, from_metres, metres, from_feet, feet, METRES_PER_FOOT);
in_us_customary!(Millimetres, from_millimetres, millimetres, from_inches, inches, MILLIMETRES_PER_INCH);
in_us_customary!(Hectares, from_hectares, hectares, from_acres, acres, HECTARES_PER_ACRE);
in_us_customary!(Hectares, from_hectares, hectares, from_square_miles, square_miles, HECTARES_PER_SQUARE_MILE);
in_us_customary!(
    CubicMetresPerSecond,
    from_cubic_metres_per_second,
    cubic_metres_per_second,
    from_cubic_feet_per_second,
    cubic_feet_per_second,
    CUBIC_METRES_PER_CUBIC_FOOT
);
in_us_customary!(
    MetresPerSecond,
    from_metres_per_second,
    metres_per_second,
    from_feet_per_second,
    feet_per_second,
    METRES_PER_FOOT
);
in_us_customary!(
    MillimetresPerDay,
    from_millimetres_per_day,
    millimetres_per_day,
    from_inches_per_day,
    inches_per_day,
    MILLIMETRES_PER_INCH
);
in_us_customary!(
    MillimetresPerHour,
    from_millimetres_per_hour,
    millimetres_per_hour,
    from_inches_per_hour,
    inches_per_hour,
    MILLIMETRES_PER_INCH
);

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST Special Publication 811 (2008), appendix B.8: an acre of the international foot is 4046.856 422 4 m², a cubic
    /// foot 0.028 316 846 592 m³ (from memory).
    #[test]
    fn definitions_are_exact() {
        let check = |found: f64, expected: f64| assert!((found / expected - 1.0).abs() < 1e-12, "{found} {expected}");
        check(MILLIMETRES_PER_INCH, 25.4);
        check(HECTARES_PER_ACRE, 0.404_685_642_24);
        check(CUBIC_METRES_PER_CUBIC_FOOT, 0.028_316_846_592);
        check(Hectares::from_square_miles(1.0).unwrap().acres(), 640.0);
    }

    #[test]
    fn in_and_out_again() {
        assert!((Metres::from_feet(12.5).unwrap().feet() - 12.5).abs() < 1e-12);
        assert!(CubicMetresPerSecond::from_cubic_feet_per_second(f64::NAN).is_err());
    }
}
