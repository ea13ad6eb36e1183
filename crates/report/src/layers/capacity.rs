//! The links as records of the output layer.

use std::fmt::Write;

use crate::{CAUTION, CapacityProperties, Record, cubic_metres_per_second as flow, metres, percent};
use fallwright_units::StructureKind;

use super::water::reach_line;
use fallwright_study::{CapacityCheck, Cause, Checked, Fall, Link, LinkIx, PipeOutlet, Remedy, Study};

/// A record for each link, reaches first.
pub(crate) fn records(study: &Study, check: &CapacityCheck) -> Vec<Record<CapacityProperties>> {
    check.links.list.keys().map(|position| record(study, check, position)).collect()
}

fn record(study: &Study, check: &CapacityCheck, position: LinkIx) -> Record<CapacityProperties> {
    let link = check.links.list[position];
    let (checked, tile, storm) = (&check.checked[position], &check.tile[position], &check.storms[position]);
    let (kind, class, geometry) = match link {
        Link::Reach(reach) => {
            let cells = &study.reaches.list[reach].cells;
            let line = reach_line(study, cells, *cells.last().expect("a reach has cells"));
            let class = study.setting.waterways[study.reaches.list[reach].waterway].class.clone();
            ("reach", Some(class), line.map(Into::into))
        }
        Link::Structure(structure) => {
            let (_, mapped) = study.mapped(structure);
            let structure = &study.setting.structures[structure];
            (kind_of(structure.kind), structure.class.clone(), Some(mapped.line.clone().into()))
        }
    };
    let is_pipe = kind == "pipe";
    let id = study.link_id(link);
    let properties = CapacityProperties {
        next_step: next_step(&id, checked),
        link_id: id,
        kind,
        class,
        next_link: check.links.next[position].map(|next| study.link_id(check.links.list[next])),
        surface_ha: study.hectares(check.links.cells[position]),
        piped_ha: study.hectares(tile.piped_cells),
        added_ha: study.hectares(tile.added_cells),
        tile_flow_m3_per_s: flow(tile.flow.cubic_metres_per_second()),
        regime: if is_pipe { "tile" } else { "storm" },
        method: if is_pipe { "drainage_coefficient" } else { storm.method.name() },
        return_period_years: storm.return_period_years.filter(|_| !is_pipe),
        flow_m3_per_s: checked.flow.map(flow),
        capacity_m3_per_s: checked.capacity.map(flow),
        design_capacity_m3_per_s: checked.design_capacity.map(flow),
        ratio: checked.ratio().map(metres),
        velocity_m_per_s: checked.velocity.map(metres),
        water_depth_m: checked.water_depth_m.map(metres),
        control: checked.control,
        grade_percent: checked.grade.map(|(grade, _)| percent(grade * 100.0)),
        grade_source: checked.grade.map(|(_, source)| source.code()),
        cover_m: checked.cover_m.map(metres),
        freeboard_m: checked.freeboard_m.map(metres),
        outlet: checked.outlet.map(PipeOutlet::code),
        fall_available_m: checked.fall.map(|fall| metres(fall.available_m)),
        fall_needed_m: checked.fall.map(|fall| metres(fall.needed_m)),
        fall_doubt_m: checked.fall.and_then(|fall| fall.doubt_m).map(metres),
        fall: checked.fall.map(Fall::code),
        sufficiency: checked.sufficiency().code(),
        cause: checked.cause.map(Cause::code),
        remedy: checked.remedy.map(Remedy::code),
        next_diameter_mm: checked.next_diameter_mm,
        next_bottom_m: checked.next_bottom_m.map(metres),
        to_measure: checked.to_measure.clone(),
        assumed: checked.assumed.0.clone(),
        remarks: checked.remarks.clone(),
        caution: CAUTION,
    };
    Record { geometry, properties }
}

const fn kind_of(kind: StructureKind) -> &'static str {
    match kind {
        StructureKind::Culvert => "culvert",
        StructureKind::Pipe => "pipe",
    }
}

/// One plain sentence.
fn next_step(id: &str, checked: &Checked) -> String {
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
        None => return format!("measure or state first: {}", checked.to_measure.join("; ")),
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
