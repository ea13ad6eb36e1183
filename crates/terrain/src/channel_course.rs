//! Water in a mapped channel follows its line, whatever lower ground lies beside it.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_units::{Cell, Frame};

use crate::direction;
use crate::link::Links;

/// For each cell of mapped channels the cells that follow it on their lines, and those that it follows.
#[derive(Clone, Debug)]
pub(crate) struct ChannelCourses {
    next: BTreeMap<Cell, Vec<Next>>,
    before: BTreeMap<Cell, Vec<Cell>>,
}

/// A cell that follows another one on a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Next {
    /// Cells of the line that come after it.
    remaining: usize,
    cell: Cell,
}

/// What a direction can be taken from: a level in metres and a code for each cell.
pub(crate) struct Directed<'a, L, C> {
    pub(crate) frame: &'a Frame,
    pub(crate) level: L,
    pub(crate) code: C,
    pub(crate) links: &'a Links,
    /// Whether water ends in a cell whatever lies around it.
    pub(crate) is_sink: &'a dyn Fn(Cell) -> bool,
}

impl ChannelCourses {
    /// Channels are given as consecutive cells, drawn downstream. Cells that do not touch do not follow each other.
    pub(crate) fn new(frame: &Frame, channels: &[Vec<Cell>]) -> Self {
        let mut next: BTreeMap<Cell, Vec<Next>> = BTreeMap::new();
        let mut before: BTreeMap<Cell, Vec<Cell>> = BTreeMap::new();
        for channel in channels {
            for (along, pair) in channel.windows(2).enumerate() {
                if code_to(frame, pair[0], pair[1]).is_some() {
                    let following = Next { remaining: channel.len() - along - 2, cell: pair[1] };
                    next.entry(pair[0]).or_default().push(following);
                    before.entry(pair[1]).or_default().push(pair[0]);
                }
            }
        }
        for following in next.values_mut() {
            following.sort_unstable_by(|a, b| b.remaining.cmp(&a.remaining).then(a.cell.cmp(&b.cell)));
        }
        Self { next, before }
    }

    /// The cells that a cell follows on lines.
    pub(crate) fn before(&self, cell: Cell) -> &[Cell] {
        self.before.get(&cell).map_or(&[], Vec::as_slice)
    }

    /// The cells of channels that another one follows.
    pub(crate) fn cells(&self) -> impl Iterator<Item = Cell> + '_ {
        self.next.keys().copied()
    }

    /// The directions by which the water of some cells stays in its channel, where they differ from those given.
    ///
    /// A channel's cell drains to the one that follows it on its line. Where lines part or share cells, that is the one to which
    /// the surface falls most steeply if a line runs on from there for more than a few cells or as far as any, else the one from
    /// which a line runs on farthest, then the one of the lower index. Filled levels never rise along a channel, since its bed does not;
    /// where they are equal the line is followed if it comes to lower ground, to where water ends or to a cell that drains
    /// to lower ground. Elsewhere the given directions stay: a line that ends on a flat need not know the way out of it.
    ///
    /// No path comes to run in a circle: a step down never does, and level steps lead to one.
    ///
    /// *Units*: levels in metres, filled with the same links and sinks. *Complexity*: O(c log c) for c cells of channels.
    ///
    /// # Errors
    /// Failures of reading.
    pub(crate) fn directions<E>(
        &self,
        cells: impl Iterator<Item = Cell>,
        given: &Directed<impl Fn(Cell) -> Result<f32, E>, impl Fn(Cell) -> Result<u8, E>>,
    ) -> Result<BTreeMap<Cell, u8>, E> {
        let mut leads_out: BTreeMap<Cell, bool> = BTreeMap::new();
        let mut changed = BTreeMap::new();
        for cell in cells {
            if let Some(next) = self.followed(cell, given)?
                && self.leads_out(cell, given, &mut leads_out)?
            {
                let code = code_to(given.frame, cell, next).expect("a cell that follows touches");
                if code != (given.code)(cell)? {
                    changed.insert(cell, code);
                }
            }
        }
        Ok(changed)
    }

    /// Whether the line from a cell comes to where water is known to leave its level.
    fn leads_out<E>(
        &self,
        from: Cell,
        given: &Directed<impl Fn(Cell) -> Result<f32, E>, impl Fn(Cell) -> Result<u8, E>>,
        known: &mut BTreeMap<Cell, bool>,
    ) -> Result<bool, E> {
        let level = (given.level)(from)?;
        let mut walked = BTreeSet::new();
        let mut cell = from;
        let found = loop {
            if let Some(&known) = known.get(&cell) {
                break known;
            }
            if !walked.insert(cell) {
                // A loop of the map.
                break false;
            }
            match self.followed(cell, given)? {
                Some(next) if (given.level)(next)? < level => break true,
                Some(next) => cell = next,
                None => break given.leaves_level(cell, level)?,
            }
        };
        known.extend(walked.into_iter().map(|cell| (cell, found)));
        Ok(found)
    }

    /// The cell that follows one whose water is not bound elsewhere.
    fn followed<E>(
        &self,
        cell: Cell,
        given: &Directed<impl Fn(Cell) -> Result<f32, E>, impl Fn(Cell) -> Result<u8, E>>,
    ) -> Result<Option<Cell>, E> {
        /// A line that goes on for no more cells than this is about to join another one (our choice).
        const ABOUT_TO_JOIN: usize = 3;
        let Some(following) = self.next.get(&cell) else { return Ok(None) };
        let code = (given.code)(cell)?;
        if code == direction::CARRIED || code == direction::NODATA || (given.is_sink)(cell) {
            return Ok(None);
        }
        let level = (given.level)(cell)?;
        let mut open = Vec::new();
        for next in following {
            // A comparison with missing data (NaN) is false.
            if (given.level)(next.cell)? <= level {
                open.push(*next);
            }
        }
        let falls_to = direction::step(code).and_then(|step| given.frame.step(cell, step));
        let enough = open.first().map_or(0, |first| first.remaining.min(ABOUT_TO_JOIN));
        let steepest = open.iter().find(|next| next.remaining >= enough && Some(next.cell) == falls_to);
        Ok(steepest.or(open.first()).map(|next| next.cell))
    }
}

