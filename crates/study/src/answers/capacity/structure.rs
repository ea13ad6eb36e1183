//! What a pipe and a culvert have in common: where it is mapped, its inverts, length and grade.

use fallwright_network::Structure;
use fallwright_units::{Cell, MappedStructureIx, Slope, StructureIx};
use geo::{Euclidean, Length};

use super::checked::{Checked, GradeSource};
use super::to_measure::{GroundFallDoubt, ToMeasure};
use crate::ground::{InvertSource, Inverts, inverts};
use crate::study::Study;
use fallwright_case::{MappedStructure, StructureEnd};

/// In 95 of 100 cases a normal error is smaller than this many standard deviations.
const STANDARD_DEVIATIONS_95: f64 = 1.96;

/// A structure with its feature.
pub(super) struct Conduit<'a> {
    pub structure: &'a Structure,
    pub mapped: &'a MappedStructure,
    pub position: MappedStructureIx,
    pub length_m: f64,
    /// The end as drawn where its water comes out.
    pub outlet_end: StructureEnd,
    /// The cell where it ends, be it on the pipe that it joins.
    pub end: Cell,
    /// Levels of the inverts at the inlet and at the outlet.
    pub inverts_m: Option<(f64, f64)>,
    pub are_surveyed: bool,
}

impl<'a> Conduit<'a> {
    pub(super) fn of(study: &'a Study, structure: StructureIx) -> Self {
        let (position, mapped) = study.mapped(structure);
        let structure = &study.setting.structures[structure];
        let found = inverts(&study.inputs, position, &mut Vec::new());
        let frame = study.setting.frame();
        let joined = structure.joins.and_then(|junction| frame.cell_at(junction.at));
        let end = joined.unwrap_or(structure.link.outlet);
        let outlet_end = outlet_end(frame.centre(end), mapped);
        let (first, last) = (|i: Inverts| i.first_m, |i: Inverts| i.last_m);
        Self {
            structure,
            mapped,
            position,
            length_m: Euclidean.length(&mapped.line),
            outlet_end,
            end,
            inverts_m: found.map(|found| match outlet_end {
                StructureEnd::Last => (first(found), last(found)),
                StructureEnd::First => (last(found), first(found)),
            }),
            are_surveyed: found.is_some_and(|found| found.source == InvertSource::Survey),
        }
    }

    /// Diameter in millimetres, material and grade; what is missing of them is listed in `checked`, and the grade there.
    pub(super) fn barrel(&self, study: &Study, checked: &mut Checked) -> Option<(f64, &'a str, Slope)> {
        let dimensions = &self.mapped.dimensions;
        if dimensions.diameter_mm.is_none() {
            checked.to_measure.push(ToMeasure::Diameter);
        }
        if dimensions.material.is_none() {
            checked.to_measure.push(ToMeasure::Material);
        }
        let grade = self.grade(study).map_err(|missing| checked.to_measure.push(missing)).ok();
        checked.grade = grade.map(|(grade, source)| (grade.metres_per_metre(), source));
        Some((dimensions.diameter_mm?, dimensions.material.as_deref()?, grade?.0))
    }

    /// From the inverts, else the layer, else the ground above both ends.
    ///
    /// # Errors
    /// What to measure.
    pub(super) fn grade(&self, study: &Study) -> Result<(Slope, GradeSource), ToMeasure> {
        let slope = |fall_m: f64| Slope::from_metres_per_metre(fall_m / self.length_m);
        if let Some((up, down)) = self.inverts_m {
            if up <= down {
                return Err(ToMeasure::LevelInverts { level_m: up });
            }
            let source = if self.are_surveyed { GradeSource::SurveyedInverts } else { GradeSource::LayerInverts };
            return Ok((slope(up - down)?, source));
        }
        if let Some(percent) = self.mapped.dimensions.grade_percent {
            return Ok((Slope::from_percent(percent)?, GradeSource::LayerGrade));
        }
        let fall_m = self.ground_fall_m(study);
        ground_fall_is_sure(study, fall_m).map_err(ToMeasure::Inverts)?;
        Ok((slope(fall_m)?, GradeSource::Ground))
    }

    /// Ground at the inlet less ground at the end.
    pub(super) fn ground_fall_m(&self, study: &Study) -> f64 {
        let ground = |cell| f64::from(study.setting.ground[cell]);
        ground(self.structure.link.inlet) - ground(self.end)
    }
}

fn outlet_end((x, y): (f64, f64), mapped: &MappedStructure) -> StructureEnd {
    let metres = |end: geo::Coord<f64>| (end.x - x).hypot(end.y - y);
    if metres(mapped.ends.0) < metres(mapped.ends.1) { StructureEnd::First } else { StructureEnd::Last }
}

/// Within which the difference of two heights of the elevation lies in 95 of 100 cases, metres: 1.96 √2 × its vertical
/// accuracy, the errors of the two places being independent. `None` where the case states no accuracy.
pub(super) fn lidar_doubt_m(study: &Study) -> Option<f64> {
    study.inputs.case.terrain.rmse_z_m.map(|rmse| STANDARD_DEVIATIONS_95 * std::f64::consts::SQRT_2 * rmse)
}

/// A fall of the ground that is larger than its doubt.
///
/// # Errors
/// Why it says nothing.
pub(super) fn ground_fall_is_sure(study: &Study, fall_m: f64) -> Result<(), GroundFallDoubt> {
    match lidar_doubt_m(study) {
        None => Err(GroundFallDoubt::AccuracyNotStated),
        Some(doubt_m) if fall_m > doubt_m => Ok(()),
        Some(doubt_m) => Err(GroundFallDoubt::WithinDoubt { fall_m, doubt_m }),
    }
}
