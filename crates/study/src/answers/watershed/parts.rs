//! The cells of a watershed, in parts.

use fallwright_terrain::label_upstream;
use fallwright_units::{Cell, Raster, ReachIx, StructureIx, WaterwayIx};

use crate::error::StudyError;
use crate::place::Place;
use crate::place::no_such;
use crate::study::Study;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WatershedPart {
    /// What drains to a point or into a structure.
    Upstream,
    /// What enters the reach from its sides and its head.
    Reach(ReachIx),
    /// What enters the waterway's channel in a cell that no reach holds, since a structure takes in all water there and leads it
    /// to no other reach of the waterway.
    Inlet,
    /// What joins the waterway below the point that lies on it.
    Downstream,
}

impl WatershedPart {
    pub fn name(self) -> &'static str {
        match self {
            Self::Upstream => "upstream",
            Self::Reach(_) | Self::Inlet => "reach",
            Self::Downstream => "downstream",
        }
    }
}

pub struct WatershedParts {
    pub outlet: Option<String>,
    /// The lowest cell.
    pub at: Cell,
    /// For each cell the number of its part, 1 for the first; 0 outside.
    pub labels: Raster<u32>,
    pub list: Vec<WatershedPart>,
    /// The structure whose watershed it is.
    pub structure: Option<StructureIx>,
}

impl WatershedParts {
    pub fn part(&self, label: u32) -> WatershedPart {
        self.list[label as usize - 1]
    }

    /// Whether a part belongs to the watershed itself.
    pub fn is_inside(&self, label: u32) -> bool {
        label != 0 && self.part(label) != WatershedPart::Downstream
    }

    /// The part that the piped water of a structure goes to.
    pub fn piped_to(&self, study: &Study, structure: StructureIx) -> u32 {
        let goes_through = |own| study.setting.joined(structure).any(|on| on == own);
        if self.structure.is_some_and(goes_through) {
            1
        } else {
            self.labels[study.setting.structures[structure].link.outlet]
        }
    }
}

pub(super) fn parts(study: &Study, place: &Place, snap_m: f64) -> Result<WatershedParts, StudyError> {
    match place {
        Place::Outlet(id) => {
            let waterway = study.inputs.waterways.position(|waterway| waterway.id.as_str() == id);
            let structure = study.setting.structures.position(|structure| structure.id.as_str() == id);
            match (waterway, structure) {
                (Some(waterway), _) => of_waterway(study, id, waterway),
                (None, Some(structure)) => {
                    Ok(WatershedParts { outlet: Some(id.clone()), ..of_structure(study, structure) })
                }
                (None, None) => {
                    let waterways = study.inputs.waterways.iter().map(|waterway| waterway.id.as_str());
                    let structures = study.setting.structures.iter().map(|structure| structure.id.as_str());
                    Err(no_such("waterway, culvert or pipe", id, waterways.chain(structures)))
                }
            }
        }
        Place::Point(at) => {
            let cell = snapped(&study.setting.area, study.cell_at(*at)?, snap_m);
            Ok(of_cell(study, cell, study.setting.waterway_of(cell)))
        }
        Place::Parcel(_) => {
            Err(StudyError::OtherPlace { question: "a watershed", expected: "a waterway, a structure or a point" })
        }
    }
}

fn of_waterway(study: &Study, id: &str, waterway: WaterwayIx) -> Result<WatershedParts, StudyError> {
    let setting = &study.setting;
    let mut labels = Raster::filled(setting.frame(), 0_u32);
    let own = |&reach: &ReachIx| study.reaches.list[reach].waterways().any(|own| own == waterway);
    let mut list: Vec<WatershedPart> = study.reaches.list.keys().filter(own).map(WatershedPart::Reach).collect();
    let mut at = None;
    for (label, part) in (1_u32..).zip(&list) {
        if let WatershedPart::Reach(reach) = part {
            let cells = &study.reaches.list[*reach].cells;
            for &cell in cells {
                labels[cell] = label;
            }
            at = at.or_else(|| cells.last().copied());
        }
    }
    let leads_on = |&inlet: &Cell| setting.flow().path(inlet).any(|on| labels[on] != 0);
    let inlets: Vec<Cell> = channel_inlets(study, waterway).into_iter().filter(|inlet| !leads_on(inlet)).collect();
    let labels_of_inlets: Vec<u32> = inlets.iter().map(|&inlet| part_of_inlet(study, &labels, inlet)).collect();
    for (&inlet, label) in inlets.iter().zip(labels_of_inlets) {
        if label == 0 && list.last() != Some(&WatershedPart::Inlet) {
            list.push(WatershedPart::Inlet);
        }
        labels[inlet] = if label == 0 { list.len() as u32 } else { label };
        at = at.filter(|&lowest| setting.area(lowest) >= setting.area(inlet)).or(Some(inlet));
    }
    Ok(WatershedParts {
        outlet: Some(id.to_owned()),
        at: at.ok_or_else(|| StudyError::NotOnElevation { id: id.to_owned() })?,
        labels: label_upstream(setting.flow(), labels),
        list,
        structure: None,
    })
}

