//! The links as records of the output layer.

use fallwright_study::{CapacityCheck, Cause, Control, Fall, Link, LinkIx, PipeOutlet, Remedy, Study};
use fallwright_units::StructureKind;

use super::water::reach_line;
use crate::caution::CAUTION;
use crate::layer::Record;
use crate::records::capacity::CapacityProperties;
use crate::rounded::{cubic_metres_per_second as flow, metres, percent};
use crate::words::{default_name, link_next_step, remark_words, to_measure_words};

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
        next_step: link_next_step(&id, checked),
        to_measure: checked.to_measure.iter().map(|missing| to_measure_words(&id, missing)).collect(),
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
        control: checked.control.map(Control::code),
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
        assumed: checked.assumed.0.iter().map(default_name).collect(),
        remarks: checked.remarks.iter().map(remark_words).collect(),
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
