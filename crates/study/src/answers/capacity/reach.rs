//! An open reach under the storm's flow: as the by-law designed it, and as it is now.

use fallwright_hydraulics::{Channel, OutOfRange, Section, freeboard};
use fallwright_law::ClassKind;
use fallwright_units::{CubicMetresPerSecond, Metres, ReachIx, Slope};

use super::checked::{Cause, Checked, GradeSource, Remedy};
use super::choices::Choices;
use super::remark::Remark;
use super::storm::Storm;
use super::structure::ground_fall_is_sure;
use super::to_measure::ToMeasure;
use crate::study::Study;
use fallwright_case::{CrossSection, LevelKind, LevelPlace, SectionKind};

/// A section holds for reaches of its drain within this distance of it, metres (our choice).
const SECTION_HOLDS_M: f64 = 1000.0;
/// Surveyed beds give a grade where they are so far apart, metres (our choice).
const BEDS_APART_M: f64 = 30.0;
/// How far a surveyed bed may lie from a cell of the reach, metres (our choice; as levels from their waterway).
const BED_NEAR_M: f64 = 10.0;
/// Bottoms are widened by steps of this, metres, up to so many times (our choice).
const BOTTOM_STEP_M: f64 = 0.1;
const MOST_STEPS: usize = 300;

pub(super) fn check(study: &Study, choices: &Choices, reach: ReachIx, storm: &Storm) -> Checked {
    if is_open_water(study, reach) {
        return Checked { remarks: vec![Remark::OpenWater], ..Checked::default() };
    }
    let (design, present) = (section(study, reach, SectionKind::Design), section(study, reach, SectionKind::Present));
    let mut checked = Checked { assumed: storm.assumed.clone(), remarks: storm.remarks.clone(), ..Checked::default() };
    let flow = match &storm.flow {
        Ok(flow) => Some(flow.cubic_metres_per_second()),
        Err(missing) => {
            checked.to_measure.push(missing.clone());
            None
        }
    };
    checked.flow = flow;
    if present.is_none() {
        checked.to_measure.push(ToMeasure::PresentSection { within_m: SECTION_HOLDS_M });
    }
    let designed = design.and_then(|section| carry(study, choices, (reach, section), &mut checked));
    let now = present.and_then(|section| carry(study, choices, (reach, section), &mut checked));
    checked.design_capacity = designed.as_ref().map(|carried| carried.capacity);
    if let Some(best) = now.as_ref().or(designed.as_ref()) {
        checked.grade = Some((best.channel_grade, best.source));
        checked.capacity = Some(best.capacity);
        describe_water(choices, best, flow, &mut checked);
    }
    let class = &study.inputs.waterways[study.reaches.list[reach].waterway].class;
    let is_natural = study.inputs.profile.class(class).is_some_and(|class| class.kind == ClassKind::Channel);
    let fails = |carried: &Option<Carried>| Some(flow? > carried.as_ref()?.capacity);
    let cause = match (fails(&designed), fails(&now)) {
        (Some(true), Some(true) | None) => Some(Cause::Undersized),
        (Some(false), Some(true)) => Some(Cause::Silted),
        (None, Some(true)) if is_natural => Some(Cause::Overflows),
        (None, Some(true)) => Some(Cause::UndersizedOrSilted),
        (Some(true), Some(false)) => {
            checked.remarks.push(Remark::LargerThanDesign);
            None
        }
        (_, Some(false)) | (Some(false) | None, None) => None,
    };
    checked.cause = cause;
    checked.remedy = match cause {
        Some(Cause::Undersized) => Some(Remedy::Improvement),
        Some(Cause::Silted) => Some(Remedy::Maintenance),
        _ => None,
    };
    if let (Some(Cause::Undersized), Some(flow)) = (cause, flow) {
        checked.next_bottom_m = designed.as_ref().or(now.as_ref()).and_then(|carried| carried.next_bottom_m(flow));
    }
    checked.remarks.extend(silt_m(study, reach).map(|height_m| Remark::BedAboveBylaw { height_m }));
    checked
}

