//! Culverts under inlet and outlet control.

use fallwright_units::{CubicMetresPerSecond, Metres, Slope};
use serde::Deserialize;

use crate::root::rising_to;
use crate::wrap::{flow, metres};
use crate::{GRAVITY, OutOfRange, Roughness, Section, critical_depth};

/// Ku of the inlet-control formulas in SI units; 1 in US customary units (the ratio is 1/0.3048^(1/2)).
const KU: f64 = 1.811;
/// Ku Q / (A D^0.5) below which the inlet is not submerged, and above which it is (Federal Highway Administration,
/// Hydraulic Design Series 5, appendix A, from memory).
const NOT_SUBMERGED: f64 = 3.5;
const SUBMERGED: f64 = 4.0;
/// The formula of the full barrel holds where the headwater reaches this part of the rise (the same, from memory).
const LEAST_HEADWATER_TO_RISE: f64 = 0.75;

/// The shape of a culvert's barrel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Barrel {
    Circle { diameter: Metres },
    Box { span: Metres, rise: Metres },
}

/// The shape of a culvert's inlet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Inlet {
    ConcreteSquareEdgeHeadwall,
    ConcreteGrooveHeadwall,
    ConcreteGrooveProjecting,
    MetalHeadwall,
    MetalMitred,
    MetalProjecting,
    /// Wingwalls flared 30° to 75°.
    BoxFlared30To75,
    /// Wingwalls flared 90° or 15°.
    BoxFlared90Or15,
    /// Wingwalls in line with the sides.
    BoxStraight,
}

/// K, M, c, Y of the inlet-control formulas.
struct InletConstants {
    k: f64,
    m: f64,
    c: f64,
    y: f64,
}

impl Inlet {
    /// Hydraulic Design Series 5, table A.1, all of form 1. Box inlets: K, c and Y seen, M from memory; circular inlets: from
    /// memory.
    const fn constants(self) -> InletConstants {
        let (k, m, c, y) = match self {
            Self::ConcreteSquareEdgeHeadwall => (0.0098, 2.0, 0.0398, 0.67),
            Self::ConcreteGrooveHeadwall => (0.0018, 2.0, 0.0292, 0.74),
            Self::ConcreteGrooveProjecting => (0.0045, 2.0, 0.0317, 0.69),
            Self::MetalHeadwall => (0.0078, 2.0, 0.0379, 0.69),
            Self::MetalMitred => (0.0210, 1.33, 0.0463, 0.75),
            Self::MetalProjecting => (0.0340, 1.5, 0.0553, 0.54),
            Self::BoxFlared30To75 => (0.026, 1.0, 0.0347, 0.81),
            Self::BoxFlared90Or15 => (0.061, 0.75, 0.0400, 0.80),
            Self::BoxStraight => (0.061, 0.75, 0.0423, 0.82),
        };
        InletConstants { k, m, c, y }
    }

    /// Loss at the entrance in velocity heads: 0.2 grooved, 0.5 square-edged, 0.9 metal projecting (seen); 0.7 mitred,
    /// 0.4 and 0.7 for box wingwalls (from memory).
    const fn entrance_loss(self) -> f64 {
        match self {
            Self::ConcreteGrooveHeadwall | Self::ConcreteGrooveProjecting => 0.2,
            Self::BoxFlared30To75 => 0.4,
            Self::ConcreteSquareEdgeHeadwall | Self::MetalHeadwall | Self::BoxFlared90Or15 => 0.5,
            Self::MetalMitred | Self::BoxStraight => 0.7,
            Self::MetalProjecting => 0.9,
        }
    }

    /// Ks: the grade's part in the headwater; +0.7 for mitred inlets, else −0.5.
    const fn grade_factor(self) -> f64 {
        match self {
            Self::MetalMitred => 0.7,
            _ => -0.5,
        }
    }
}

/// What holds the headwater up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Control {
    Inlet,
    Outlet,
}

impl Control {
    pub const fn code(self) -> &'static str {
        match self {
            Self::Inlet => "inlet",
            Self::Outlet => "outlet",
        }
    }
}

/// The water's depth above the inlet's invert that a flow needs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Headwater {
    pub depth: Metres,
    pub control: Control,
}

/// A culvert of one barrel.
#[derive(Clone, Debug, PartialEq)]
pub struct Culvert {
    barrel: Barrel,
    section: Section,
    inlet: Inlet,
    roughness: Roughness,
    length: f64,
    grade: f64,
}

impl Culvert {
    /// # Errors
    /// A size, length or grade that is not above 0.
    pub fn new(
        barrel: Barrel,
        inlet: Inlet,
        roughness: Roughness,
        length: Metres,
        grade: Slope,
    ) -> Result<Self, OutOfRange> {
        let section = match barrel {
            Barrel::Circle { diameter } => Section::circle(diameter)?,
            Barrel::Box { span, rise } => {
                OutOfRange::unless_positive("a rise in metres", rise.metres())?;
                Section::rectangle(span)?
            }
        };
        let length = OutOfRange::unless_positive("a length in metres", length.metres())?;
        let grade = OutOfRange::unless_positive("a grade in metres per metre", grade.metres_per_metre())?;
        Ok(Self { barrel, section, inlet, roughness, length, grade })
    }

