//! What to measure or state before a link can be checked.

use fallwright_hydraulics::OutOfRange;
use fallwright_units::NotFinite;

/// Something that the check of a link lacks. What lies at a link is that of the link itself.
#[derive(Clone, Debug, PartialEq)]
pub enum ToMeasure {
    /// No section of the reach as it is now lies within so many metres of it.
    PresentSection {
        within_m: f64,
    },
    /// The water that stands at a culvert's outlet is not known.
    SectionBelow,
    /// The surveyed beds of a reach rise downstream.
    MoreBeds {
        rise_m: f64,
    },
    /// The bed of a reach at both ends.
    Bed(GroundFallDoubt),
    Diameter,
    Material,
    /// The inverts of both ends.
    Inverts(GroundFallDoubt),
    /// The inverts of both ends are given, and do not fall.
    LevelInverts {
        level_m: f64,
    },
    /// The land that a pipe drains.
    TiledLand,
    /// The table of defaults has no roughness of a pipe so large.
    PipeRoughness {
        material: String,
        diameter_mm: f64,
    },
    /// What a pump lifts.
    PumpLift,
    OutletInvert,
    /// Where a pipe comes out.
    LowWater,
    RunoffCoefficient,
    ReturnPeriod,
    Cover,
    SoilGroups,
    /// The soil group of some of the land above the link.
    SoilGroupAbove {
        hectares: f64,
    },
    /// Rain of a duration.
    Rain {
        minutes: f64,
        years: f64,
    },
    /// Rain of a duration or longer.
    LongRain {
        minutes: f64,
        years: f64,
    },
    /// A value that a method does not hold for.
    OutOfRange(OutOfRange),
    NotFinite(NotFinite),
}

/// Why the fall of the ground does not give a grade.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum GroundFallDoubt {
    /// The case states no accuracy of its elevation.
    AccuracyNotStated,
    /// The fall is no larger than its doubt.
    WithinDoubt { fall_m: f64, doubt_m: f64 },
}

impl From<OutOfRange> for ToMeasure {
    fn from(fault: OutOfRange) -> Self {
        Self::OutOfRange(fault)
    }
}

impl From<NotFinite> for ToMeasure {
    fn from(fault: NotFinite) -> Self {
        Self::NotFinite(fault)
    }
}
