//! Drainage coefficient: the depth of water a day that subsurface drainage removes from the land it drains.

use fallwright_units::{CubicMetresPerSecond, Hectares, MillimetresPerDay, SQUARE_METRES_PER_HECTARE};

use crate::OutOfRange;
use crate::wrap::flow;

/// m³/s for one millimetre a day on one hectare: 1/8640, by definition of the units.
const FLOW_PER_HECTARE_MILLIMETRE: f64 = SQUARE_METRES_PER_HECTARE / 1000.0 / 86_400.0;

/// The flow from an area at a drainage coefficient.
///
/// Q (L/s) = coefficient (mm/d) × area (ha) / 8.64.
pub fn drainage_flow(coefficient: MillimetresPerDay, area: Hectares) -> CubicMetresPerSecond {
    flow(coefficient.millimetres_per_day() * area.hectares() * FLOW_PER_HECTARE_MILLIMETRE)
}

/// The drainage coefficient at which a flow comes from an area.
///
/// # Errors
/// An area that is not above 0.
pub fn drainage_coefficient(flow: CubicMetresPerSecond, area: Hectares) -> Result<MillimetresPerDay, OutOfRange> {
    let area = OutOfRange::unless_positive("an area in hectares", area.hectares())?;
    let coefficient = flow.cubic_metres_per_second() / area / FLOW_PER_HECTARE_MILLIMETRE;
    Ok(MillimetresPerDay::from_millimetres_per_day(coefficient).expect("a quotient by a number above 0 is finite"))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Drainage workshop report, North Dakota State University (2021), gives Q (cfs) = in/d × ac / 23.8; 0.5 in/d on 80 ac and
    /// 40 ac are worked from that formula, so these test the formula and the units, not a published result.
    #[test]
    fn cubic_feet_from_acres() {
        let check = |inches, acres, cfs: f64| {
            let coefficient = MillimetresPerDay::from_inches_per_day(inches).unwrap();
            let found = drainage_flow(coefficient, Hectares::from_acres(acres).unwrap()).cubic_feet_per_second();
            assert!((found - cfs).abs() <= 0.005, "{found} {cfs}");
        };
        check(0.5, 80.0, 1.68);
        check(0.5, 40.0, 0.84);
        check(1.0, 23.8, 1.0);
    }

    /// 12 mm/d is 1.3889 L/s on a hectare: 12/8.64.
    #[test]
    fn litres_from_hectares_and_back() {
        let coefficient = MillimetresPerDay::from_millimetres_per_day(12.0).unwrap();
        let area = Hectares::from_hectares(7.0).unwrap();
        let flow = drainage_flow(coefficient, area);
        assert!((flow.cubic_metres_per_second() * 1000.0 - 12.0 / 8.64 * 7.0).abs() < 1e-12);
        let back = drainage_coefficient(flow, area).unwrap().millimetres_per_day();
        assert!((back - 12.0).abs() < 1e-12);
        assert!(drainage_coefficient(flow, Hectares::ZERO).is_err());
    }
}