    /// Height of the barrel, m.
    fn rise(&self) -> f64 {
        match self.barrel {
            Barrel::Circle { diameter } => diameter.metres(),
            Barrel::Box { rise, .. } => rise.metres(),
        }
    }

    /// Area (m²) and perimeter (m) of the full barrel.
    fn full(&self) -> (f64, f64) {
        match self.barrel {
            Barrel::Circle { diameter } => {
                let (area, perimeter, _) = self.section.wet(diameter.metres());
                (area, perimeter)
            }
            Barrel::Box { span, rise } => (span.metres() * rise.metres(), 2.0 * (span.metres() + rise.metres())),
        }
    }

    /// The headwater of a flow; the larger of inlet and outlet control governs.
    ///
    /// `tailwater` is the water's depth above the outlet's invert.
    ///
    /// *Assumptions*: one barrel, no flow over the road. Where the headwater under outlet control would stay below 0.75 of
    /// the rise the barrel does not run full; there inlet control counts, but never less than the tailwater's level.
    ///
    /// *References*: Federal Highway Administration, Hydraulic Design Series 5: submerged inlet
    /// HW/D = c (Ku Q/(A D^0.5))² + Y + Ks S; not submerged, form 1, HW/D = Hc/D + K (Ku Q/(A D^0.5))^M + Ks S with the
    /// specific head Hc at critical depth; a straight line between. Outlet control
    /// HW = TW' + (1 + ke + 2 g n² L/R^(4/3)) V²/2g − L S with TW' the larger of the tailwater and (critical depth + D)/2.
    pub fn headwater(&self, flow: CubicMetresPerSecond, tailwater: Metres) -> Headwater {
        let discharge = flow.cubic_metres_per_second();
        let (inlet, outlet) = (self.inlet_headwater(discharge), self.outlet_headwater(discharge, tailwater.metres()));
        let standing = tailwater.metres() - self.length * self.grade;
        let runs_full = outlet >= LEAST_HEADWATER_TO_RISE * self.rise();
        let under_outlet = if runs_full { outlet } else { standing };
        if under_outlet > inlet {
            Headwater { depth: metres(under_outlet), control: Control::Outlet }
        } else {
            Headwater { depth: metres(inlet), control: Control::Inlet }
        }
    }

    /// The flow at which the headwater reaches a depth; 0 where the tailwater alone holds it so high.
    ///
    /// *Complexity*: about 60 evaluations of the headwater.
    pub fn capacity(&self, headwater: Metres, tailwater: Metres) -> CubicMetresPerSecond {
        let depth = |discharge: f64| self.headwater(flow(discharge), tailwater).depth.metres();
        let target = headwater.metres();
        if depth(0.0) >= target {
            return CubicMetresPerSecond::ZERO;
        }
        let mut high = 1.0;
        while depth(high) < target {
            high *= 2.0;
        }
        flow(rising_to(target, (0.0, high), depth))
    }

    fn inlet_headwater(&self, discharge: f64) -> f64 {
        let rise = self.rise();
        let intensity = KU * discharge / (self.full().0 * rise.sqrt());
        let to_rise = if intensity <= NOT_SUBMERGED {
            self.not_submerged(discharge, intensity)
        } else if intensity >= SUBMERGED {
            self.submerged(intensity)
        } else {
            let at = |intensity: f64| intensity / KU * self.full().0 * rise.sqrt();
            let (low, high) = (self.not_submerged(at(NOT_SUBMERGED), NOT_SUBMERGED), self.submerged(SUBMERGED));
            low + (high - low) * (intensity - NOT_SUBMERGED) / (SUBMERGED - NOT_SUBMERGED)
        };
        to_rise.max(0.0) * rise
    }

    /// HW/D by form 1.
    fn not_submerged(&self, discharge: f64, intensity: f64) -> f64 {
        let constants = self.inlet.constants();
        let head = self.critical_head(discharge) / self.rise();
        let grade = if discharge > 0.0 { self.inlet.grade_factor() * self.grade } else { 0.0 };
        head + constants.k * intensity.powf(constants.m) + grade
    }

    fn submerged(&self, intensity: f64) -> f64 {
        let constants = self.inlet.constants();
        constants.c * intensity * intensity + constants.y + self.inlet.grade_factor() * self.grade
    }

    fn critical(&self, discharge: f64) -> f64 {
        critical_depth(&self.section, flow(discharge)).map_or(self.rise(), |depth| depth.metres().min(self.rise()))
    }

    /// Specific head at critical depth, m.
    fn critical_head(&self, discharge: f64) -> f64 {
        let depth = self.critical(discharge);
        let (area, _, _) = self.section.wet(depth);
        if area > 0.0 { depth + (discharge / area).powi(2) / (2.0 * GRAVITY) } else { 0.0 }
    }

