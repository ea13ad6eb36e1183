//! Critical depth: where the specific head of a flow is least.

use fallwright_units::{CubicMetresPerSecond, Metres};

use crate::root::{interval, rising_to};
use crate::wrap::metres;
use crate::{GRAVITY, Section};

/// The depth at which Q² T = g A³, with the wet area A and the width T of the water's surface. A flow that is deeper
/// is tranquil, one that is shallower shoots.
///
/// In an irregular section, the least such depth. `None` where the section is filled before.
///
/// *References*: Chow, Open-Channel Hydraulics (1959), equation 4-2 (from memory).
///
/// *Complexity*: about 60 evaluations of the section.
pub fn critical_depth(section: &Section, flow: CubicMetresPerSecond) -> Option<Metres> {
    let target = flow.cubic_metres_per_second().powi(2) / GRAVITY;
    if target <= 0.0 {
        return Some(Metres::ZERO);
    }
    let value = |depth: f64| {
        let (area, _, width) = section.wet(depth);
        // Towards the crown of a pipe the width vanishes, and the value grows without limit.
        if width > 0.0 { area.powi(3) / width } else { f64::INFINITY }
    };
    let crown = section.is_closed().then(|| section.top().expect("a pipe has a diameter").metres());
    let within = interval(target, section.bounds().chain(crown), value)?;
    Some(metres(rising_to(target, within, value)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(section: &Section, flow: f64, expected: f64) {
        let flow = CubicMetresPerSecond::from_cubic_metres_per_second(flow).unwrap();
        let found = critical_depth(section, flow).unwrap().metres();
        assert!((found - expected).abs() < 1e-9, "{found} {expected}");
    }

    /// Closed forms: (q²/g)^(1/3) in a rectangle with q the flow by width, (2 Q² / (g z²))^(1/5) in a V.
    #[test]
    fn closed_forms() {
        let rectangle = Section::rectangle(metres(3.0)).unwrap();
        check(&rectangle, 6.0, (4.0_f64 / GRAVITY).cbrt());
        let v = Section::v(2.0).unwrap();
        check(&v, 1.5, (2.0 * 1.5 * 1.5 / (GRAVITY * 4.0)).powf(0.2));
        check(&rectangle, 0.0, 0.0);
    }

    #[test]
    fn a_pipe_has_a_critical_depth_for_every_flow() {
        let pipe = Section::circle(metres(0.6)).unwrap();
        for flow in [0.01, 0.3, 3.0] {
            let flow = CubicMetresPerSecond::from_cubic_metres_per_second(flow).unwrap();
            let depth = critical_depth(&pipe, flow).unwrap().metres();
            let (area, _, width) = pipe.wet(depth);
            assert!(depth <= 0.6);
            assert!(width < 1e-6 || (area.powi(3) / width * GRAVITY).sqrt() / flow.cubic_metres_per_second() < 1.001);
        }
    }
}
