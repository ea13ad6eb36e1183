//! Graphical peak discharge.

use fallwright_units::{CubicMetresPerSecond, Hectares, Hours, Millimetres};
use serde::Deserialize;

use crate::{CurveNumber, OutOfRange, initial_abstraction, runoff_depth};

/// How a storm's rain is spread over 24 hours.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "UPPERCASE")]
pub enum RainfallDistribution {
    I,
    Ia,
    Ii,
    Iii,
}

impl RainfallDistribution {
    /// As case files and outputs have it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::I => "I",
            Self::Ia => "IA",
            Self::Ii => "II",
            Self::Iii => "III",
        }
    }
}

/// Ia/P, C0, C1, C2.
type Row = (f64, [f64; 3]);

/// TR-55, table F-1, read second-hand in a transcription whose source is not recorded; it agrees with example 4-1.
const TYPE_I: [Row; 8] = [
    (0.10, [2.305_50, -0.514_29, -0.117_50]),
    (0.20, [2.235_37, -0.503_87, -0.089_29]),
    (0.25, [2.182_19, -0.484_88, -0.065_89]),
    (0.30, [2.106_24, -0.456_95, -0.028_35]),
    (0.35, [2.003_03, -0.407_69, 0.019_83]),
    (0.40, [1.877_33, -0.322_74, 0.057_54]),
    (0.45, [1.763_12, -0.156_44, 0.004_53]),
    (0.50, [1.678_89, -0.069_30, 0.0]),
];
const TYPE_IA: [Row; 5] = [
    (0.10, [2.032_50, -0.315_83, -0.137_48]),
    (0.20, [1.919_78, -0.282_15, -0.070_20]),
    (0.25, [1.838_42, -0.255_43, -0.025_97]),
    (0.30, [1.726_57, -0.198_26, 0.026_33]),
    (0.50, [1.634_17, -0.091_00, 0.0]),
];
const TYPE_II: [Row; 6] = [
    (0.10, [2.553_23, -0.615_12, -0.164_03]),
    (0.30, [2.465_32, -0.622_57, -0.116_57]),
    (0.35, [2.418_96, -0.615_94, -0.088_20]),
    (0.40, [2.364_09, -0.598_57, -0.056_21]),
    (0.45, [2.292_38, -0.570_05, -0.022_81]),
    (0.50, [2.202_82, -0.515_99, -0.012_59]),
];
const TYPE_III: [Row; 6] = [
    (0.10, [2.473_17, -0.518_48, -0.170_83]),
    (0.30, [2.396_28, -0.512_02, -0.132_45]),
    (0.35, [2.354_77, -0.497_35, -0.119_85]),
    (0.40, [2.307_26, -0.465_41, -0.110_94]),
    (0.45, [2.248_76, -0.413_14, -0.115_08]),
    (0.50, [2.177_72, -0.368_03, -0.095_25]),
];

impl RainfallDistribution {
    const fn rows(self) -> &'static [Row] {
        match self {
            Self::I => &TYPE_I,
            Self::Ia => &TYPE_IA,
            Self::Ii => &TYPE_II,
            Self::Iii => &TYPE_III,
        }
    }
}

/// Share of the peak that is left where ponds and swamps cover some per cent of the land, spread over it: TR-55,
/// table 4-2; 0.2 % is from memory.
const POND_FACTORS: [(f64, f64); 5] = [(0.0, 1.0), (0.2, 0.97), (1.0, 0.87), (3.0, 0.75), (5.0, 0.72)];

/// The pond and swamp adjustment factor; straight lines between the table's values.
///
/// # Errors
/// A percentage outside 0 to 5.
pub fn pond_factor(percent: f64) -> Result<f64, OutOfRange> {
    let percent =
        OutOfRange::unless_within("the part of ponds and swamps in per cent", percent, 0.0..=5.0, "0 to 5 %")?;
    Ok(between(&POND_FACTORS, percent, |&(at, factor)| (at, factor)))
}

/// Unit peak discharge qu in cubic feet a second by square mile and inch of runoff:
/// log qu = C0 + C1 log Tc + C2 (log Tc)². Between the rows of the table, qu itself is interpolated; outside them the
/// first and the last hold.
///
/// # Errors
/// A time of concentration outside 0.1 to 10 hours.
pub fn unit_peak_discharge(
    distribution: RainfallDistribution,
    abstraction_to_rain: f64,
    concentration: Hours,
) -> Result<f64, OutOfRange> {
    let hours = concentration.hours();
    let log =
        OutOfRange::unless_within("the time of concentration in hours", hours, 0.1..=10.0, "0.1 to 10 h")?.log10();
    let unit = |&(at, [c0, c1, c2]): &Row| (at, 10.0_f64.powf(c0 + c1 * log + c2 * log * log));
    Ok(between(distribution.rows(), abstraction_to_rain, unit))
}

