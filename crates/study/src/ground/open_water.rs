//! Lakes and wide rivers that are mapped as polygons: how their water runs to where it leaves, and which lakes are closed.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use fallwright_case::{Inputs, Note};
use fallwright_land::cells_inside;
use fallwright_law::ClassKind;
use fallwright_network::{Parties, Structure, Waterway};
use fallwright_terrain::{CHANNEL_INCISION_M, Conditioned, Conditioning, condition, depressions};
use fallwright_units::{Cell, Raster, StructureIx, WaterwayIx};
use typed_index_collections::TiSlice;

use super::kept::spills_over_road;
use super::level_doubt::level_doubt_m;
use crate::error::StudyError;

/// The connected cells of each water of a polygon, those taken by stronger waterways left out.
pub(super) fn waters(inputs: &Inputs, position: WaterwayIx, taken: &mut BTreeSet<Cell>) -> Vec<Vec<Cell>> {
    let frame = inputs.ground.frame;
    let parts = inputs.waterways[position].shape.iter().map(|part| cells_inside(&frame, &part.clone().into()));
    let mut open: BTreeSet<Cell> =
        parts.flatten().filter(|cell| !inputs.ground[*cell].is_nan() && !taken.contains(cell)).collect();
    taken.extend(&open);
    let mut waters = Vec::new();
    while let Some(first) = open.pop_first() {
        let mut water = vec![first];
        let mut next_unvisited = 0;
        while let Some(&cell) = water.get(next_unvisited) {
            next_unvisited += 1;
            water.extend(frame.neighbours(cell).map(|(_, next)| next).filter(|next| open.remove(next)));
        }
        water.sort_unstable();
        waters.push(water);
    }
    waters
}

/// How the terrain is conditioned in open water.
#[derive(Default)]
pub(super) struct OpenWater {
    /// Ways of the water of every cell to where it leaves, and in from the creeks that end beside it.
    pub(super) channels: Vec<Vec<Cell>>,
    /// The level of lakes.
    pub(super) beds: BTreeMap<Cell, f32>,
    /// The lowest place on the shore of each lake from which no mapped outlet leads, with the lake.
    without_outlet: Vec<(Cell, WaterwayIx)>,
}

impl OpenWater {
    /// Where water leaves: by the mapped waterways that lead out and the structures that take it in, else into another mapped
    /// water that lies lower, else at the edge of the data, else over the lowest ground beside it.
    ///
    /// A lake's bed is level; where a mapped outlet leads out it lies as deep as the outlet's, so that no water takes another
    /// way over a shore that is as low. A river's bed falls along the ways, as that of a line does.
    pub(super) fn find(
        inputs: &Inputs,
        waterways: &TiSlice<WaterwayIx, Waterway>,
        structures: &TiSlice<StructureIx, Structure>,
        notes: &mut Vec<Note>,
    ) -> Self {
        let bodies = Bodies::find(&inputs.ground, waterways);
        let mut found = Self::default();
        for (position, body) in bodies.list.iter().enumerate() {
            let is_lake = waterways[body.waterway].is_lake;
            let mapped = bodies.mapped_outlets(position, waterways, structures);
            let led_out: Vec<(Cell, Option<Cell>)> = if mapped.is_empty() {
                bodies.way_into_lower(position).or_else(|| bodies.at_edge(position)).into_iter().collect()
            } else {
                mapped
            };
            let ground_m = |cell: Cell| inputs.ground[cell];
            let depth_m = if led_out.is_empty() { 0.0 } else { CHANNEL_INCISION_M };
            if is_lake {
                found.beds.extend(body.cells.iter().map(|&cell| (cell, ground_m(cell) - depth_m)));
            }
            let roots: Vec<Cell> = if led_out.is_empty() {
                let lowest = bodies.lowest_shore(position);
                found.without_outlet.extend(is_lake.then_some((lowest, body.waterway)));
                vec![lowest]
            } else {
                led_out.iter().map(|&(cell, _)| cell).collect()
            };
            found.channels.extend(led_out.iter().filter_map(|&(cell, next)| Some(vec![cell, next?])));
            found.channels.extend(ways(&inputs.ground, body.cells, &roots));
        }
        found.channels.extend(bodies.inflows(waterways));
        notes.extend(bodies.lines_inside(inputs, waterways));
        found
    }

