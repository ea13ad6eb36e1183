//! Mapped waterways cut into reaches.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_units::{Cell, CellMap, ReachId, ReachIx, WaterwayIx};
use typed_index_collections::{TiSlice, TiVec};

use crate::corner::CORNER_CELLS;
use crate::{Setting, WaterIx};

/// A stretch of one waterway without junctions or structures; of one that is mapped as a polygon, the water that leaves it into
/// one cell.
#[derive(Clone, Debug, PartialEq)]
pub struct Reach {
    /// The waterway's id and a number, 1 for its lowest reach.
    pub id: ReachId,
    pub waterway: WaterwayIx,
    /// Other waterways that run in the same channel.
    pub also: Vec<WaterwayIx>,
    /// In the direction of flow: no cell comes after one that it drains into, and the last has most land. In a polygon the first
    /// is the one with the longest way to where the water leaves.
    pub cells: Vec<Cell>,
}

impl Reach {
    /// The waterway whose channel it is, then the others in it.
    pub fn waterways(&self) -> impl Iterator<Item = WaterwayIx> + '_ {
        std::iter::once(self.waterway).chain(self.also.iter().copied())
    }
}

/// All reaches, and which of them each channel cell is part of.
#[derive(Clone, Debug, PartialEq)]
pub struct Reaches {
    pub list: TiVec<ReachIx, Reach>,
    of: CellMap<ReachIx>,
}

impl Reaches {
    pub fn of(&self, cell: Cell) -> Option<ReachIx> {
        self.of.get(cell).copied()
    }
}

/// Cuts every mapped waterway where another one or a branch joins, where a structure takes its water or gives it back, and
/// where the waterways that run in one channel change.
///
/// Reaches follow the flow, so water is never in two of them at once; a channel cell beside the line of flow belongs to the
/// reach it drains into. A lake or wide river that is mapped as a polygon has one reach for each cell that takes in its water.
///
/// *Complexity*: O(c log c) for c channel cells.
pub fn reaches(setting: &Setting) -> Reaches {
    let channel = channel_cells(setting);
    let way_out = ways_out(setting, &channel);
    let donors = donors(setting, &channel, &way_out);
    let mut of = CellMap::new(setting.frame().len());
    let mut found: TiVec<ReachIx, Found> = TiVec::new();
    let mut by_way_out: BTreeMap<WayOut, ReachIx> = BTreeMap::new();
    for &cell in &channel {
        let waterway = setting.waterway_of(cell).expect("a channel cell has a waterway");
        if let Some(&way) = way_out.of.get(&cell) {
            let reach = *by_way_out.entry(way).or_insert_with(|| found.push_and_get_key((waterway, Vec::new())));
            of.insert(cell, reach);
            found[reach].1.push(cell);
            continue;
        }
        let arriving = donors.get(&cell).map_or(&[][..], Vec::as_slice);
        let through = match arriving {
            [only] if only.same_waterway && setting.also_at(only.cell) == setting.also_at(cell) => {
                of.get(only.cell).copied()
            }
            _ => None,
        };
        let reach = through.unwrap_or_else(|| found.push_and_get_key((waterway, Vec::new())));
        of.insert(cell, reach);
        found[reach].1.push(cell);
    }
    for &reach in by_way_out.values() {
        longest_way_first(setting, &mut found[reach].1);
    }
    merge_corners(setting, &mut found, &mut of);
    Reaches { list: named(setting, found, &mut of), of }
}

/// A water that is mapped as a polygon, and the cell that takes in what leaves it; its own cell where that ends there.
type WayOut = (WaterIx, Cell);

/// How the water of polygons leaves them.
#[derive(Default)]
struct WaysOut {
    /// For each channel cell in a polygon the way that its water leaves by.
    of: BTreeMap<Cell, WayOut>,
    /// Of the cells where it leaves in one way, all but the one with most land.
    minor: BTreeSet<Cell>,
}

fn ways_out(setting: &Setting, channel: &[Cell]) -> WaysOut {
    let mut ways = WaysOut::default();
    let mut main = BTreeSet::new();
    for &cell in channel.iter().rev() {
        let Some(water) = setting.water_of(cell) else { continue };
        let next = setting.flow().receiver(cell);
        let below = next.and_then(|next| ways.of.get(&next)).filter(|(below, _)| *below == water);
        let way = below.copied().unwrap_or((water, next.unwrap_or(cell)));
        if below.is_none() && !main.insert(way) {
            ways.minor.insert(cell);
        }
        ways.of.insert(cell, way);
    }
    ways
}

/// Puts the cell with the longest way within a reach before the others, which stay in their order. Nothing of the reach drains
/// into it.
fn longest_way_first(setting: &Setting, cells: &mut [Cell]) {
    let mut steps: BTreeMap<Cell, (usize, usize)> = BTreeMap::new();
    for (position, &cell) in cells.iter().enumerate() {
        let (length, head) = *steps.entry(cell).or_insert((0, position));
        if let Some(next) = setting.flow().receiver(cell) {
            let longest = steps.entry(next).or_insert((0, position));
            if length + 1 > longest.0 {
                *longest = (length + 1, head);
            }
        }
    }
    // Where nothing of the reach drains into its last cell, that stays where it is.
    let last = cells.last().and_then(|last| steps.get(last));
    if let Some(&(_, head)) = last.filter(|(_, head)| head + 1 < cells.len()) {
        cells[..=head].rotate_right(1);
    }
}