/// The peak of a storm of 24 hours: qp = qu A Q Fp.
///
/// *Assumptions*: one stream, land alike all over, one time of concentration.
///
/// *References*: Natural Resources Conservation Service, Technical Release 55 (1986), chapter 4 and appendix F.
///
/// # Errors
/// A curve number of 40 or less, a time of concentration outside 0.1 to 10 hours, or more than 5 % of ponds.
pub fn peak_discharge(
    distribution: RainfallDistribution,
    area: Hectares,
    number: CurveNumber,
    rain: Millimetres,
    concentration: Hours,
    pond_percent: f64,
) -> Result<CubicMetresPerSecond, OutOfRange> {
    if number.number() <= 40.0 {
        let expected = "more than 40 for this method";
        return Err(OutOfRange { quantity: "a curve number", found: number.number(), expected });
    }
    let rain_mm = OutOfRange::unless_positive("a depth of rain in millimetres", rain.millimetres())?;
    let unit = unit_peak_discharge(distribution, initial_abstraction(number).millimetres() / rain_mm, concentration)?;
    let peak = unit * area.square_miles() * runoff_depth(number, rain).inches() * pond_factor(pond_percent)?;
    Ok(CubicMetresPerSecond::from_cubic_feet_per_second(peak)
        .expect("a product of finite numbers within range is finite"))
}

/// Straight lines between the rows of a table.
fn between<T>(rows: &[T], at: f64, point: impl Fn(&T) -> (f64, f64)) -> f64 {
    let points: Vec<(f64, f64)> = rows.iter().map(point).collect();
    let above = points.partition_point(|&(x, _)| x < at).clamp(1, points.len() - 1);
    let ((x0, y0), (x1, y1)) = (points[above - 1], points[above]);
    y0 + (y1 - y0) * ((at - x0) / (x1 - x0)).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hours(value: f64) -> Hours {
        Hours::from_hours(value).unwrap()
    }

    /// TR-55, example 4-1: type II, 0.39 mi², CN 75, 6.0 in, Tc 1.53 h, no ponds: qu 270, qp 345 cfs, read off a chart (the
    /// regression of appendix F gives 268.9 and 344.2): within 0.5 %.
    #[test]
    fn tr_55_example_4_1() {
        let number = CurveNumber::new(75.0).unwrap();
        let rain = Millimetres::from_inches(6.0).unwrap();
        let ratio = initial_abstraction(number).millimetres() / rain.millimetres();
        let unit = unit_peak_discharge(RainfallDistribution::Ii, ratio, hours(1.53)).unwrap();
        assert!((unit / 270.0 - 1.0).abs() < 0.005, "{unit}");
        let area = Hectares::from_square_miles(0.39).unwrap();
        let peak = peak_discharge(RainfallDistribution::Ii, area, number, rain, hours(1.53), 0.0).unwrap();
        assert!((peak.cubic_feet_per_second() / 345.0 - 1.0).abs() < 0.005, "{}", peak.cubic_feet_per_second());
    }

    /// Ponce, Engineering Hydrology, example 5-9: 4 km², 9 cm, CN 74, 1.5 h, 1 % ponds, type II: Ia/P 0.198, 12.09 m³/s.
    /// Interpolating the coefficients instead of qu gives 12.04: within 0.5 %.
    #[test]
    fn ponce_example_5_9() {
        let number = CurveNumber::new(74.0).unwrap();
        let rain = Millimetres::from_millimetres(90.0).unwrap();
        assert!((initial_abstraction(number).millimetres() / 90.0 - 0.198).abs() <= 0.0005);
        let area = Hectares::from_hectares(400.0).unwrap();
        let peak = peak_discharge(RainfallDistribution::Ii, area, number, rain, hours(1.5), 1.0).unwrap();
        assert!((peak.cubic_metres_per_second() / 12.09 - 1.0).abs() < 0.005, "{}", peak.cubic_metres_per_second());
    }

    #[test]
    fn the_first_and_last_rows_hold_outside_the_table() {
        let unit = |ratio| unit_peak_discharge(RainfallDistribution::I, ratio, hours(1.0)).unwrap();
        assert_eq!(unit(0.01), unit(0.10));
        assert_eq!(unit(0.9), unit(0.5));
        assert!((unit(0.10) - 10.0_f64.powf(2.305_50)).abs() < 1e-9);
    }

    #[test]
    fn outside_the_limits_of_the_method() {
        let rain = Millimetres::from_millimetres(90.0).unwrap();
        let area = Hectares::from_hectares(400.0).unwrap();
        let check = |number: f64, tc: f64, ponds: f64| {
            let number = CurveNumber::new(number).unwrap();
            assert!(peak_discharge(RainfallDistribution::Ii, area, number, rain, hours(tc), ponds).is_err());
        };
        check(40.0, 1.0, 0.0);
        check(75.0, 0.05, 0.0);
        check(75.0, 11.0, 0.0);
        check(75.0, 1.0, 6.0);
    }

    #[test]
    fn ponds_between_the_tables_values() {
        assert!((pond_factor(2.0).unwrap() - 0.81).abs() < 1e-12);
        assert_eq!(pond_factor(0.0), Ok(1.0));
    }
}
