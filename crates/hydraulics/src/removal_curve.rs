//! The drainage-removal curve: flow from flat cultivated land by area alone.

use fallwright_units::{CubicMetresPerSecond, Hectares};

use crate::OutOfRange;
use crate::wrap::{flow, hectares};

const EXPONENT: f64 = 5.0 / 6.0;

/// Q (cfs) = C M^(5/6), with M the area in square miles.
///
/// *Assumptions*: cultivated land of little slope, 1 to 100 square miles; the curve states no return period.
///
/// *References*: Cromwell and Peterson, Guide 1606, University of Missouri Extension, for C = 37 (the "C" curve); it prints the
/// exponent as .833. Other coefficients are from memory.
///
/// # Errors
/// A coefficient that is not above 0, or an area below 0.
pub fn removal_flow(coefficient: f64, area: Hectares) -> Result<CubicMetresPerSecond, OutOfRange> {
    let coefficient = OutOfRange::unless_positive("the coefficient of a removal curve", coefficient)?;
    let square_miles =
        OutOfRange::unless_within("an area in square miles", area.square_miles(), 0.0..=1e6, "0 or more")?;
    let cubic_feet = coefficient * square_miles.powf(EXPONENT);
    Ok(CubicMetresPerSecond::from_cubic_feet_per_second(cubic_feet).expect("a power of a finite area is finite"))
}

/// The area from which a removal curve takes a flow: the inverse of [`removal_flow`].
///
/// # Errors
/// A coefficient that is not above 0, or a flow below 0.
pub fn removal_area(coefficient: f64, flow: CubicMetresPerSecond) -> Result<Hectares, OutOfRange> {
    let coefficient = OutOfRange::unless_positive("the coefficient of a removal curve", coefficient)?;
    let cubic_feet = OutOfRange::unless_within(
        "a flow in cubic feet a second",
        flow.cubic_feet_per_second(),
        0.0..=1e12,
        "0 or more",
    )?;
    let square_miles = (cubic_feet / coefficient).powf(1.0 / EXPONENT);
    Ok(Hectares::from_square_miles(square_miles).expect("a power of a finite flow is finite"))
}

/// What arrives at a junction by one ditch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Branch {
    pub area: Hectares,
    pub flow: CubicMetresPerSecond,
}

/// Two ditches joined by the 20–40 rule.
///
/// Where the smaller area is 40 to 50 % of both together, their flows are added; where it is below 20 %, the curve is read at
/// the area of both; between, the flow is interpolated between these two by the smaller area's share. The areas add in
/// every case.
///
/// *References*: NRCS, Engineering Field Handbook, chapter 14 (from memory).
///
/// # Errors
/// A coefficient that is not above 0.
pub fn join(coefficient: f64, one: Branch, other: Branch) -> Result<Branch, OutOfRange> {
    let area = one.area + other.area;
    let added = (one.flow + other.flow).cubic_metres_per_second();
    let on_curve = removal_flow(coefficient, area)?.cubic_metres_per_second();
    let smaller = one.area.hectares().min(other.area.hectares());
    let share = if area.hectares() > 0.0 { smaller / area.hectares() } else { 0.0 };
    let weight = ((share - 0.2) / 0.2).clamp(0.0, 1.0);
    Ok(Branch { area: hectares(area.hectares()), flow: flow(on_curve + weight * (added - on_curve)) })
}

#[cfg(test)]
mod tests {
    use super::*;

    const C: f64 = 37.0;

    fn acres(value: f64) -> Hectares {
        Hectares::from_acres(value).unwrap()
    }

    /// Guide 1606, table 1: acres and cubic feet a second, all 16 rows to half their last digit.
    #[test]
    fn the_table_of_guide_1606() {
        let table = [
            (40.0, 3.7),
            (64.0, 5.4),
            (80.0, 6.5),
            (120.0, 9.2),
            (128.0, 9.7),
            (160.0, 11.7),
            (192.0, 13.6),
            (200.0, 14.0),
            (240.0, 16.3),
            (256.0, 17.2),
            (280.0, 18.6),
            (320.0, 20.8),
            (360.0, 22.9),
            (384.0, 24.2),
            (400.0, 25.0),
            (440.0, 27.1),
        ];
        for (area, printed) in table {
            let found = removal_flow(C, acres(area)).unwrap().cubic_feet_per_second();
            assert!((found - printed).abs() <= 0.05, "{area} ac: {found}, printed {printed}");
        }
    }

    #[test]
    fn the_area_of_a_flow() {
        let flow = removal_flow(C, acres(240.0)).unwrap();
        assert!((removal_area(C, flow).unwrap().acres() - 240.0).abs() < 1e-9);
        assert!(removal_flow(0.0, acres(1.0)).is_err());
    }

    /// By hand: 900 ac with 100 (10 %), 600 with 400 (40 %), 700 with 300 (30 %: half-way).
    #[test]
    fn the_20_40_rule() {
        let branch = |area: f64| Branch { area: acres(area), flow: removal_flow(C, acres(area)).unwrap() };
        let cfs = |flow: CubicMetresPerSecond| flow.cubic_feet_per_second();
        let curve = cfs(removal_flow(C, acres(1000.0)).unwrap());
        let check = |one: f64, other: f64, weight: f64| {
            let joined = join(C, branch(one), branch(other)).unwrap();
            let added = cfs(branch(one).flow) + cfs(branch(other).flow);
            assert!((joined.area.acres() - 1000.0).abs() < 1e-9);
            assert!((cfs(joined.flow) - (curve + weight * (added - curve))).abs() < 1e-9, "{one} {other}");
        };
        check(900.0, 100.0, 0.0);
        check(600.0, 400.0, 1.0);
        check(500.0, 500.0, 1.0);
        check(300.0, 700.0, 0.5);
    }
}