/// Upstream first: more cells drain through a cell than through any cell upstream of it.
fn channel_cells(setting: &Setting) -> Vec<Cell> {
    let flow = setting.flow();
    let in_reach = |&cell: &Cell| flow.has_data(cell) && setting.structure_at(cell).is_none();
    let mut cells: Vec<Cell> = setting.channel_cells().filter(in_reach).collect();
    cells.sort_unstable_by_key(|&cell| (setting.area(cell), cell));
    cells
}

struct Donor {
    cell: Cell,
    same_waterway: bool,
}

/// What arrives at each channel cell by channel or structure, corners and all but one of the cells where a polygon's water leaves
/// left out.
fn donors(setting: &Setting, channel: &[Cell], way_out: &WaysOut) -> BTreeMap<Cell, Vec<Donor>> {
    let flow = setting.flow();
    let mut length: BTreeMap<Cell, usize> = channel.iter().map(|&cell| (cell, 1)).collect();
    let mut donors: BTreeMap<Cell, Vec<Donor>> = BTreeMap::new();
    for &cell in channel.iter().filter(|cell| !way_out.minor.contains(cell)) {
        let Some(next) = flow.receiver(cell).filter(|next| length.contains_key(next)) else { continue };
        let same_waterway = setting.waterway_of(cell) == setting.waterway_of(next);
        let reaching = length[&cell] + 1;
        let longest = length.get_mut(&next).expect("checked above");
        *longest = reaching.max(*longest);
        donors.entry(next).or_default().push(Donor { cell, same_waterway });
    }
    for arriving in donors.values_mut() {
        let longest = arriving.iter().map(|donor| length[&donor.cell]).max().unwrap_or(0);
        arriving.retain(|donor| {
            !donor.same_waterway || length[&donor.cell] > CORNER_CELLS || length[&donor.cell] == longest
        });
        keep_one_of_equal_corners(arriving, &length);
    }
    for structure in setting.structures.iter() {
        if length.contains_key(&structure.link.outlet) {
            let carried = Donor { cell: structure.link.inlet, same_waterway: false };
            donors.entry(structure.link.outlet).or_default().push(carried);
        }
    }
    donors
}

fn keep_one_of_equal_corners(arriving: &mut Vec<Donor>, length: &BTreeMap<Cell, usize>) {
    let is_corner = |donor: &Donor| donor.same_waterway && length[&donor.cell] <= CORNER_CELLS;
    if let Some(first) = arriving.iter().position(is_corner) {
        let mut position = 0;
        arriving.retain(|donor| {
            position += 1;
            position - 1 == first || !is_corner(donor)
        });
    }
}

/// The waterway and the cells of a reach, by its position before [`named`] puts the reaches in order.
type Found = (WaterwayIx, Vec<Cell>);

/// Gives the cells of corners to the reach of the same waterway that they drain into, which may be a corner's itself.
fn merge_corners(setting: &Setting, found: &mut TiSlice<ReachIx, Found>, of: &mut CellMap<ReachIx>) {
    let mut into: TiVec<ReachIx, ReachIx> = found.keys().collect();
    for position in found.keys().rev() {
        let (waterway, cells) = &found[position];
        let Some(next) = cells.last().and_then(|&last| setting.flow().receiver(last)) else { continue };
        let Some(reach) = of.get(next).map(|&reach| merged(&into, reach)) else { continue };
        let is_corner = cells.len() <= CORNER_CELLS
            && reach != position
            && found[reach].0 == *waterway
            && found[reach].1.first() != Some(&next);
        if is_corner {
            into[position] = reach;
            found[position].1.clear();
        }
    }
    for reach in of.values_mut() {
        *reach = merged(&into, *reach);
    }
}

/// The reach that a reach's cells are part of in the end.
fn merged(into: &TiSlice<ReachIx, ReachIx>, mut reach: ReachIx) -> ReachIx {
    while into[reach] != reach {
        reach = into[reach];
    }
    reach
}

/// Numbers each waterway's reaches from its lowest upward and drops those emptied.
fn named(setting: &Setting, found: TiVec<ReachIx, Found>, of: &mut CellMap<ReachIx>) -> TiVec<ReachIx, Reach> {
    let lower_end = |cells: &[Cell]| cells.last().map_or(0, |&last| setting.area(last));
    let mut order: TiVec<ReachIx, ReachIx> = found.keys().filter(|&position| !found[position].1.is_empty()).collect();
    order.sort_by_key(|&position| {
        let (waterway, cells) = &found[position];
        (*waterway, std::cmp::Reverse(lower_end(cells)), cells[0])
    });
    let mut renamed: TiVec<ReachIx, ReachIx> = found.keys().collect();
    for (new, &position) in order.iter_enumerated() {
        renamed[position] = new;
    }
    for reach in of.values_mut() {
        *reach = renamed[*reach];
    }
    let mut number = BTreeMap::new();
    let mut found: TiVec<ReachIx, Option<Found>> = found.into_iter().map(Some).collect();
    order
        .into_iter()
        .filter_map(|position| found[position].take())
        .map(|(waterway, cells)| {
            let number = number.entry(waterway).and_modify(|n| *n += 1).or_insert(1);
            let id = ReachId::new(format!("{}/{number}", setting.waterways[waterway].id));
            Reach { id, waterway, also: setting.also_at(cells[0]).to_vec(), cells }
        })
        .collect()
}