/// A lake or a wide river that is mapped as a polygon.
pub(super) fn is_open_water(study: &Study, reach: ReachIx) -> bool {
    study.inputs.waterways[study.reaches.list[reach].waterway].is_polygon()
}

/// A section under a flow.
struct Carried<'a> {
    section: &'a CrossSection,
    channel: Channel,
    channel_grade: f64,
    source: GradeSource,
    /// m³/s with the freeboard kept.
    capacity: f64,
    freeboard_m: f64,
}

fn carry<'a>(
    study: &Study,
    choices: &Choices,
    (reach, section): (ReachIx, &'a CrossSection),
    checked: &mut Checked,
) -> Option<Carried<'a>> {
    let (grade, source) = grade(study, reach, section).map_err(|missing| checked.to_measure.push(missing)).ok()?;
    let roughness = choices.channel_roughness(section.roughness, &mut checked.assumed);
    let freeboard_m = choices.freeboard(&mut checked.assumed).metres();
    let channel = Channel::new(section.section.clone(), roughness, grade).ok()?;
    let capacity = channel.flow(metres((section.depth_m - freeboard_m).max(0.0))).cubic_metres_per_second();
    Some(Carried { section, channel, channel_grade: grade.metres_per_metre(), source, capacity, freeboard_m })
}

impl Carried<'_> {
    /// The narrowest bottom, in steps, at which the section of the same depth and sides carries a flow.
    fn next_bottom_m(&self, flow: f64) -> Option<f64> {
        let (bottom, side_slope) = self.section.trapezoid?;
        let first = (bottom / BOTTOM_STEP_M).round();
        let depth = metres((self.section.depth_m - self.freeboard_m).max(0.0));
        let carries = |bottom: f64| -> Result<bool, OutOfRange> {
            let wider = self.channel.with_section(Section::trapezoid(metres(bottom), side_slope)?);
            Ok(wider.flow(depth).cubic_metres_per_second() >= flow)
        };
        (1..=MOST_STEPS).map(|step| (first + step as f64) / 10.0).find(|&bottom| carries(bottom).unwrap_or(false))
    }
}

/// Depth, velocity and freeboard of the flow.
fn describe_water(choices: &Choices, carried: &Carried, flow: Option<f64>, checked: &mut Checked) {
    let Some(flow) = flow.and_then(|flow| CubicMetresPerSecond::from_cubic_metres_per_second(flow).ok()) else {
        return;
    };
    match carried.channel.normal_depth(flow) {
        Ok(depth) => {
            checked.water_depth_m = Some(depth.metres());
            checked.velocity = Some(carried.channel.velocity(depth).metres_per_second());
            checked.freeboard_m = Some(freeboard(metres(carried.section.depth_m), depth).metres());
        }
        Err(_) => checked.remarks.push(Remark::OverBank),
    }
    if let Some(soil) = choices.soil()
        && checked.velocity.is_some_and(|velocity| velocity > soil.channel.metres_per_second())
    {
        let limit_m_per_s = soil.channel.metres_per_second();
        checked.remarks.push(Remark::FastOnBed { soil: soil.name.clone(), limit_m_per_s });
    }
}

/// The nearest section of a kind on the same drain, if it is near enough.
fn section(study: &Study, reach: ReachIx, kind: SectionKind) -> Option<&CrossSection> {
    let waterway = study.reaches.list[reach].waterway;
    let own = study.inputs.sections.iter().filter(|section| section.waterway == waterway && section.kind == kind);
    own.map(|section| (distance_m(study, reach, (section.x, section.y)), section))
        .filter(|&(metres, _)| metres <= SECTION_HOLDS_M)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, section)| section)
}

fn distance_m(study: &Study, reach: ReachIx, at: (f64, f64)) -> f64 {
    let cells = study.reaches.list[reach].cells.iter();
    cells.map(|&cell| apart_m(study.setting.frame().centre(cell), at)).fold(f64::INFINITY, f64::min)
}