    /// Adds the lakes without an outlet: no mapped one leads out, and the ground around stands clearly
    /// above the water's surface on all sides. A lake that would spill over a road is not closed: the road holds the water
    /// back, not the land.
    pub(super) fn with_closed_lakes(
        &self,
        inputs: &Inputs,
        waterways: &TiSlice<WaterwayIx, Waterway>,
        parties: &Parties,
        known: Conditioning,
        notes: &mut Vec<Note>,
    ) -> Result<Conditioning, StudyError> {
        if self.without_outlet.is_empty() {
            return Ok(known);
        }
        let filled = condition(&inputs.ground, known.clone())?;
        let mut sinks = known.sinks.clone();
        for &(shore, waterway) in &self.without_outlet {
            let rise_m = f64::from(filled.surface[shore]) - f64::from(inputs.ground[shore]);
            if rise_m > level_doubt_m(inputs) && !is_held_by_road(&filled, parties, shore) {
                sinks.push(shore);
                notes.push(Note::new(
                    format!("waterway {}", waterways[waterway].id),
                    format!("a lake from which no mapped waterway leads; it would have to rise {rise_m:.2} m to spill"),
                    "taken to be closed: its water ends there; map its outlet if it has one",
                ));
            }
        }
        Ok(Conditioning { sinks, ..known })
    }
}

/// Whether a class is that of lakes and ponds.
pub(super) fn is_lake(inputs: &Inputs, class: &str) -> bool {
    inputs.profile.class(class).is_some_and(|class| class.kind == ClassKind::Lake)
}

fn is_held_by_road(filled: &Conditioned, parties: &Parties, lake: Cell) -> bool {
    let of_lake = depressions(&filled.enforced, &filled.surface).find(|fill| fill.cells.binary_search(&lake).is_ok());
    of_lake.is_some_and(|fill| spills_over_road(filled, parties, &fill))
}

/// One connected water.
struct Body<'a> {
    waterway: WaterwayIx,
    cells: &'a [Cell],
    /// The lowest height in it, metres.
    level_m: f32,
}

/// All waters, in the order of their waterways, and which of them each cell is part of.
struct Bodies<'a> {
    ground: &'a Raster<f32>,
    list: Vec<Body<'a>>,
    of: BTreeMap<Cell, usize>,
}

impl<'a> Bodies<'a> {
    fn find(ground: &'a Raster<f32>, waterways: &'a TiSlice<WaterwayIx, Waterway>) -> Self {
        let waters = waterways
            .iter_enumerated()
            .flat_map(|(waterway, given)| given.waters.iter().map(move |cells| (waterway, cells.as_slice())));
        let level_m = |cells: &[Cell]| cells.iter().map(|&cell| ground[cell]).fold(f32::INFINITY, f32::min);
        let list: Vec<Body> =
            waters.map(|(waterway, cells)| Body { waterway, cells, level_m: level_m(cells) }).collect();
        let numbered =
            list.iter().enumerate().flat_map(|(number, body)| body.cells.iter().map(move |&cell| (cell, number)));
        Self { ground, of: numbered.collect(), list }
    }

