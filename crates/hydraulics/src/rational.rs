//! The rational method: a peak flow from small land.

use fallwright_units::{CubicMetresPerSecond, Hectares, MillimetresPerHour};

use crate::OutOfRange;
use crate::wrap::flow;

/// Q (m³/s) = C i A / 360, with the runoff coefficient C, the intensity i (mm/h) of rain that lasts as long as the time of
/// concentration, and the area A (ha); 360 by definition of the units.
///
/// *Assumptions*: rain of one intensity over the whole area; land below about 80 ha (200 acres; source not recorded).
///
/// # Errors
/// A coefficient outside 0 to 1.
pub fn rational_flow(
    coefficient: f64,
    intensity: MillimetresPerHour,
    area: Hectares,
) -> Result<CubicMetresPerSecond, OutOfRange> {
    let coefficient =
        OutOfRange::unless_within("a runoff coefficient", coefficient, 0.0..=1.0, "a number from 0 to 1")?;
    Ok(flow(coefficient * intensity.millimetres_per_hour() * area.hectares() / 360.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// San Diego State University, CIVE 445 (2008): C 0.95, 20 mm/h, 70 ha: 3.694 m³/s.
    #[test]
    fn cive_445() {
        let intensity = MillimetresPerHour::from_millimetres_per_hour(20.0).unwrap();
        let found = rational_flow(0.95, intensity, Hectares::from_hectares(70.0).unwrap()).unwrap();
        assert!((found.cubic_metres_per_second() - 3.694).abs() <= 0.0005);
    }

    /// 128 ac, C 0.4, 2.87 in/h gives C i A = 146.9 in US customary units, where the factor 1.008 is dropped. A test of the
    /// formula; source not recorded.
    #[test]
    fn us_customary() {
        let intensity = MillimetresPerHour::from_inches_per_hour(2.87).unwrap();
        let found = rational_flow(0.4, intensity, Hectares::from_acres(128.0).unwrap()).unwrap();
        assert!((found.cubic_feet_per_second() / (43_560.0 / 12.0 / 3600.0) - 146.9).abs() <= 0.05);
    }

    #[test]
    fn a_coefficient_above_1_is_refused() {
        let intensity = MillimetresPerHour::ZERO;
        assert!(rational_flow(1.2, intensity, Hectares::ZERO).is_err());
    }
}
