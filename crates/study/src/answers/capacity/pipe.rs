//! A pipe under its tile design flow, and its outlet over the receiving low water.

use fallwright_hydraulics::{Channel, Roughness, Section, minimum_grade, next_size};
use fallwright_units::{CubicMetresPerSecond, Metres, Millimetres, Slope, StructureIx};
use geo::{Euclidean, InterpolatableLine, Length};

use super::checked::{Cause, Checked, Fall, PipeOutlet, Remedy};
use super::choices::Choices;
use super::default_used::Assumed;
use super::links::{Link, LinkIx, Links};
use super::reach::silt_m;
use super::remark::Remark;
use super::structure::{Conduit, lidar_doubt_m};
use super::tile::TileFlow;
use super::to_measure::ToMeasure;
use crate::study::Study;
use fallwright_case::{LevelKind, LevelPlace};

/// How far along the receiving waterway a water level counts for an outlet, metres (our choice).
const WATER_NEAR_M: f64 = 50.0;
/// The last metres of a main come up to a ditch's bank; cover is not asked for there (our choice).
const AT_OUTLET_M: f64 = 10.0;

pub(super) fn check(study: &Study, links: &Links, choices: &Choices, link: LinkIx, tile: TileFlow) -> Checked {
    let Link::Structure(structure) = links.list[link] else { unreachable!("only pipes are checked here") };
    let works = Conduit::of(study, structure);
    let mut checked = Checked::default();
    choices.drainage_coefficient(&mut checked.assumed);
    if tile.flow.cubic_metres_per_second() > 0.0 {
        checked.flow = Some(tile.flow.cubic_metres_per_second());
    } else {
        checked.to_measure.push(ToMeasure::TiledLand);
    }
    note_surface_water(study, &works, &mut checked);
    check_barrel(study, choices, &works, &mut checked);
    check_outlet(study, links, choices, (link, &works), &mut checked);
    checked
}

/// Storms are not judged in pipes.
fn note_surface_water(study: &Study, works: &Conduit, checked: &mut Checked) {
    let hectares = study.hectares(study.setting.area(works.structure.link.inlet));
    if hectares > 0.0 {
        checked.remarks.push(Remark::SurfaceWater { hectares });
    }
}

fn check_barrel(study: &Study, choices: &Choices, works: &Conduit, checked: &mut Checked) {
    let Some((diameter_mm, material, grade)) = works.barrel(study, checked) else { return };
    let diameter = millimetres(diameter_mm);
    let Some(roughness) = choices.pipe_roughness(material, diameter, &mut checked.assumed) else {
        checked.to_measure.push(ToMeasure::PipeRoughness { material: material.to_owned(), diameter_mm });
        return;
    };
    let Some(pipe) = full_pipe(diameter, roughness, grade) else { return };
    let full = Metres::from_metres(diameter_mm / 1000.0).unwrap_or(Metres::ZERO);
    checked.capacity = pipe.full_flow().map(CubicMetresPerSecond::cubic_metres_per_second);
    checked.velocity = Some(pipe.velocity(full).metres_per_second());
    checked.cover_m = cover_m(study, works, diameter_mm / 1000.0);
    remark_on_velocity_and_cover(choices, checked);
    checked.fall = fall(study, choices, works, (full, roughness), &mut checked.assumed);
    if checked.fails_by_flow() {
        checked.cause = Some(Cause::Undersized);
        checked.remedy = Some(Remedy::Improvement);
        checked.next_diameter_mm = next_diameter_mm(choices, material, grade, checked.flow.unwrap_or(0.0));
    }
}

fn full_pipe(diameter: Millimetres, roughness: Roughness, grade: Slope) -> Option<Channel> {
    let section = Section::circle(Metres::from_metres(diameter.millimetres() / 1000.0).ok()?).ok()?;
    Channel::new(section, roughness, grade).ok()
}

fn next_diameter_mm(choices: &Choices, material: &str, grade: Slope, flow: f64) -> Option<f64> {
    let sizes = &choices.defaults.material(material)?.sizes;
    let does = |size: Millimetres| {
        let roughness = choices.pipe_roughness(material, size, &mut Assumed::default());
        let pipe = roughness.and_then(|roughness| full_pipe(size, roughness, grade));
        pipe.and_then(|pipe| pipe.full_flow()).is_some_and(|full| full.cubic_metres_per_second() >= flow)
    };
    next_size(sizes, does).map(Millimetres::millimetres)
}

fn remark_on_velocity_and_cover(choices: &Choices, checked: &mut Checked) {
    let least = &choices.defaults.least_velocity;
    let least_velocity = least.value.metres_per_second();
    if checked.velocity.is_some_and(|velocity| velocity < least_velocity) {
        choices.default("least_velocity_m_per_s", least, least_velocity, &mut checked.assumed);
        checked.remarks.push(Remark::Slow { least_m_per_s: least_velocity });
    }
    if let Some(soil) = choices.soil()
        && checked.velocity.is_some_and(|velocity| velocity > soil.pipe.metres_per_second())
    {
        let limit_m_per_s = soil.pipe.metres_per_second();
        checked.remarks.push(Remark::FastInPipe { soil: soil.name.clone(), limit_m_per_s });
    }
    let least = &choices.defaults.least_cover;
    let least_m = least.value.metres();
    if let Some(cover_m) = checked.cover_m.filter(|&cover_m| cover_m < least_m) {
        choices.default("least_cover_m", least, least_m, &mut checked.assumed);
        checked.remarks.push(Remark::ThinCover { cover_m, least_m });
    }
}

