//! Time of concentration: how long water takes from the farthest point.

use fallwright_units::{Hours, Metres, MetresPerSecond, Millimetres, Slope};

use crate::OutOfRange;
use crate::wrap::{hours, velocity};

/// Sheet flow does not run farther: 300 ft in TR-55, worksheet 3; newer guidance says 100 ft.
const LONGEST_SHEET_FLOW_FT: f64 = 300.0;

/// What shallow concentrated flow runs over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Surface {
    Unpaved,
    Paved,
}

impl Surface {
    /// Velocity (ft/s) at a grade of 1: TR-55, appendix F (from memory; they agree with example 3-1).
    const fn velocity_at_unit_grade(self) -> f64 {
        match self {
            Self::Unpaved => 16.1345,
            Self::Paved => 20.3282,
        }
    }
}

/// Tt (h) = 0.007 (n L)^0.8 / (P2^0.5 s^0.4), with L in feet and the rain P2 of 24 hours and 2 years in inches.
///
/// *References*: TR-55 (1986), equation 3-3.
///
/// # Errors
/// A grade, rain or roughness that is not above 0, or more than 300 ft.
pub fn sheet_flow_time(roughness: f64, length: Metres, rain: Millimetres, grade: Slope) -> Result<Hours, OutOfRange> {
    let roughness = OutOfRange::unless_positive("a roughness for sheet flow", roughness)?;
    let feet = OutOfRange::unless_within(
        "a length in feet",
        length.feet(),
        0.0..=LONGEST_SHEET_FLOW_FT + 1e-9,
        "0 to 300 ft",
    )?;
    let inches = OutOfRange::unless_positive("a depth of rain in inches", rain.inches())?;
    let grade = OutOfRange::unless_positive("a grade in metres per metre", grade.metres_per_metre())?;
    Ok(hours(0.007 * (roughness * feet).powf(0.8) / (inches.sqrt() * grade.powf(0.4))))
}

/// Time of shallow concentrated flow.
///
/// *References*: TR-55 (1986), figure 3-1 and appendix F.
///
/// # Errors
/// A grade that is not above 0.
pub fn shallow_flow_time(surface: Surface, length: Metres, grade: Slope) -> Result<Hours, OutOfRange> {
    let grade = OutOfRange::unless_positive("a grade in metres per metre", grade.metres_per_metre())?;
    let speed = MetresPerSecond::from_feet_per_second(surface.velocity_at_unit_grade() * grade.sqrt());
    travel_time(length, speed.unwrap_or(velocity(0.0)))
}

/// Length by velocity.
///
/// # Errors
/// A velocity that is not above 0.
pub fn travel_time(length: Metres, velocity: MetresPerSecond) -> Result<Hours, OutOfRange> {
    let speed = OutOfRange::unless_positive("a velocity in metres a second", velocity.metres_per_second())?;
    Ok(hours(length.metres() / speed / 3600.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Channel, Roughness, Section};

    /// TR-55, example 3-1: sheet flow n 0.24, 100 ft, P2 3.6 in, 1 % → 0.30 h; 1400 ft unpaved at 1 % → 0.24 h; a channel of
    /// 27 ft² and 28.2 ft wet perimeter, n 0.05, 0.5 %, 7300 ft → 2.05 ft/s, 0.99 h; together 1.53 h. The total was seen (in
    /// example 4-1), the rest is from memory. The source's Manning has 1.49 for 1.4859.
    #[test]
    fn tr_55_example_3_1() {
        let feet = |value| Metres::from_feet(value).unwrap();
        let grade = |value| Slope::from_metres_per_metre(value).unwrap();
        let sheet = sheet_flow_time(0.24, feet(100.0), Millimetres::from_inches(3.6).unwrap(), grade(0.01)).unwrap();
        let shallow = shallow_flow_time(Surface::Unpaved, feet(1400.0), grade(0.01)).unwrap();
        // A rectangle of the same area and wet perimeter, the deeper of the two there are.
        let depth = (28.2 - (28.2_f64 * 28.2 - 8.0 * 27.0).sqrt()) / 4.0;
        let section = Section::rectangle(feet(27.0 / depth)).unwrap();
        let channel = Channel::new(section, Roughness::new(0.05).unwrap(), grade(0.005)).unwrap();
        let exact = channel.velocity(feet(depth)).feet_per_second();
        let with_1_49 = MetresPerSecond::from_feet_per_second(exact * 1.49 * 0.3048_f64.cbrt()).unwrap();
        let in_channel = travel_time(feet(7300.0), with_1_49).unwrap();
        let check = |found: f64, printed: f64| assert!((found - printed).abs() <= 0.005, "{found} {printed}");
        check(sheet.hours(), 0.30);
        check(shallow.hours(), 0.24);
        check(with_1_49.feet_per_second(), 2.05);
        check(in_channel.hours(), 0.99);
        check((sheet + shallow + in_channel).hours(), 1.53);
    }

    #[test]
    fn what_does_not_run_has_no_time() {
        let (length, rain) = (Metres::from_metres(30.0).unwrap(), Millimetres::from_millimetres(60.0).unwrap());
        assert!(sheet_flow_time(0.24, length, rain, Slope::ZERO).is_err());
        assert!(sheet_flow_time(0.24, length, Millimetres::ZERO, Slope::from_percent(1.0).unwrap()).is_err());
        let far = Metres::from_metres(100.0).unwrap();
        assert!(sheet_flow_time(0.24, far, rain, Slope::from_percent(1.0).unwrap()).is_err());
        assert!(shallow_flow_time(Surface::Paved, length, Slope::ZERO).is_err());
        assert!(travel_time(length, MetresPerSecond::ZERO).is_err());
    }
}
