//! Cuts that let the same water through.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use fallwright_terrain::Cut;
use fallwright_units::Cell;

use crate::study::Study;
use crate::suspected_culvert::lowered;

/// Cuts this near a suspected culvert go through the same bank (our choice).
const SAME_BANK_M: f64 = 30.0;

/// Cuts that let the same water through: all from one depression, and some from others.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct SameBarrier {
    depression: Cell,
    /// Pits.
    others: BTreeSet<Cell>,
}

/// All cuts, found by depression and by place.
pub(super) struct Barriers<'a> {
    study: &'a Study,
    /// Pits of the cuts from each depression.
    by_depression: BTreeMap<Cell, BTreeSet<Cell>>,
    /// Lowered cells with the pit of their cut, by square of [`SAME_BANK_M`].
    lowered: HashMap<(i64, i64), Vec<(Cell, Cell)>>,
}

impl<'a> Barriers<'a> {
    /// *Complexity*: O(p log p) in the cells of all cuts.
    pub(super) fn find(study: &'a Study) -> Self {
        let mut found = Self { study, by_depression: BTreeMap::new(), lowered: HashMap::new() };
        for cut in &study.setting.conditioned.cuts {
            let pit = cut.way.path[0];
            found.by_depression.entry(cut.depression).or_default().insert(pit);
            for cell in lowered(&study.setting.ground, cut) {
                found.lowered.entry(found.square(cell)).or_default().push((cell, pit));
            }
        }
        found
    }

    /// A cut and those that would let the same water through: cuts from the same depression, and for a suspected culvert
    /// those through the same bank, whose lowered ground comes within [`SAME_BANK_M`].
    ///
    /// *Complexity*: O(l log l) in the lowered cells nearby.
    pub(super) fn same_as(&self, this: &Cut) -> SameBarrier {
        let mut others = BTreeSet::new();
        if self.study.suspected.of(this).is_some() {
            let own = &self.by_depression[&this.depression];
            let near = lowered(&self.study.setting.ground, this).flat_map(|cell| self.near(cell));
            others.extend(near.filter(|pit| !own.contains(pit)));
        }
        SameBarrier { depression: this.depression, others }
    }

    /// Where the cuts begin.
    pub(super) fn pits(&self, cuts: &SameBarrier) -> BTreeSet<Cell> {
        self.by_depression[&cuts.depression].union(&cuts.others).copied().collect()
    }

    fn near(&self, cell: Cell) -> impl Iterator<Item = Cell> {
        let frame = self.study.setting.frame();
        let (x, y) = self.square(cell);
        let squares = (-1..=1).flat_map(move |dx| (-1..=1).map(move |dy| (x + dx, y + dy)));
        let cells = squares.filter_map(|square| self.lowered.get(&square)).flatten();
        cells.filter(move |(other, _)| frame.distance(cell, *other) <= SAME_BANK_M).map(|&(_, pit)| pit)
    }

    fn square(&self, cell: Cell) -> (i64, i64) {
        let (x, y) = self.study.setting.frame().centre(cell);
        ((x / SAME_BANK_M).floor() as i64, (y / SAME_BANK_M).floor() as i64)
    }
}
