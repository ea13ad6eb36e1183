//! What is missing, seen and to be done at a link that was checked.

use std::fmt::Write;

use fallwright_study::{Cause, Checked, GroundFallDoubt, PipeOutlet, Remark, Remedy, ToMeasure};

/// What to measure or state about a link of this id, as part of a sentence.
pub(crate) fn to_measure_words(id: &str, missing: &ToMeasure) -> String {
    match missing {
        ToMeasure::PresentSection { within_m } => {
            format!("the present cross-section of {id}, within {within_m} m of it")
        }
        ToMeasure::SectionBelow => {
            format!("the cross-section below {id}, for the water that stands at its outlet")
        }
        ToMeasure::MoreBeds { rise_m } => {
            format!("more beds of {id}: those surveyed rise by {rise_m:.2} m downstream")
        }
        ToMeasure::Bed(doubt) => format!("the bed of {id} at both ends: {}", ground_fall_words(*doubt)),
        ToMeasure::Diameter => format!("the diameter of {id}"),
        ToMeasure::Material => format!("the material of {id}"),
        ToMeasure::Inverts(doubt) => format!("both inverts of {id}: {}", ground_fall_words(*doubt)),
        ToMeasure::LevelInverts { level_m } => {
            format!("the inverts of {id}: both ends are given at {level_m:.2} m")
        }
        ToMeasure::TiledLand => format!("the land that {id} drains, under [tiled_areas]"),
        ToMeasure::PipeRoughness { material, diameter_mm } => {
            format!("the roughness of {material} at {diameter_mm} mm, in the table of defaults")
        }
        ToMeasure::PumpLift => format!("what the pump of {id} lifts, against its tile design flow"),
        ToMeasure::OutletInvert => format!("the invert of the outlet of {id}"),
        ToMeasure::LowWater => format!("the low water where {id} comes out"),
        ToMeasure::RunoffCoefficient => "state runoff_coefficient under [capacity]".to_owned(),
        ToMeasure::ReturnPeriod => "state return_period_years under [capacity]".to_owned(),
        ToMeasure::Cover => "state cover under [capacity]".to_owned(),
        ToMeasure::SoilGroups => "add hydrologic soil groups under [soils]".to_owned(),
        ToMeasure::SoilGroupAbove { hectares } => {
            format!("add the hydrologic soil group of {hectares:.2} ha above this link")
        }
        ToMeasure::Rain { minutes, years } => {
            format!("add rain of {minutes} minutes and {years} years under [rainfall]")
        }
        ToMeasure::LongRain { minutes, years } => {
            format!("add rain of {minutes:.0} minutes and more and {years} years under [rainfall]")
        }
        ToMeasure::OutOfRange(fault) => fault.to_string(),
        ToMeasure::NotFinite(fault) => fault.to_string(),
    }
}

fn ground_fall_words(doubt: GroundFallDoubt) -> String {
    match doubt {
        GroundFallDoubt::AccuracyNotStated => "the ground's accuracy is not stated (rmse_z_m)".to_owned(),
        GroundFallDoubt::WithinDoubt { fall_m, doubt_m } => {
            format!("the ground falls {fall_m:.2} m, in doubt by {doubt_m:.2} m; lidar alone cannot confirm it")
        }
    }
}

pub(crate) fn remark_words(remark: &Remark) -> String {
    match remark {
        Remark::OpenWater => {
            "open water that is mapped as a polygon: no cross-section is asked, nothing was checked".to_owned()
        }
        Remark::LargerThanDesign => "it carries the flow as it is now, and would not as the by-law has it".to_owned(),
        Remark::BedAboveBylaw { height_m } => {
            format!("the present bed lies {:.2} m {} the by-law's", height_m.abs(), side(*height_m))
        }
        Remark::OverBank => "the flow stands above the lower bank of the section".to_owned(),
        Remark::FastOnBed { soil, limit_m_per_s } => {
            format!("the flow is faster than a bed of {soil} withstands ({limit_m_per_s:.2} m/s)")
        }
        Remark::FreeOutflow => {
            "the water below it is not known: the capacity is that of water that runs out freely".to_owned()
        }
        Remark::SurfaceWater { hectares } => format!(
            "surface water of {hectares:.2} ha reaches its upper end; a pipe is not checked for storms, only for what tile brings"
        ),
        Remark::Slow { least_m_per_s } => format!("runs full slower than {least_m_per_s:.2} m/s: silt settles"),
        Remark::FastInPipe { soil, limit_m_per_s } => {
            format!("runs faster than {soil} withstands around a pipe ({limit_m_per_s:.2} m/s)")
        }
        Remark::ThinCover { cover_m, least_m } => {
            format!("covered by {cover_m:.2} m in one place, less than {least_m} m")
        }
        Remark::OutletAboveWater { height_mm } => {
            let height_m = height_mm.abs() / 1000.0;
            format!("its outlet's invert lies {height_m:.2} m {} the low water", side(*height_mm))
        }
        Remark::SmallForRemovalCurve => {
            "the removal curve was published for 40 acres (16 ha) and more; it is used below that".to_owned()
        }
        Remark::LargeForRational => {
            "the rational method is used for land up to about 200 acres (80 ha); it is used above that".to_owned()
        }
    }
}

