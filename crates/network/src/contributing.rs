//! Contributing areas and transfers between parties.

use std::collections::{BTreeMap, HashMap};

use fallwright_terrain::label_upstream;
use fallwright_units::{Cell, Raster};

use crate::{Party, Setting};

/// Whose water reaches one party, in cells.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Contribution {
    pub own: u64,
    /// Cells whose path touches the party's land, its own included, each counted once.
    pub contributing: u64,
    /// Others' cells whose path touches the party's land; they sum to `contributing - own`.
    pub receives_from: BTreeMap<Party, u64>,
}

/// The contributing area of every party by the union rule, and what each gives to each.
///
/// The flow is contracted to its exits, the cells where a path leaves a party's land. Numbered in depth-first order from
/// downstream, the exits upstream of one exit are a run of numbers; an exit counts for its party only when no other exit
/// of that party holds it in its run, so no cell is counted twice. The counts by party are merged downstream, smaller
/// table into larger.
///
/// *Complexity*: O(n) for n cells to find the exits, then O(B log B) for B exits, plus the size of the answer.
pub fn contributing(setting: &Setting) -> BTreeMap<Party, Contribution> {
    let exits = Exits::find(setting);
    let mut all: BTreeMap<Party, Contribution> = BTreeMap::new();
    for (party, &cells) in exits.party.iter().zip(&exits.cells) {
        all.entry(*party).or_default().own += cells;
    }
    let outermost = exits.outermost();
    let mut arriving: Vec<HashMap<Party, u64>> = vec![HashMap::new(); exits.party.len()];
    for exit in exits.upstream_first() {
        let mut here = std::mem::take(&mut arriving[exit]);
        *here.entry(exits.party[exit]).or_default() += exits.cells[exit];
        if outermost[exit] {
            let contribution = all.entry(exits.party[exit]).or_default();
            for (&party, &cells) in &here {
                contribution.contributing += cells;
                if party != exits.party[exit] {
                    *contribution.receives_from.entry(party).or_default() += cells;
                }
            }
        }
        if let Some(next) = exits.next[exit] {
            merge(&mut arriving[next], here);
        }
    }
    all
}

fn merge(into: &mut HashMap<Party, u64>, mut from: HashMap<Party, u64>) {
    if from.len() > into.len() {
        std::mem::swap(into, &mut from);
    }
    for (party, cells) in from {
        *into.entry(party).or_default() += cells;
    }
}

/// The cells where a path leaves a party's land or ends, as a forest that points downstream.
struct Exits {
    party: Vec<Party>,
    /// Cells of the exit's party whose path leaves here.
    cells: Vec<u64>,
    /// All cells that drain through the exit.
    area: Vec<u64>,
    next: Vec<Option<usize>>,
}

impl Exits {
    fn find(setting: &Setting) -> Self {
        let flow = setting.flow();
        let mut labels = Raster::filled(setting.frame(), 0_u32);
        let mut at = Vec::new();
        for cell in setting.parties.cells().filter(|&cell| leaves_party(setting, cell)) {
            at.push(cell);
            labels[cell] = at.len() as u32;
        }
        let first_exit = label_upstream(flow, labels);
        let mut cells = vec![0; at.len()];
        for &label in first_exit.values.iter().filter(|&&label| label != 0) {
            cells[label as usize - 1] += 1;
        }
        let next = |&cell: &Cell| flow.receiver(cell).map(|next| first_exit[next] as usize - 1);
        Self {
            party: at.iter().map(|&cell| setting.parties.of(cell)).collect(),
            area: at.iter().map(|&cell| setting.area(cell)).collect(),
            next: at.iter().map(next).collect(),
            cells,
        }
    }

    /// More cells drain through an exit than through any exit upstream of it, so their number gives the order.
    fn upstream_first(&self) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.area.len()).collect();
        order.sort_unstable_by_key(|&exit| self.area[exit]);
        order
    }

    /// Whether no other exit of the same party lies downstream.
    fn outermost(&self) -> Vec<bool> {
        let runs = self.depth_first_runs();
        let mut by_party: Vec<usize> = (0..runs.len()).collect();
        by_party.sort_unstable_by_key(|&exit| (self.party[exit], runs[exit].start));
        let mut outermost = vec![false; runs.len()];
        for exits in by_party.chunk_by(|&a, &b| self.party[a] == self.party[b]) {
            let mut covered_to = 0;
            for &exit in exits {
                if runs[exit].start >= covered_to {
                    outermost[exit] = true;
                    covered_to = runs[exit].end;
                }
            }
        }
        outermost
    }

    /// For each exit the run of depth-first numbers of itself (first) and everything upstream of it.
    fn depth_first_runs(&self) -> Vec<std::ops::Range<usize>> {
        let order = self.upstream_first();
        let mut size = vec![1; order.len()];
        for &exit in &order {
            if let Some(next) = self.next[exit] {
                size[next] += size[exit];
            }
        }
        let mut runs = vec![0..0; order.len()];
        let mut free = vec![0; order.len()];
        let mut free_root = 0;
        for &exit in order.iter().rev() {
            let place = self.next[exit].map_or(&mut free_root, |next| &mut free[next]);
            let start = *place;
            *place += size[exit];
            runs[exit] = start..start + size[exit];
            free[exit] = start + 1;
        }
        runs
    }
}

fn leaves_party(setting: &Setting, cell: Cell) -> bool {
    let flow = setting.flow();
    let differs = |next: Cell| setting.parties.of(next) != setting.parties.of(cell);
    flow.has_data(cell) && flow.receiver(cell).is_none_or(differs)
}