fn apart_m(a: (f64, f64), b: (f64, f64)) -> f64 {
    (a.0 - b.0).hypot(a.1 - b.1)
}

/// A design runs at its by-law's grade. A present bed runs at the grade of surveyed beds, else of the by-law's profile, else
/// of the ground.
///
/// # Errors
/// What to measure.
fn grade(study: &Study, reach: ReachIx, section: &CrossSection) -> Result<(Slope, GradeSource), ToMeasure> {
    if let (SectionKind::Design, Some(bylaw)) = (section.kind, section.grade_percent) {
        return Ok((Slope::from_percent(bylaw)?, GradeSource::BylawProfile));
    }
    if let Some((fall_m, length_m)) = surveyed_fall(study, reach) {
        if fall_m <= 0.0 {
            return Err(ToMeasure::MoreBeds { rise_m: -fall_m });
        }
        return Ok((Slope::from_percent(100.0 * fall_m / length_m)?, GradeSource::SurveyedBeds));
    }
    let bylaw = section.grade_percent.or_else(|| self::section(study, reach, SectionKind::Design)?.grade_percent);
    if let Some(bylaw) = bylaw {
        return Ok((Slope::from_percent(bylaw)?, GradeSource::BylawProfile));
    }
    ground_grade(study, reach)
}

/// Fall and distance along the reach between its outermost surveyed beds.
fn surveyed_fall(study: &Study, reach: ReachIx) -> Option<(f64, f64)> {
    let reach = &study.reaches.list[reach];
    let frame = study.setting.frame();
    let beds = study
        .inputs
        .levels
        .iter()
        .filter(|level| level.kind == LevelKind::Bed && level.place == LevelPlace::Waterway(reach.waterway));
    let along = beds.filter_map(|level| {
        let metres = |position: &usize| apart_m(frame.centre(reach.cells[*position]), (level.x, level.y));
        let nearest = (0..reach.cells.len()).min_by(|a, b| metres(a).total_cmp(&metres(b)))?;
        let tolerance = BED_NEAR_M + frame.cell_width().hypot(frame.cell_height());
        (metres(&nearest) <= tolerance).then_some((nearest, level.level_m))
    });
    let along: Vec<(usize, f64)> = along.collect();
    let upper = along.iter().min_by_key(|(position, _)| *position)?;
    let lower = along.iter().max_by_key(|(position, _)| *position)?;
    let length_m = length_m(study, &reach.cells[upper.0..=lower.0]);
    (length_m >= BEDS_APART_M).then_some((upper.1 - lower.1, length_m))
}

fn ground_grade(study: &Study, reach: ReachIx) -> Result<(Slope, GradeSource), ToMeasure> {
    let reach = &study.reaches.list[reach];
    let ground = |cell| f64::from(study.setting.ground[cell]);
    let fall_m = ground(reach.cells[0]) - ground(*reach.cells.last().expect("a reach has cells"));
    let length_m = length_m(study, &reach.cells);
    ground_fall_is_sure(study, fall_m).map_err(ToMeasure::Bed)?;
    Ok((Slope::from_metres_per_metre(fall_m / length_m)?, GradeSource::Ground))
}

fn length_m(study: &Study, cells: &[fallwright_units::Cell]) -> f64 {
    cells.windows(2).map(|pair| study.setting.frame().distance(pair[0], pair[1])).sum()
}

/// How far the present bed lies above the by-law's, where both sections are of one place.
pub(super) fn silt_m(study: &Study, reach: ReachIx) -> Option<f64> {
    let (design, present) = (section(study, reach, SectionKind::Design)?, section(study, reach, SectionKind::Present)?);
    (apart_m((design.x, design.y), (present.x, present.y)) <= BED_NEAR_M).then_some(present.bed_m - design.bed_m)
}

fn metres(value: f64) -> Metres {
    Metres::from_metres(value).expect("depths are checked where they are read")
}