fn side(height: f64) -> &'static str {
    if height < 0.0 { "below" } else { "above" }
}

/// One plain sentence on what to do about a link.
pub(crate) fn link_next_step(id: &str, checked: &Checked) -> String {
    let mut text = match checked.cause {
        Some(Cause::Undersized) => format!("{id} is too small by design: it needs an improvement"),
        Some(Cause::Overflows) => format!("{id}, a natural watercourse, does not carry the flow within its banks"),
        Some(Cause::Silted) => format!("{id} has silted: its by-law section is adequate, so ask for maintenance"),
        Some(Cause::UndersizedOrSilted) => {
            format!(
                "{id} is inadequate as it is now: get the by-law's section to find whether it has silted or is too small"
            )
        }
        Some(Cause::Submerged) => format!("the outlet of {id} is at or below low water{}", receiving(checked)),
        Some(Cause::OutletLow) => {
            format!("the outlet of {id} is less than the required height above low water{}", receiving(checked))
        }
        None if checked.to_measure.is_empty() => return format!("{id}: sufficient (screening)"),
        None => {
            let missing: Vec<String> = checked.to_measure.iter().map(|missing| to_measure_words(id, missing)).collect();
            return format!("measure or state first: {}", missing.join("; "));
        }
    };
    if checked.cause == Some(Cause::Undersized) {
        text.push_str(match checked.outlet {
            Some(PipeOutlet::Submerged) => ", and its outlet is at or below low water",
            Some(PipeOutlet::Low) => ", and its outlet is less than the required height above low water",
            Some(PipeOutlet::Free | PipeOutlet::Pumped) | None => "",
        });
    }
    if let Some(size) = checked.next_diameter_mm {
        let _ = write!(text, "; adequate size (screening): {size} mm");
    }
    if let Some(bottom) = checked.next_bottom_m {
        let _ = write!(text, "; adequate bottom width (screening): {bottom:.1} m");
    }
    text + ". A licensed engineer designs"
}

fn receiving(checked: &Checked) -> &'static str {
    match checked.remedy {
        Some(Remedy::Maintenance) => ", and the drain that takes its water has silted: ask for maintenance",
        _ => ": the drain that takes its water must be lower, or the water pumped",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check_missing(missing: &ToMeasure, expected: &str) {
        assert_eq!(to_measure_words("T-1", missing), expected);
    }

    fn check_remark(remark: &Remark, expected: &str) {
        assert_eq!(remark_words(remark), expected);
    }

    #[test]
    fn what_is_missing_names_the_link_and_the_numbers() {
        check_missing(&ToMeasure::Diameter, "the diameter of T-1");
        check_missing(
            &ToMeasure::PresentSection { within_m: 1000.0 },
            "the present cross-section of T-1, within 1000 m of it",
        );
        check_missing(
            &ToMeasure::Inverts(GroundFallDoubt::WithinDoubt { fall_m: 0.125, doubt_m: 0.277 }),
            "both inverts of T-1: the ground falls 0.12 m, in doubt by 0.28 m; lidar alone cannot confirm it",
        );
        check_missing(
            &ToMeasure::Rain { minutes: 1440.0, years: 2.0 },
            "add rain of 1440 minutes and 2 years under [rainfall]",
        );
    }

    #[test]
    fn heights_below_a_level_are_positive() {
        check_remark(&Remark::BedAboveBylaw { height_m: -0.3 }, "the present bed lies 0.30 m below the by-law's");
        check_remark(
            &Remark::OutletAboveWater { height_mm: 250.0 },
            "its outlet's invert lies 0.25 m above the low water",
        );
    }

    #[test]
    fn the_next_step_lists_what_is_missing() {
        let missing = vec![ToMeasure::Diameter, ToMeasure::Material];
        let checked = Checked { to_measure: missing, ..Checked::default() };
        let expected = "measure or state first: the diameter of T-1; the material of T-1";
        assert_eq!(link_next_step("T-1", &checked), expected);
        assert_eq!(link_next_step("T-1", &Checked::default()), "T-1: sufficient (screening)");
    }
}