    fn beside(&self, cell: Cell) -> impl Iterator<Item = Cell> + '_ {
        self.ground.frame.neighbours(cell).map(|(_, next)| next)
    }

    /// The cells of a water beside some cell, the lowest ground first.
    fn nearest_in(&self, body: usize, cell: Cell) -> Option<Cell> {
        let inside = self.beside(cell).filter(|next| self.of.get(next) == Some(&body));
        inside.min_by(|&a, &b| self.ground[a].total_cmp(&self.ground[b]).then(a.cmp(&b)))
    }

    /// Where mapped lines lead out of a water and structures take it in: its cell, and the next one of the line.
    fn mapped_outlets(
        &self,
        body: usize,
        waterways: &TiSlice<WaterwayIx, Waterway>,
        structures: &TiSlice<StructureIx, Structure>,
    ) -> Vec<(Cell, Option<Cell>)> {
        let is_in = |cell: &Cell| self.of.get(cell) == Some(&body);
        let line = |chain: &Vec<Cell>| {
            let last = chain.iter().rposition(is_in);
            match (last, chain.first()) {
                (Some(last), _) => Some((chain[last], Some(*chain.get(last + 1)?))),
                (None, Some(&head)) if self.leads_away(body, chain) && !self.goes_on(waterways, head, chain) => {
                    Some((self.nearest_in(body, head)?, Some(head)))
                }
                (None, _) => None,
            }
        };
        let lines = waterways.iter().flat_map(|waterway| &waterway.chains).filter_map(line);
        let inlets = structures.iter().map(|structure| structure.link.inlet).filter(is_in);
        let all: BTreeSet<(Cell, Option<Cell>)> = lines.chain(inlets.map(|inlet| (inlet, None))).collect();
        all.into_iter().collect()
    }

    /// Whether a line outside a water begins beside it, ends elsewhere and falls below it.
    fn leads_away(&self, body: usize, chain: &[Cell]) -> bool {
        let touches = |cell: Option<&Cell>| cell.is_some_and(|&cell| self.nearest_in(body, cell).is_some());
        let falls = chain.iter().any(|&cell| self.ground[cell] < self.list[body].level_m);
        touches(chain.first()) && !touches(chain.last()) && falls
    }

    /// Whether another line runs through the end of a line, or begins or ends beside it: the line does not end there but goes on.
    fn goes_on(&self, waterways: &TiSlice<WaterwayIx, Waterway>, end: Cell, chain: &[Cell]) -> bool {
        let is_near =
            |cell: Option<&Cell>| cell.is_some_and(|&cell| cell == end || self.beside(end).any(|next| next == cell));
        let mut others = waterways.iter().flat_map(|other| &other.chains).filter(|other| other.as_slice() != chain);
        others.any(|other| is_near(other.first()) || is_near(other.last()) || other.contains(&end))
    }

    /// The place where another water lies beside and lower; of two at one level the first in the list is the lower.
    fn way_into_lower(&self, body: usize) -> Option<(Cell, Option<Cell>)> {
        let height = |body: usize| (self.list[body].level_m, body);
        let is_lower = |other: usize| other != body && height(other) < height(body);
        let places = self.list[body].cells.iter().flat_map(|&cell| self.beside(cell).map(move |next| (cell, next)));
        let into = places.filter(|(_, next)| self.of.get(next).is_some_and(|&other| is_lower(other)));
        into.min_by(|a, b| self.ground[a.1].total_cmp(&self.ground[b.1]).then(a.cmp(b)))
            .map(|(cell, next)| (cell, Some(next)))
    }

    /// The lowest cell at the edge of the data.
    fn at_edge(&self, body: usize) -> Option<(Cell, Option<Cell>)> {
        let is_edge = |&&cell: &&Cell| {
            let beside: Vec<Cell> = self.beside(cell).collect();
            beside.len() < 8 || beside.iter().any(|&next| self.ground[next].is_nan())
        };
        self.lowest(self.list[body].cells.iter().filter(is_edge).copied()).map(|cell| (cell, None))
    }

    /// The cell beside the lowest ground on the shore; the lowest cell where there is no shore.
    fn lowest_shore(&self, body: usize) -> Cell {
        let cells = self.list[body].cells;
        let land =
            |&cell: &Cell| self.beside(cell).filter(|next| !self.of.contains_key(next)).map(move |next| (next, cell));
        let shore = cells.iter().flat_map(land);
        let lowest = shore.min_by(|a, b| self.ground[a.0].total_cmp(&self.ground[b.0]).then(a.cmp(b)));
        lowest.map_or(cells[0], |(_, cell)| cell)
    }

    fn lowest(&self, cells: impl Iterator<Item = Cell>) -> Option<Cell> {
        cells.min_by(|&a, &b| self.ground[a].total_cmp(&self.ground[b]).then(a.cmp(&b)))
    }

    /// The last steps of lines that end beside a water.
    fn inflows(&self, waterways: &'a TiSlice<WaterwayIx, Waterway>) -> impl Iterator<Item = Vec<Cell>> + '_ {
        let chains = waterways.iter().flat_map(|waterway| &waterway.chains);
        let ends = chains.filter_map(|chain| chain.last().copied().filter(|&end| !self.goes_on(waterways, end, chain)));
        ends.filter(|end| !self.of.contains_key(end)).filter_map(|end| {
            let waters: BTreeSet<usize> = self.beside(end).filter_map(|next| self.of.get(&next).copied()).collect();
            let body = waters.into_iter().next()?;
            Some(vec![end, self.nearest_in(body, end)?])
        })
    }

    /// Lines that run in a polygon: what enters it there has met the polygon's waterway.
    fn lines_inside(&self, inputs: &Inputs, waterways: &TiSlice<WaterwayIx, Waterway>) -> Vec<Note> {
        let mut notes = Vec::new();
        for waterway in waterways {
            let inside = waterway.chains.iter().flatten().filter_map(|cell| self.of.get(cell));
            let through: BTreeSet<WaterwayIx> = inside.map(|&body| self.list[body].waterway).collect();
            notes.extend(through.into_iter().filter(|_| waterway.lawful).map(|water| {
                Note::new(
                    format!("waterway {}", waterway.id),
                    format!("a line that runs in the polygon of {}", inputs.waterways[water].id),
                    format!("in the polygon the water is that of {}", inputs.waterways[water].id),
                )
            }));
        }
        notes
    }
}

