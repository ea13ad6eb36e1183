//! For every cell the lands that its water crosses, in order.

use std::collections::BTreeMap;

use fallwright_units::{Cell, Raster};

use crate::place::{carried_on_by, inside};
use crate::{Destination, Party, Setting};

/// What water does next.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Onward {
    /// It crosses a lot line onto this land, and goes on as the list's entry at `then` says.
    Crosses { land: Party, then: usize },
    /// It meets its first lawful outlet, or ends.
    Meets(Destination),
}

/// The lands crossed from every cell on. Cells that cross the same lands share their entries.
#[derive(Clone, Debug, PartialEq)]
pub struct LandsCrossed {
    pub list: Vec<Onward>,
    /// Position in the list and 1; 0 where there is no data.
    of: Raster<u32>,
}

impl LandsCrossed {
    /// Position in the list of what the water of a cell does; `None` where there is no data.
    pub fn of(&self, cell: Cell) -> Option<usize> {
        (self.of[cell] as usize).checked_sub(1)
    }
}

/// Lists for every cell the lands that its water crosses before it meets a lawful outlet or ends: those that [`crate::trace`]
/// lists for that cell.
///
/// *Complexity*: O(n log k) for n cells and k entries: each cell is walked over once.
pub fn lands_crossed(setting: &Setting) -> LandsCrossed {
    let mut entries = Entries { list: Vec::new(), position: BTreeMap::new() };
    let mut of = Raster::filled(setting.frame(), 0_u32);
    let mut walked = Vec::new();
    for start in setting.parties.cells().filter(|&cell| setting.flow().has_data(cell)) {
        let mut cell = start;
        while of[cell] == 0 {
            walked.push(cell);
            if destination(setting, cell).is_some() {
                break;
            }
            let Some(next) = setting.flow().receiver(cell) else { break };
            cell = next;
        }
        for cell in walked.drain(..).rev() {
            of[cell] = entries.at(setting, &of, cell) as u32 + 1;
        }
    }
    LandsCrossed { list: entries.list, of }
}

/// Where a path stops in this cell; `None` where it goes on.
fn destination(setting: &Setting, cell: Cell) -> Option<Destination> {
    let outlet = setting.lawful_at(cell).map(Destination::Outlet);
    outlet.or_else(|| setting.ends().get(&cell).copied().map(Destination::End))
}

struct Entries {
    list: Vec<Onward>,
    position: BTreeMap<Onward, usize>,
}

impl Entries {
    fn add(&mut self, onward: Onward) -> usize {
        *self.position.entry(onward).or_insert_with(|| {
            self.list.push(onward);
            self.list.len() - 1
        })
    }

    /// The entry of a cell whose receiver has one. The land in which a path meets its outlet is not crossed.
    fn at(&mut self, setting: &Setting, of: &Raster<u32>, cell: Cell) -> usize {
        let party = |cell: Cell| setting.parties.of(cell);
        let mut lands = vec![party(cell)];
        let over = carried_on_by(setting, cell).map_or_else(Vec::new, |structure| inside(setting, structure));
        lands.extend(over.iter().map(|place| party(place.cell)));
        let mut then = if let Some(destination) = destination(setting, cell) {
            lands.truncate(lands.len().saturating_sub(1));
            self.add(Onward::Meets(destination))
        } else {
            let next = setting.flow().receiver(cell).expect("a path without receiver has an end");
            if setting.lawful_at(next).is_none() || carried_on_by(setting, next).is_some() {
                lands.push(party(next));
            }
            of[next] as usize - 1
        };
        for pair in lands.windows(2).rev().filter(|pair| pair[0] != pair[1]) {
            then = self.add(Onward::Crosses { land: pair[1], then });
        }
        then
    }
}
