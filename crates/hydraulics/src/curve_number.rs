//! Runoff depth by curve number.

use fallwright_units::{Hectares, Millimetres};

use crate::OutOfRange;
use crate::wrap::millimetres;

/// Rain that is held back before any runs off, as a part of the greatest retention (TR-55, equation 2-2).
const ABSTRACTION_TO_RETENTION: f64 = 0.2;

/// A runoff curve number, above 0 and at most 100.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct CurveNumber(f64);

impl CurveNumber {
    /// # Errors
    /// A value outside 0 to 100, or 0.
    pub fn new(number: f64) -> Result<Self, OutOfRange> {
        let expected = "a number above 0 and at most 100";
        let number = OutOfRange::unless_within("a curve number", number, f64::MIN_POSITIVE..=100.0, expected)?;
        Ok(Self(number))
    }

    /// The mean by area.
    ///
    /// # Errors
    /// Parts without any area together.
    pub fn weighted(parts: &[(Hectares, Self)]) -> Result<Self, OutOfRange> {
        let total: f64 = parts.iter().map(|(area, _)| area.hectares()).sum();
        let total = OutOfRange::unless_positive("the area of all parts in hectares", total)?;
        Self::new(parts.iter().map(|(area, number)| area.hectares() * number.0).sum::<f64>() / total)
    }

    pub const fn number(self) -> f64 {
        self.0
    }

    /// Greatest retention S after runoff begins, mm: S (in) = 1000/CN − 10 (TR-55, equation 2-4).
    fn retention(self) -> f64 {
        Millimetres::from_inches(1000.0 / self.0 - 10.0).expect("a curve number is above 0").millimetres()
    }
}

/// Rain that is held back before runoff begins: Ia = 0.2 S.
pub fn initial_abstraction(number: CurveNumber) -> Millimetres {
    millimetres(ABSTRACTION_TO_RETENTION * number.retention())
}

/// Depth of rain that runs off: Q = (P − Ia)² / (P − Ia + S), 0 where the rain P is at most Ia.
///
/// *References*: Natural Resources Conservation Service, Technical Release 55 (1986), equations 2-1 to 2-4.
pub fn runoff_depth(number: CurveNumber, rain: Millimetres) -> Millimetres {
    let effective = rain.millimetres() - initial_abstraction(number).millimetres();
    millimetres(if effective > 0.0 { effective * effective / (effective + number.retention()) } else { 0.0 })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(value: f64) -> CurveNumber {
        CurveNumber::new(value).unwrap()
    }

    fn check(curve_number: f64, rain_in: f64, runoff_in: f64, last_digit: f64) {
        let found = runoff_depth(number(curve_number), Millimetres::from_inches(rain_in).unwrap()).inches();
        assert!((found - runoff_in).abs() <= 0.5 * last_digit + 1e-9, "{found} {runoff_in}");
    }

    fn weighted(parts: &[(f64, f64)]) -> f64 {
        let parts: Vec<_> =
            parts.iter().map(|&(acres, cn)| (Hectares::from_acres(acres).unwrap(), number(cn))).collect();
        CurveNumber::weighted(&parts).unwrap().number()
    }

    /// TR-55, example 2-1: 75 ac of soil B and 175 ac of C, pasture in good condition, 6.0 in of rain. The inputs were seen,
    /// the printed results (CN 70, 2.81 in) are from memory.
    #[test]
    fn tr_55_example_2_1() {
        assert_eq!(weighted(&[(75.0, 61.0), (175.0, 74.0)]).round(), 70.0);
        check(70.0, 6.0, 2.81, 0.01);
    }

    /// TR-55, example 2-2: 75 ac B and 100 ac C as half-acre lots, 75 ac C as open space. Results as above: CN 75, 3.28 in.
    #[test]
    fn tr_55_example_2_2() {
        assert_eq!(weighted(&[(75.0, 70.0), (100.0, 80.0), (75.0, 74.0)]).round(), 75.0);
        check(75.0, 6.0, 3.28, 0.01);
    }

    /// Tests of the formula; source not recorded.
    #[test]
    fn the_formula() {
        check(80.0, 8.0, 5.625, 0.001);
        check(1000.0 / 10.5, 8.0, 7.43, 0.01);
        check(94.82, 9.0, 8.38, 0.01);
        check(87.0, 1.1, 0.28, 0.01);
        check(100.0, 3.0, 3.0, 0.001);
        check(50.0, 2.0, 0.0, 0.001);
    }

    #[test]
    fn numbers_outside_the_scale_are_refused() {
        for value in [0.0, -1.0, 100.5, f64::NAN] {
            assert!(CurveNumber::new(value).is_err(), "{value}");
        }
        assert!(CurveNumber::weighted(&[]).is_err());
    }
}
