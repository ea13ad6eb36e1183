//! What a revision of a conditioned surface starts from: ground, cuts, sinks and channels, found by place.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::ops::RangeInclusive;

use fallwright_units::{Cell, Raster};

use crate::channel_course::ChannelCourses;
use crate::condition::Conditioned;
use crate::cut::Cut;

/// A conditioned surface with its ground, cuts, sinks and channels, for [`Self::without_cuts`] and [`Self::with_sink`].
#[derive(Debug)]
pub struct RevisionBase<'a> {
    /// Ground as surveyed, metres.
    pub(crate) ground: &'a Raster<f32>,
    pub(crate) conditioned: &'a Conditioned,
    pub(crate) sinks: BTreeSet<Cell>,
    /// Positions of cuts by their pit, and of all that run through a cell.
    by_pit: HashMap<Cell, usize>,
    through: HashMap<Cell, Vec<usize>>,
    /// Consecutive cells of channels with their place in the list of all, by the first cell.
    steps: Vec<(Cell, usize, Cell)>,
    pub(crate) courses: ChannelCourses,
}

impl<'a> RevisionBase<'a> {
    /// `channels` and `sinks` are those that the surface was conditioned with.
    ///
    /// *Complexity*: O(p log p) in the cells of all cuts and channels.
    pub fn new(ground: &'a Raster<f32>, conditioned: &'a Conditioned, channels: &[Vec<Cell>], sinks: &[Cell]) -> Self {
        let mut through: HashMap<Cell, Vec<usize>> = HashMap::new();
        for (position, cut) in conditioned.cuts.iter().enumerate() {
            for &cell in &cut.way.path {
                through.entry(cell).or_default().push(position);
            }
        }
        let cuts = conditioned.cuts.iter().enumerate();
        let by_pit = cuts.map(|(position, cut)| (cut.way.path[0], position)).collect();
        let pairs = channels.iter().flat_map(|channel| channel.windows(2));
        let mut steps: Vec<_> = pairs.enumerate().map(|(place, pair)| (pair[0], place, pair[1])).collect();
        steps.sort_unstable();
        let courses = ChannelCourses::new(&ground.frame, channels);
        Self { ground, conditioned, sinks: sinks.iter().copied().collect(), by_pit, through, steps, courses }
    }

    /// The cut that begins at a pit.
    pub fn cut_at(&self, pit: Cell) -> Option<&'a Cut> {
        self.by_pit.get(&pit).map(|&position| &self.conditioned.cuts[position])
    }

    /// Level of the cells that only the cuts at some pits lower so far.
    pub(crate) fn restored(&self, pits: &BTreeSet<Cell>) -> BTreeMap<Cell, f32> {
        let Conditioned { cuts, bed, enforced, .. } = self.conditioned;
        let before = |cell: Cell| bed.get(&cell).map_or(self.ground[cell], |bed| bed.min(self.ground[cell]));
        let by_others = |cell: Cell| {
            let others = self.through[&cell].iter().map(|&position| &cuts[position]);
            let others = others.filter(|cut| !pits.contains(&cut.way.path[0]));
            others.flat_map(move |cut| cut.way.path.iter().zip(&cut.bed)).filter(move |(on, _)| **on == cell)
        };
        let cells = pits.iter().filter_map(|&pit| self.cut_at(pit)).flat_map(|cut| &cut.way.path);
        let level = |&cell: &Cell| (cell, by_others(cell).fold(before(cell), |lowest, (_, &bed)| lowest.min(bed)));
        cells.map(level).filter(|&(cell, level)| level > enforced[cell]).collect()
    }

    /// Consecutive cells of channels of which the first lies in one of some runs of cells, in the order of the channels.
    pub(crate) fn steps_in(&self, runs: impl Iterator<Item = RangeInclusive<Cell>>) -> Vec<(Cell, Cell)> {
        let within = |run: RangeInclusive<Cell>| {
            let first = self.steps.partition_point(|(from, ..)| from < run.start());
            self.steps[first..].iter().take_while(move |(from, ..)| from <= run.end())
        };
        let mut found: Vec<_> = runs.flat_map(within).collect();
        found.sort_unstable_by_key(|(_, place, _)| *place);
        found.into_iter().map(|&(from, _, to)| (from, to)).collect()
    }
}
