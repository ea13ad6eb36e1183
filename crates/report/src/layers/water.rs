//! Reaches, watersheds and structures.

use std::collections::HashSet;

use crate::layer::Record;
use crate::records::link::LinkProperties;
use crate::records::reach::{ReachProperties, StatusItem};
use crate::records::watershed::WatershedProperties;
use crate::rounded::metres;
use fallwright_network::Node;
use fallwright_units::StructureKind;
use fallwright_units::{Cell, ReachIx, WaterwayIx};
use geo::LineString;

use crate::error::WriteError;
use fallwright_study::{OutletWatershed, Study};

pub(crate) fn reaches(study: &Study) -> Vec<Record<ReachProperties>> {
    study.reaches.list.keys().map(|position| reach(study, position)).collect()
}

fn reach(study: &Study, position: ReachIx) -> Record<ReachProperties> {
    let reach = &study.reaches.list[position];
    let mapped = &study.inputs.waterways[reach.waterway];
    let (upper, lower) = study.network.reach_nodes[position];
    let (first, last) = (reach.cells[0], *reach.cells.last().expect("a reach has cells"));
    let line = reach_line(study, &reach.cells, last);
    let properties = ReachProperties {
        reach_id: reach.id.to_string(),
        waterway_id: mapped.id.to_string(),
        name: mapped.name.clone(),
        class: mapped.class.clone(),
        also: reach.also.iter().map(|&other| status(study, other)).collect(),
        upper_node: node_name(study, study.network.graph[upper]),
        lower_node: node_name(study, study.network.graph[lower]),
        to_reach: study.network.next_reach(position).map(|next| study.reaches.list[next].id.to_string()),
        length_m: metres(line.as_ref().map_or(0.0, length)),
        ground_up_m: study.surveyed_m(first),
        ground_down_m: study.surveyed_m(last),
        surface_ha: study.hectares(study.cells_through(position)),
        piped_ha: study.hectares(study.piped_by_reach[position]),
    };
    Record { geometry: line.map(Into::into), properties }
}

/// Another waterway in the same channel.
fn status(study: &Study, waterway: WaterwayIx) -> StatusItem {
    let mapped = &study.inputs.waterways[waterway];
    StatusItem { waterway_id: mapped.id.to_string(), class: mapped.class.clone() }
}

/// Along the reach to the cell it gives its water to; `None` for a single cell where water ends.
pub(crate) fn reach_line(study: &Study, cells: &[Cell], last: Cell) -> Option<LineString<f64>> {
    let next = study.setting.flow().receiver(last);
    // Cells of a reach beside the line of flow are not drawn: the line runs down from the first cell.
    let line: HashSet<Cell> = study.setting.flow().path(cells[0]).take(cells.len()).collect();
    let in_flow = cells.iter().copied().filter(|cell| line.contains(cell)).chain(next);
    let points: Vec<(f64, f64)> = in_flow.map(|cell| study.setting.frame().centre(cell)).collect();
    (points.len() > 1).then(|| LineString::from(points))
}

fn length(line: &LineString<f64>) -> f64 {
    line.lines().map(|edge| edge.dx().hypot(edge.dy())).sum()
}

/// Column and row of the node's cell; where water ends, with the word `end`.
fn node_name(study: &Study, node: Node) -> String {
    let name = |cell: Cell| {
        let (col, row) = study.setting.frame().col_row(cell);
        format!("{col}.{row}")
    };
    match node {
        Node::Point(cell) => name(cell),
        Node::End(cell, _) => format!("{}.end", name(cell)),
        Node::Leaving { parcel, share } => format!("{}.{}", study.inputs.parcels[parcel].id, share.number()),
    }
}

/// The land whose water meets each lawful outlet first.
pub(crate) fn watersheds(study: &Study) -> Result<Vec<Record<WatershedProperties>>, WriteError> {
    let record = |watershed: OutletWatershed| Record {
        geometry: watershed.shape.map(Into::into),
        properties: WatershedProperties {
            outlet_id: study.setting.feature_id(watershed.outlet).to_owned(),
            name: study.feature_name(watershed.outlet),
            class: study.feature_class(watershed.outlet).to_owned(),
            area_ha: study.hectares(watershed.cells),
        },
    };
    Ok(fallwright_study::watersheds(study)?.into_iter().map(record).collect())
}

pub(crate) fn links(study: &Study) -> Vec<Record<LinkProperties>> {
    let frame = study.setting.frame();
    let cell = |cell: Cell| <[usize; 2]>::from(frame.col_row(cell));
    let ground = |cell: Cell| study.surveyed_m(cell).unwrap_or(f64::NAN);
    let structures = study.setting.structures.iter_enumerated().zip(&study.tiled_by_structure);
    structures
        .map(|((position, structure), &tiled)| {
            let ends = [structure.link.inlet, structure.link.outlet];
            let joined = structure.joins.map(|junction| study.setting.structures[junction.structure].id.to_string());
            Record {
                geometry: Some(LineString::from(structure.course(&frame)).into()),
                properties: LinkProperties {
                    link_id: structure.id.to_string(),
                    kind: match structure.kind {
                        StructureKind::Culvert => "culvert",
                        StructureKind::Pipe => "pipe",
                    },
                    class: structure.class.clone(),
                    inlet_cell: cell(ends[0]),
                    outlet_cell: cell(ends[1]),
                    inlet_ground_m: ground(ends[0]),
                    outlet_ground_m: ground(ends[1]),
                    joins: joined,
                    surface_ha: study.hectares(study.cells_into(position)),
                    piped_ha: study.hectares(tiled),
                },
            }
        })
        .collect()
}