/// Chains of cells that lead every cell of a water by a shortest way to one of some roots.
fn ways(ground: &Raster<f32>, cells: &[Cell], roots: &[Cell]) -> Vec<Vec<Cell>> {
    let mut onward: BTreeMap<Cell, Cell> = BTreeMap::new();
    let mut seen: BTreeSet<Cell> = roots.iter().copied().collect();
    let is_in = |cell: &Cell| cells.binary_search(cell).is_ok();
    let mut open: VecDeque<Cell> = seen.iter().copied().collect();
    let mut reached = Vec::new();
    while let Some(cell) = open.pop_front() {
        for (_, next) in ground.frame.neighbours(cell).filter(|(_, next)| is_in(next)) {
            if seen.insert(next) {
                onward.insert(next, cell);
                reached.push(next);
                open.push_back(next);
            }
        }
    }
    let mut led: BTreeSet<Cell> = BTreeSet::new();
    let mut chains = Vec::new();
    for &start in reached.iter().rev() {
        if led.contains(&start) {
            continue;
        }
        let mut chain = vec![start];
        let mut cell = start;
        while led.insert(cell)
            && let Some(&next) = onward.get(&cell)
        {
            chain.push(next);
            cell = next;
        }
        chains.push(chain);
    }
    chains
}

#[cfg(test)]
mod tests {
    use fallwright_units::Frame;

    use super::*;

    /// Every cell of a 4 x 3 water takes as many steps as its distance from the root, by the definition of a shortest way.
    #[test]
    fn every_cell_is_led_to_the_root_by_a_shortest_way() {
        let frame = Frame::new(4, 3, (0.0, 3.0), (1.0, 1.0)).unwrap();
        let ground = Raster::filled(frame, 1.0_f32);
        let cells: Vec<Cell> = (0..frame.len()).map(Cell).collect();
        let root = frame.cell(0, 1);
        let onward: BTreeMap<Cell, Cell> = ways(&ground, &cells, &[root])
            .iter()
            .flat_map(|chain| chain.windows(2))
            .map(|pair| (pair[0], pair[1]))
            .collect();
        for cell in cells {
            let steps = std::iter::successors(Some(cell), |at| onward.get(at).copied()).count() - 1;
            let (col, row) = frame.col_row(cell);
            assert_eq!(steps, col.max(row.abs_diff(1)), "{col} {row}");
        }
    }
}