impl<E, L: Fn(Cell) -> Result<f32, E>, C: Fn(Cell) -> Result<u8, E>> Directed<'_, L, C> {
    /// Whether the water of a cell ends there or drains to lower ground.
    fn leaves_level(&self, cell: Cell, level: f32) -> Result<bool, E> {
        let code = (self.code)(cell)?;
        let next = match code {
            direction::CARRIED => self.links.outlet_of(cell),
            code => direction::step(code).and_then(|step| self.frame.step(cell, step)),
        };
        next.map_or(Ok(code == direction::ENDS), |next| Ok((self.level)(next)? < level))
    }
}

fn code_to(frame: &Frame, from: Cell, to: Cell) -> Option<u8> {
    frame.neighbours(from).find(|&(_, next)| next == to).map(|(position, _)| direction::of_neighbour(position))
}

#[cfg(test)]
mod tests {
    use fallwright_units::Raster;

    use super::*;
    use crate::tests::grid;
    use crate::textbook::flow_along_channels;

    /// Where the water of each cell goes on filled ground with channels, each as columns and rows; by the number of the cell.
    fn check(surface: &Raster<f32>, channels: &[&[(usize, usize)]], expected: &[(usize, Option<usize>)]) {
        let cells =
            |channel: &&[(usize, usize)]| channel.iter().map(|&(col, row)| surface.frame.cell(col, row)).collect();
        let channels: Vec<Vec<Cell>> = channels.iter().map(cells).collect();
        let mut flow = flow_along_channels(surface, Links::default(), &[], &channels);
        let courses = ChannelCourses::new(&surface.frame, &channels);
        let given = Directed {
            frame: &surface.frame,
            level: |cell: Cell| Ok::<f32, ()>(surface[cell]),
            code: |cell: Cell| Ok(flow.direction[cell]),
            links: &flow.links,
            is_sink: &|_| false,
        };
        let changed = courses.directions(courses.cells(), &given).unwrap();
        for (cell, code) in changed {
            flow.direction[cell] = code;
        }
        for &(cell, next) in expected {
            assert_eq!(flow.receiver(Cell(cell)), next.map(Cell), "{cell} in {channels:?}");
        }
        for cell in 0..surface.frame.len() {
            assert!(flow.path(Cell(cell)).take(surface.frame.len() + 1).count() <= surface.frame.len(), "a circle");
        }
    }

    /// Two channels run east side by side; the lower row lies lower.
    #[test]
    fn water_stays_in_its_channel_beside_a_lower_one() {
        let ground = grid(
            "9 9 9 9 9
             5 5 4 4 2
             3 3 2 2 1",
        );
        let upper: &[(usize, usize)] = &[(0, 1), (1, 1), (2, 1), (3, 1), (4, 2)];
        let lower: &[(usize, usize)] = &[(0, 2), (1, 2), (2, 2), (3, 2), (4, 2)];
        check(&ground, &[upper, lower], &[(5, Some(6)), (6, Some(7)), (7, Some(8)), (8, Some(14)), (13, Some(14))]);
        check(&ground, &[lower], &[(5, Some(10)), (10, Some(11)), (11, Some(12))]);
    }

    /// Both share a cell for the last steps of the upper one.
    #[test]
    fn a_shared_cell_drains_along_the_line_that_runs_on() {
        let ground = grid(
            "9 9 9 9 9 9
             5 5 5 5 5 5
             3 3 3 2 2 1",
        );
        let upper: &[(usize, usize)] = &[(0, 1), (1, 1), (2, 2), (3, 1), (4, 2)];
        let lower: &[(usize, usize)] = &[(1, 2), (2, 2), (3, 2), (4, 2), (5, 2)];
        check(&ground, &[upper, lower], &[(7, Some(14)), (14, Some(15))]);
        check(&ground, &[lower, upper], &[(7, Some(14)), (14, Some(15))]);
    }

    #[test]
    fn a_level_line_is_followed_where_it_leads_out() {
        let ground = grid(
            "9 9 9 9 9
             9 4 4 4 2
             9 4 4 4 9
             9 9 9 9 9",
        );
        // Round the flat and out by its low edge.
        check(
            &ground,
            &[&[(1, 1), (1, 2), (2, 2), (3, 2), (3, 1), (4, 1)]],
            &[(6, Some(11)), (13, Some(8)), (8, Some(9))],
        );
        // Ends on the flat: the directions given stay.
        check(&ground, &[&[(3, 1), (2, 1), (1, 2)]], &[(8, Some(9))]);
        // A loop of the map.
        check(&ground, &[&[(1, 1), (2, 1), (2, 2), (1, 2), (1, 1)]], &[(7, Some(8))]);
    }
}
