//! The search for one pit's cut: pond and path in turns.

use std::sync::{Mutex, PoisonError};

use fallwright_units::{Cell, Frame, TileSource};

use super::path_search::PathSearch;
use super::pond::{Pond, State};
use super::search::{Reach, Search};
use super::squares::Squares;
use crate::cut::{Cut, CutLimits, CutPath};
use crate::link::Links;

/// A search that reaches into more squares gives up; see [`crate::tiled::Cutting`].
const MOST_SQUARES: usize = 1024;
/// So does one with more cells to look at next.
const MOST_OPEN: usize = 1 << 18;

/// Searches in one surface by several threads.
pub(crate) struct Seekers<'a, S> {
    surface: &'a S,
    links: &'a Links,
    limits: CutLimits,
    idle: Mutex<Vec<Seeker<'a, S>>>,
    large: Mutex<()>,
}

impl<'a, S: TileSource<f32>> Seekers<'a, S> {
    pub(crate) fn new(surface: &'a S, links: &'a Links, limits: CutLimits) -> Self {
        Self { surface, links, limits, idle: Mutex::default(), large: Mutex::default() }
    }

    /// The cuts of some pits, in their order.
    pub(crate) fn cuts(&self, pits: impl Iterator<Item = Cell>) -> Result<Vec<Cut>, S::Error> {
        let taken = self.idle.lock().unwrap_or_else(PoisonError::into_inner).pop();
        let mut seeker = taken.unwrap_or_else(|| Seeker::new(self.surface));
        let cuts = pits.filter_map(|pit| seeker.cut(self, pit).transpose()).collect();
        self.idle.lock().unwrap_or_else(PoisonError::into_inner).push(seeker);
        cuts
    }
}

/// The buffers of one thread's searches.
struct Seeker<'a, S> {
    squares: Squares<'a, S>,
    pond: Pond,
    paths: PathSearch,
}

impl<'a, S: TileSource<f32>> Seeker<'a, S> {
    fn new(surface: &'a S) -> Self {
        Self { squares: Squares::new(surface), pond: Pond::default(), paths: PathSearch::default() }
    }

    fn cut(&mut self, all: &Seekers<'a, S>, pit: Cell) -> Result<Option<Cut>, S::Error> {
        let reach = Reach { most_squares: MOST_SQUARES, large: &all.large };
        let mut search = Search::begin(&mut self.squares, all.links, pit, reach)?;
        let cut = seek(&mut search, &mut self.pond, &mut self.paths, all.limits)?;
        let alone = search.end();
        if alone.is_some() {
            *self = Self::new(all.surface);
        }
        Ok(cut)
    }
}

/// Pond and path in turns, each as far as the other needs: the path while it rises by no more than the pond is known to hold,
/// the pond until it holds as much as the path rises.
fn seek<S: TileSource<f32>>(
    search: &mut Search<S>,
    pond: &mut Pond,
    paths: &mut PathSearch,
    limits: CutLimits,
) -> Result<Option<Cut>, S::Error> {
    pond.start(search)?;
    paths.start(search.pit);
    let found = loop {
        let Some(rise_sum_m) = paths.least_rise_sum_m() else { return Ok(None) };
        // Grading lowers each cell at least to the pit, so a path that rises by more than the fill cannot become a cut.
        pond.rise(search, rise_sum_m)?;
        if rise_sum_m > pond.fill_m() || pond.state == State::Closed || paths.open() > MOST_OPEN || !search.may_go_on()
        {
            return Ok(None);
        }
        if let Some(way) = paths.advance(search, limits.deepest_m, pond.most_m())? {
            break way;
        }
    };
    let cut = graded(search.squares.frame(), found);
    if cut.way.barrier_m > limits.longest_m || cut.depth_m > limits.deepest_m {
        return Ok(None);
    }
    pond.rise(search, cut.lowering_m)?;
    Ok((pond.state != State::Closed && cut.lowering_m <= pond.fill_m()).then_some(cut))
}

/// An even grade from the pit to the end of the path, or level where the end is no lower; the ground where that is lower.
fn graded(frame: &Frame, way: CutPath) -> Cut {
    let from_m = f64::from(way.levels[0]);
    let fall_m = (from_m - f64::from(way.levels[way.levels.len() - 1])).max(0.0);
    let mut along_m = 0.0;
    let mut before = way.path[0];
    let mut grade = |(&cell, &level): (&Cell, &f32)| {
        along_m += frame.distance(before, cell);
        before = cell;
        ((from_m - fall_m * along_m / way.length_m) as f32).min(level)
    };
    let bed: Vec<f32> = way.path.iter().zip(&way.levels).map(&mut grade).collect();
    let lowered = || way.levels.iter().zip(&bed).map(|(&level, &bed)| f64::from(level) - f64::from(bed));
    let (depth_m, lowering_m) = (lowered().fold(0.0, f64::max), lowered().sum());
    Cut { bed, depth_m, lowering_m, depression: way.path[0], way }
}