/// Cells of a waterway's channel that no reach holds, since a structure takes in all water there.
fn channel_inlets(study: &Study, waterway: WaterwayIx) -> Vec<Cell> {
    let setting = &study.setting;
    let own = |cell: Cell| setting.waterways_at(cell).any(|own| own == waterway);
    let inlets = setting.structures.iter().map(|structure| structure.link.inlet);
    inlets.filter(|&inlet| own(inlet) && setting.flow().has_data(inlet)).collect()
}

/// The part that an inlet in the channel ends: that of the neighbour in a reach that drains into it, of several the one with
/// most land; 0 where there is none.
fn part_of_inlet(study: &Study, labels: &Raster<u32>, inlet: Cell) -> u32 {
    let flow = study.setting.flow();
    let beside = labels.frame.neighbours(inlet).map(|(_, beside)| beside);
    let above = beside.filter(|&beside| labels[beside] != 0 && flow.receiver(beside) == Some(inlet));
    above.max_by_key(|&cell| (study.setting.area(cell), cell)).map_or(0, |cell| labels[cell])
}

/// What drains into a structure and into those that join it.
fn of_structure(study: &Study, structure: StructureIx) -> WatershedParts {
    let mut inlets = Raster::filled(study.setting.frame(), 0_u32);
    for joining in study.setting.joining(structure) {
        inlets[study.setting.structures[joining].link.inlet] = 1;
    }
    WatershedParts {
        outlet: None,
        at: study.setting.structures[structure].link.inlet,
        labels: label_upstream(study.setting.flow(), inlets),
        list: vec![WatershedPart::Upstream],
        structure: Some(structure),
    }
}

/// What drains to a cell; where it lies on a waterway, also what joins that waterway farther down.
fn of_cell(study: &Study, cell: Cell, waterway: Option<WaterwayIx>) -> WatershedParts {
    let flow = study.setting.flow();
    let mut upstream = Raster::filled(study.setting.frame(), 0_u32);
    upstream[cell] = 1;
    let mut labels = label_upstream(flow, upstream);
    let mut list = vec![WatershedPart::Upstream];
    if let Some(waterway) = waterway {
        let reaches = study.reaches.list.iter().filter(|reach| reach.waterways().any(|own| own == waterway));
        let below = flow.path(cell).filter(|&on| study.setting.waterway_of(on) == Some(waterway));
        for on in reaches.flat_map(|reach| reach.cells.iter().copied()).chain(below) {
            if labels[on] == 0 {
                labels[on] = 2;
            }
        }
        labels = label_upstream(flow, labels);
        list.push(WatershedPart::Downstream);
    }
    WatershedParts { outlet: None, at: cell, labels, list, structure: None }
}

/// The nearest cell of the main channel within a distance: of all cells through which at least half as much land drains as
/// through any other there, the nearest; of cells equally near the one with most land. So a point beside a channel moves
/// across to it and not along it past the next confluence.
fn snapped(area: &Raster<u32>, from: Cell, within_m: f64) -> Cell {
    let frame = area.frame;
    let around = |at: usize, cell_m: f64, count: usize| {
        let steps = (within_m / cell_m) as usize;
        at.saturating_sub(steps)..at.saturating_add(steps).saturating_add(1).min(count)
    };
    let (col, row) = frame.col_row(from);
    let cols = around(col, frame.cell_width(), frame.cols());
    let rows = around(row, frame.cell_height(), frame.rows());
    let within = || {
        let cells = rows.clone().flat_map(|row| cols.clone().map(move |col| frame.cell(col, row)));
        cells.filter(|&cell| frame.distance(from, cell) <= within_m)
    };
    let most = within().map(|cell| area[cell]).max().unwrap_or(0);
    let main_channel = within().filter(|&cell| area[cell] >= most.div_ceil(2));
    let nearer = |a: &Cell, b: &Cell| {
        let by_distance = frame.distance(from, *a).total_cmp(&frame.distance(from, *b));
        by_distance.then(area[*b].cmp(&area[*a])).then(a.cmp(b))
    };
    main_channel.min_by(nearer).unwrap_or(from)
}

#[cfg(test)]
mod tests {
    use fallwright_units::Frame;

    use super::*;

    #[test]
    fn a_point_moves_across_to_the_main_channel_and_not_along_it() {
        let check = |within_m, from, expected| {
            // A channel runs south in the third column, a smaller one joins it in the fourth row.
            let values = vec![
                1, 1, 90, 1, 1, //
                1, 1, 92, 1, 1, //
                1, 1, 95, 1, 1, //
                1, 1, 120, 20, 19, //
                1, 1, 123, 1, 1,
            ];
            let area = Raster { frame: Frame::new(5, 5, (0.0, 50.0), (10.0, 10.0)).unwrap(), values };
            let cell = |(col, row)| area.frame.cell(col, row);
            assert_eq!(area.frame.col_row(snapped(&area, cell(from), within_m)), expected);
        };
        check(0.0, (0, 1), (0, 1));
        check(10.0, (0, 1), (0, 1));
        check(20.0, (0, 1), (2, 1));
        check(50.0, (0, 1), (2, 1));
        check(50.0, (4, 3), (2, 3));
        check(10.0, (4, 3), (4, 3));
        check(1e12, (0, 1), (2, 1));
    }
}