/// The least cover over the crown from the upper end to shortly before the outlet, by the surveyed ground; `None` without
/// inverts.
fn cover_m(study: &Study, works: &Conduit, diameter_m: f64) -> Option<f64> {
    let (up, down) = works.inverts_m?;
    let frame = study.setting.frame();
    let steps = (works.length_m / frame.cell_width()).ceil().max(1.0) as usize;
    let from_inlet = |part: f64| match works.outlet_end {
        fallwright_case::StructureEnd::Last => part,
        fallwright_case::StructureEnd::First => 1.0 - part,
    };
    let cover = |step: usize| {
        let part = step as f64 / steps as f64;
        let at = works.mapped.line.point_at_ratio_from_start(&Euclidean, from_inlet(part))?;
        let ground = f64::from(study.setting.ground[frame.cell_at((at.x(), at.y()))?]);
        let is_covered = (1.0 - part) * Euclidean.length(&works.mapped.line) > AT_OUTLET_M;
        (is_covered && !ground.is_nan()).then_some(ground - (up + (down - up) * part + diameter_m))
    };
    (0..=steps).filter_map(cover).min_by(f64::total_cmp)
}

/// Fall of the pipe against the least at which silt keeps moving.
fn fall(
    study: &Study,
    choices: &Choices,
    works: &Conduit,
    (diameter, roughness): (Metres, Roughness),
    assumed: &mut Assumed,
) -> Option<Fall> {
    let least = &choices.defaults.least_velocity;
    let velocity = choices.default("least_velocity_m_per_s", least, least.value.metres_per_second(), assumed);
    let grade = minimum_grade(diameter, roughness, velocity).ok()?;
    let (available_m, doubt_m) = match works.inverts_m {
        Some((up, down)) => (up - down, None),
        None => (works.ground_fall_m(study), Some(lidar_doubt_m(study)?)),
    };
    Some(Fall { available_m, needed_m: grade.metres_per_metre() * works.length_m, doubt_m })
}

/// The outlet's invert against the lowest water surveyed there. A pipe that goes on in another needs none.
fn check_outlet(
    study: &Study,
    links: &Links,
    choices: &Choices,
    (link, works): (LinkIx, &Conduit),
    checked: &mut Checked,
) {
    if works.mapped.dimensions.is_pumped {
        checked.outlet = Some(PipeOutlet::Pumped);
        checked.to_measure.push(ToMeasure::PumpLift);
        return;
    }
    let receiving = links.next[link].map(|next| links.list[next]);
    if matches!(receiving, Some(Link::Structure(next)) if joins(study, works, next)) {
        return;
    }
    let water = water_m(study, works, receiving);
    let invert = works.inverts_m.map(|(_, down)| down);
    if invert.is_none() {
        checked.to_measure.push(ToMeasure::OutletInvert);
    }
    if water.is_none() {
        checked.to_measure.push(ToMeasure::LowWater);
    }
    let Some((invert, water)) = invert.zip(water) else { return };
    let least = &choices.defaults.outlet_above_low_water;
    let least_m = least.value.metres();
    choices.default("outlet_above_low_water_m", least, least_m, &mut checked.assumed);
    // To the millimetre, the resolution of surveyed levels.
    let above_mm = ((invert - water) * 1000.0).round();
    let outlet = if above_mm <= 0.0 {
        PipeOutlet::Submerged
    } else if above_mm < least_m * 1000.0 {
        PipeOutlet::Low
    } else {
        PipeOutlet::Free
    };
    checked.outlet = Some(outlet);
    checked.remarks.push(Remark::OutletAboveWater { height_mm: above_mm });
    if outlet != PipeOutlet::Free && checked.cause.is_none() {
        checked.cause = Some(if outlet == PipeOutlet::Submerged { Cause::Submerged } else { Cause::OutletLow });
        let is_silted =
            matches!(receiving, Some(Link::Reach(reach)) if silt_m(study, reach).is_some_and(|silt| silt > 0.0));
        checked.remedy = Some(if is_silted { Remedy::Maintenance } else { Remedy::Improvement });
    }
}

/// Whether a pipe's water goes straight into another structure, not first over land.
fn joins(study: &Study, works: &Conduit, next: StructureIx) -> bool {
    let inlet = study.setting.structures[next].link.inlet;
    let outlet = works.structure.link.outlet;
    works.structure.joins.is_some() || outlet == inlet || study.setting.flow().receiver(outlet) == Some(inlet)
}

/// The lowest water surveyed at the outlet, or near it in the waterway that takes its water.
fn water_m(study: &Study, works: &Conduit, receiving: Option<Link>) -> Option<f64> {
    let (x, y) = study.setting.frame().centre(works.structure.link.outlet);
    let water = study.inputs.levels.iter().filter(|level| level.kind == LevelKind::Water);
    let own = LevelPlace::Structure(works.position, works.outlet_end);
    let waterway = match receiving {
        Some(Link::Reach(reach)) => Some(LevelPlace::Waterway(study.reaches.list[reach].waterway)),
        _ => None,
    };
    let counts = water.filter(|level| {
        level.place == own || (Some(level.place) == waterway && (level.x - x).hypot(level.y - y) <= WATER_NEAR_M)
    });
    counts.map(|level| level.level_m).min_by(f64::total_cmp)
}

fn millimetres(value: f64) -> Millimetres {
    Millimetres::from_millimetres(value).expect("diameters are checked where they are read")
}