    fn outlet_headwater(&self, discharge: f64, tailwater: f64) -> f64 {
        let (area, perimeter) = self.full();
        let velocity_head = (discharge / area).powi(2) / (2.0 * GRAVITY);
        let radius = area / perimeter;
        let n = self.roughness.n();
        let friction = 2.0 * GRAVITY * n * n * self.length / radius.powf(4.0 / 3.0);
        let at_outlet = tailwater.max(f64::midpoint(self.critical(discharge), self.rise()));
        at_outlet + (1.0 + self.inlet.entrance_loss() + friction) * velocity_head - self.length * self.grade
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn culvert(barrel: Barrel, inlet: Inlet, grade: f64) -> Culvert {
        let grade = Slope::from_metres_per_metre(grade).unwrap();
        Culvert::new(barrel, inlet, Roughness::new(0.024).unwrap(), metres(20.0), grade).unwrap()
    }

    fn round(diameter: f64) -> Barrel {
        Barrel::Circle { diameter: metres(diameter) }
    }

    /// The submerged formula by hand: 1 m circle, metal projecting, Q = 2.5 m³/s, S = 0.01:
    /// Ku Q/(A D^0.5) = 1.811 × 2.5/0.785398 = 5.76459; HW/D = 0.0553 × 33.2305 + 0.54 − 0.005 = 2.37265.
    #[test]
    fn a_submerged_inlet() {
        let found = culvert(round(1.0), Inlet::MetalProjecting, 0.01).inlet_headwater(2.5);
        assert!((found - 2.372_65).abs() < 1e-4, "{found}");
    }

    /// The box by hand: 2 m × 1 m, wingwalls in line, Q = 2 m³/s, S = 0.01: critical depth (1/g)^(1/3) = 0.467166,
    /// Hc = 1.5 dc = 0.700749; Ku Q/(A D^0.5) = 1.811; HW/D = 0.700749 + 0.061 × 1.811^0.75 − 0.005 = 0.790977.
    #[test]
    fn an_inlet_that_is_not_submerged() {
        let barrel = Barrel::Box { span: metres(2.0), rise: metres(1.0) };
        let found = culvert(barrel, Inlet::BoxStraight, 0.01).inlet_headwater(2.0);
        let by_hand = 1.5 * (1.0 / GRAVITY).cbrt() + 0.061 * 1.811_f64.powf(0.75) - 0.005;
        assert!((found - by_hand).abs() < 1e-12, "{found} {by_hand}");
        assert!((found - 0.791).abs() < 0.0005, "{found}");
    }

    /// The full barrel by hand: 1 m circle, n 0.024, 20 m at 1 %, Q = 1 m³/s, tailwater 1.5 m, metal projecting:
    /// V = 1.273240, V²/2g = 0.0826566; 2 g n² L/R^(4/3) with R = 0.25 is 1.434722; HW = 1.5 + 3.334722 × 0.0826566 − 0.2.
    #[test]
    fn a_full_barrel() {
        let found = culvert(round(1.0), Inlet::MetalProjecting, 0.01).headwater(flow(1.0), metres(1.5));
        assert_eq!(found.control, Control::Outlet);
        assert!((found.depth.metres() - 1.575_64).abs() < 1e-4, "{found:?}");
    }

    #[test]
    fn the_tailwater_alone_can_use_the_headwater_up() {
        let culvert = culvert(round(1.0), Inlet::MetalProjecting, 0.01);
        assert_eq!(culvert.capacity(metres(1.0), metres(1.5)), CubicMetresPerSecond::ZERO);
    }

    #[test]
    fn a_culvert_that_does_not_fall_is_refused() {
        let built = |length: f64, grade: f64| {
            let grade = Slope::from_metres_per_metre(grade).unwrap();
            Culvert::new(round(1.0), Inlet::MetalHeadwall, Roughness::new(0.024).unwrap(), metres(length), grade)
        };
        assert!(built(20.0, 0.0).is_err());
        assert!(built(20.0, -0.01).is_err());
        assert!(built(0.0, 0.01).is_err());
        assert!(built(20.0, 0.01).is_ok());
    }

    proptest! {
        #[test]
        fn the_headwater_of_the_capacity_is_the_headwater(
            d in 0.3_f64..3.0, depth in 0.8_f64..2.5, metal in proptest::bool::ANY,
        ) {
            let inlet = if metal { Inlet::MetalProjecting } else { Inlet::ConcreteGrooveHeadwall };
            let culvert = culvert(round(d), inlet, 0.005);
            let allowed = metres(d * depth);
            let capacity = culvert.capacity(allowed, Metres::ZERO);
            let below = flow(capacity.cubic_metres_per_second() * 0.999);
            prop_assert!(culvert.headwater(below, Metres::ZERO).depth <= allowed);
            prop_assert!(culvert.headwater(capacity, Metres::ZERO).depth.metres() >= allowed.metres() - 1e-9);
        }

        #[test]
        fn capacity_grows_with_the_diameter(d in 0.3_f64..2.0, more in 1.05_f64..2.0) {
            let capacity = |d: f64| culvert(round(d), Inlet::MetalProjecting, 0.005).capacity(metres(2.0), Metres::ZERO);
            prop_assert!(capacity(d * more) > capacity(d));
        }
    }
}
