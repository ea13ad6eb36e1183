//! Cuts: barriers lowered so that a depression drains to lower ground.

use std::cmp::{Ordering, Reverse};
use std::collections::{BinaryHeap, HashMap, HashSet};

use fallwright_units::{Cell, Raster};

use crate::cut::{Cut, CutLimits, CutPath};
use crate::link::Links;
use crate::surface::{Level, is_outlet};

/// Ground no higher than this above the pit is the uneven bed before a barrier.
const UNEVENNESS_M: f64 = 0.1;

/// What [`crate::tiled::Cutting`] finds: for each pit first all of its fill, then the path of least rise
/// that costs no more.
pub fn cuts(surface: &Raster<f32>, filled: &Raster<f32>, links: &Links, limits: CutLimits) -> Vec<Cut> {
    pits(surface, filled).into_iter().filter_map(|pit| cut(surface, links, pit, limits)).collect()
}

/// The path of least rise from a cell to lower ground over cells at most `deepest_m` above it, if it rises by no more than
/// `most_m` in all.
///
/// *References*: E. W. Dijkstra (1959), A note on two problems in connexion with graphs, Numerische Mathematik 1, 269–271.
fn least_rise_path(surface: &Raster<f32>, links: &Links, pit: Cell, deepest_m: f64, most_m: f64) -> Option<CutPath> {
    let height = |cell: Cell| f64::from(surface[cell]) - f64::from(surface[pit]);
    let mut from: HashMap<Cell, Cell> = HashMap::new();
    let mut settled = HashSet::new();
    let mut open = BinaryHeap::new();
    open.push(Label { rise_sum_m: 0.0, length_m: 0.0, barrier_m: 0.0, cell: pit, before: pit });
    while let Some(label) = open.pop() {
        if !settled.insert(label.cell) {
            continue;
        }
        from.insert(label.cell, label.before);
        if label.cell != pit && is_lower_ground(surface, links, pit, label.cell) {
            return Some(path_to(surface, &from, pit, &label));
        }
        for (_, next) in surface.frame.neighbours(label.cell) {
            let above = height(next).max(0.0);
            if surface[next].is_nan() || settled.contains(&next) || above > deepest_m {
                continue;
            }
            let step = surface.frame.distance(label.cell, next);
            let reached = Label {
                rise_sum_m: label.rise_sum_m + above,
                length_m: label.length_m + step,
                barrier_m: label.barrier_m + if above > UNEVENNESS_M { step } else { 0.0 },
                cell: next,
                before: label.cell,
            };
            if reached.rise_sum_m <= most_m {
                open.push(reached);
            }
        }
    }
    None
}

/// Depressions' lowest cells: no neighbour is lower, and filling raised them. A flat bottom counts once, by its first cell.
fn pits(surface: &Raster<f32>, filled: &Raster<f32>) -> Vec<Cell> {
    let mut seen = vec![false; surface.frame.len()];
    let mut pits = Vec::new();
    for start in (0..seen.len()).map(Cell).filter(|&cell| filled[cell] > surface[cell]) {
        if std::mem::replace(&mut seen[start.0], true) {
            continue;
        }
        let mut bottom = vec![start];
        let mut next_unvisited = 0;
        let mut is_pit = true;
        while let Some(&cell) = bottom.get(next_unvisited) {
            next_unvisited += 1;
            for (_, next) in surface.frame.neighbours(cell) {
                is_pit &= surface[next].is_nan() || surface[next] >= surface[cell];
                if surface[next] == surface[cell] && !std::mem::replace(&mut seen[next.0], true) {
                    bottom.push(next);
                }
            }
        }
        if is_pit {
            pits.push(start);
        }
    }
    pits
}

fn cut(surface: &Raster<f32>, links: &Links, pit: Cell, limits: CutLimits) -> Option<Cut> {
    let fill_m = fill(surface, links, pit)?;
    // Grading lowers each cell at least to the pit, so a path that rises by more than the fill cannot become a cut.
    let way = least_rise_path(surface, links, pit, limits.deepest_m, fill_m)?;
    let bed = graded(surface, &way);
    let lowering = |(&cell, &bed): (&Cell, &f32)| f64::from(surface[cell]) - f64::from(bed);
    let depth_m = way.path.iter().zip(&bed).map(lowering).fold(0.0, f64::max);
    let lowering_m: f64 = way.path.iter().zip(&bed).map(lowering).sum();
    let within = way.barrier_m <= limits.longest_m && depth_m <= limits.deepest_m && lowering_m <= fill_m;
    within.then_some(Cut { way, bed, depth_m, lowering_m, depression: pit })
}

/// Σ depth of water over a pit when it first reaches lower ground, metres; `None` where it never does.
fn fill(surface: &Raster<f32>, links: &Links, pit: Cell) -> Option<f64> {
    let mut reached = HashSet::from([pit]);
    let mut open = BinaryHeap::from([Reverse((Level(surface[pit]), pit))]);
    let mut cells: Vec<Cell> = Vec::new();
    // Cells reached before the last one at the highest level; those after it lie on the way down.
    let mut stored = 0;
    let mut level = surface[pit];
    while let Some(Reverse((Level(z), cell))) = open.pop() {
        if z >= level {
            level = z;
            stored = cells.len();
        }
        if cell != pit && is_lower_ground(surface, links, pit, cell) {
            return Some(cells[..stored].iter().map(|&cell| f64::from(level) - f64::from(surface[cell])).sum());
        }
        cells.push(cell);
        for (_, next) in surface.frame.neighbours(cell) {
            if !surface[next].is_nan() && reached.insert(next) {
                open.push(Reverse((Level(surface[next]), next)));
            }
        }
    }
    None
}

fn is_lower_ground(surface: &Raster<f32>, links: &Links, pit: Cell, cell: Cell) -> bool {
    surface[cell] < surface[pit]
        || is_outlet(surface, cell)
        || links.outlet_of(cell).is_some_and(|outlet| surface[outlet] < surface[pit])
}

/// An even grade from the pit to the end of the path, or level where the end is no lower; the ground where that is lower.
fn graded(surface: &Raster<f32>, way: &CutPath) -> Vec<f32> {
    let (pit, end) = (way.path[0], way.path[way.path.len() - 1]);
    let from = f64::from(surface[pit]);
    let fall = (from - f64::from(surface[end])).max(0.0);
    let mut along_m = 0.0;
    let mut before = pit;
    way.path
        .iter()
        .map(|&cell| {
            along_m += surface.frame.distance(before, cell);
            before = cell;
            ((from - fall * along_m / way.length_m) as f32).min(surface[cell])
        })
        .collect()
}

fn path_to(surface: &Raster<f32>, from: &HashMap<Cell, Cell>, pit: Cell, end: &Label) -> CutPath {
    let mut path = vec![end.cell];
    let mut cell = end.cell;
    while cell != pit {
        cell = from[&cell];
        path.push(cell);
    }
    path.reverse();
    let levels = path.iter().map(|&cell| surface[cell]).collect();
    CutPath { path, levels, rise_sum_m: end.rise_sum_m, length_m: end.length_m, barrier_m: end.barrier_m }
}

/// A reached cell; the heap's greatest is the cheapest, then the shortest, then the one with the lower index.
#[derive(Clone, Copy, PartialEq)]
struct Label {
    rise_sum_m: f64,
    length_m: f64,
    barrier_m: f64,
    cell: Cell,
    before: Cell,
}

impl Eq for Label {}

impl Ord for Label {
    fn cmp(&self, other: &Self) -> Ordering {
        let by_rise = other.rise_sum_m.total_cmp(&self.rise_sum_m);
        let by_length = other.length_m.total_cmp(&self.length_m);
        by_rise.then(by_length).then(other.cell.cmp(&self.cell)).then(other.before.cmp(&self.before))
    }
}

impl PartialOrd for Label {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
