//! The paths of many shares: what runs together is followed and kept once.

use fallwright_units::{Cell, Frame, ParcelIx, ShareIx};
use typed_index_collections::{TiSlice, TiVec};

use crate::joined::known_ahead;
use crate::place::{PathPlace, carried_on_by, inside, next_on_path, place_at};
use crate::steps::Steps;
use crate::{Carrier, Crossing, End, Feature, Party, Setting, Trace};

/// The paths from some cells, by parcel and share. Lot lines crossed and what carries the water are kept once for all
/// paths that run through them, and so is what they add up to from there on.
#[derive(Clone, Debug)]
pub struct Courses {
    ways: TiVec<ParcelIx, TiVec<ShareIx, Downstream>>,
    ahead: Shared,
}

/// What several paths share.
#[derive(Clone, Debug, Default)]
pub(crate) struct Shared {
    entries: Vec<Entry>,
    /// Mapped features that carry water, each with the position of the next one on the way.
    carriers: Vec<(Feature, Option<u32>)>,
}

/// Where paths enter somebody's land.
#[derive(Clone, Debug)]
struct Entry {
    land: Party,
    place: (f64, f64),
    ground_m: f32,
    to_end: Steps,
    metres_on_land: f64,
    fall_m: f64,
    carrier: Carrier,
    next: Option<u32>,
}

/// What lies ahead of a cell down to the first lawful outlet, or to where the water ends.
#[derive(Clone, Debug)]
struct Downstream {
    from: Cell,
    to_end: Steps,
    /// Position of the first lot line crossed.
    entry: Option<u32>,
    carrier: Option<u32>,
    outlet: Option<Feature>,
    end: Option<End>,
    last: PathPlace,
    before_outlet: Cell,
    deepest_fill_m: f64,
    deepest_fill_at: Cell,
    is_marked: bool,
}

/// The same, and the land that the way is on where it begins, whose first place may lie further up.
#[derive(Clone, Debug)]
pub(crate) struct Ahead {
    way: Downstream,
    first: PathPlace,
    /// `None` in the outlet, which counts only as the end.
    land: Option<Passage>,
}

/// The lower part of a way over somebody's land.
#[derive(Clone, Debug)]
struct Passage {
    party: Party,
    /// From where the way leaves it.
    to_end: Steps,
    level_m: f64,
    /// What carries the water on it and how far, that which comes first at the front.
    carried: Vec<(Carrier, Steps)>,
}

impl Courses {
    /// `starts` are the cells where the shares of each parcel leave; `is_marked` selects the cells that
    /// [`Self::passes_marked`] asks about.
    ///
    /// *Complexity*: O(cells on the paths, each once).
    pub fn find(
        setting: &Setting,
        starts: &TiSlice<ParcelIx, TiVec<ShareIx, Cell>>,
        is_marked: impl Fn(Cell) -> bool,
    ) -> Self {
        let mut ahead = Shared::default();
        let all: Vec<Cell> = starts.iter().flatten().copied().collect();
        let next = |cell| next_on_path(setting, cell);
        let found = known_ahead(setting.frame().len(), &all, next, |cell, beyond| {
            ahead.reach(setting, &is_marked, cell, beyond.map(|(_, beyond)| beyond))
        });
        let mut ways = found.into_iter().map(|found| found.way);
        Self { ways: starts.iter().map(|own| ways.by_ref().take(own.len()).collect()).collect(), ahead }
    }

    /// The reported route of a share.
    ///
    /// *Complexity*: O(lot lines that it crosses).
    pub fn trace(&self, setting: &Setting, parcel: ParcelIx, share: ShareIx) -> Trace {
        self.ahead.trace(setting, &self.ways[parcel][share])
    }

    /// Where all paths cross lot lines, each place once.
    pub fn places(&self) -> Vec<(f64, f64)> {
        self.ahead.entries.iter().map(|entry| entry.place).collect()
    }

    /// Positions among [`Self::places`] of the lot lines that a share's path crosses, in order.
    pub fn places_crossed(&self, parcel: ParcelIx, share: ShareIx) -> impl Iterator<Item = usize> {
        let next = |&position: &u32| self.ahead.entries[position as usize].next;
        std::iter::successors(self.ways[parcel][share].entry, next).map(|position| position as usize)
    }

    /// The cell of the last place on a share's path before the outlet, or where it ends.
    pub fn before_outlet(&self, parcel: ParcelIx, share: ShareIx) -> Cell {
        self.ways[parcel][share].before_outlet
    }

    /// Where a share's path lies deepest below the filled surface; `None` where it crosses no filled ground.
    pub fn deepest_fill_at(&self, parcel: ParcelIx, share: ShareIx) -> Option<Cell> {
        let way = &self.ways[parcel][share];
        (way.deepest_fill_m > 0.0).then_some(way.deepest_fill_at)
    }

    /// Whether a share's path passes a marked cell.
    pub fn passes_marked(&self, parcel: ParcelIx, share: ShareIx) -> bool {
        self.ways[parcel][share].is_marked
    }
}

impl Shared {
    /// What lies ahead of a cell, from what lies ahead of the next one.
    pub(crate) fn reach(
        &mut self,
        setting: &Setting,
        is_marked: &impl Fn(Cell) -> bool,
        cell: Cell,
        beyond: Option<Ahead>,
    ) -> Ahead {
        let place = place_at(setting, cell);
        let mut over = carried_on_by(setting, cell).map_or_else(Vec::new, |structure| inside(setting, structure));
        let mut beyond = if let Some(beyond) = beyond {
            beyond
        } else {
            let outlet = setting.lawful_at(cell);
            let Some(last) = over.pop() else { return self.end(setting, is_marked, place, outlet) };
            self.end(setting, is_marked, last, outlet)
        };
        for inside in over.into_iter().rev() {
            beyond = self.before(setting, is_marked, inside, beyond);
        }
        beyond = self.before(setting, is_marked, place, beyond);
        let filled_m = setting.filled_m(cell);
        if filled_m > beyond.way.deepest_fill_m {
            (beyond.way.deepest_fill_m, beyond.way.deepest_fill_at) = (filled_m, cell);
        }
        beyond
    }

    /// What lies ahead of the last place of a path, in its lawful outlet or where the water ends.
    pub(crate) fn end(
        &mut self,
        setting: &Setting,
        is_marked: &impl Fn(Cell) -> bool,
        place: PathPlace,
        outlet: Option<Feature>,
    ) -> Ahead {
        let cell = place.cell;
        let is_end = outlet.is_none();
        let way = Downstream {
            from: cell,
            to_end: Steps::default(),
            entry: None,
            carrier: self.carried_on(place.carrier, outlet, None),
            outlet,
            end: setting.ends().get(&cell).copied().filter(|_| is_end),
            last: place,
            before_outlet: cell,
            deepest_fill_m: if is_end { setting.filled_m(cell).max(0.0) } else { 0.0 },
            deepest_fill_at: cell,
            is_marked: is_marked(cell),
        };
        let party = setting.parties.of(cell);
        let land = is_end.then(|| Passage { party, to_end: way.to_end, level_m: place.level_m, carried: Vec::new() });
        Ahead { way, first: place, land }
    }

    /// What lies ahead of a place, from what lies ahead of the next one.
    pub(crate) fn before(
        &mut self,
        setting: &Setting,
        is_marked: &impl Fn(Cell) -> bool,
        place: PathPlace,
        beyond: Ahead,
    ) -> Ahead {
        let step = place.step_to(setting, &beyond.first);
        let Ahead { mut way, first, land } = beyond;
        let party = setting.parties.of(place.cell);
        let mut land = match land {
            Some(land) if land.party == party => land,
            left => {
                match left {
                    Some(land) => way.entry = Some(self.enter(setting, &land, &first, &way)),
                    None if way.outlet.is_some() => way.before_outlet = place.cell,
                    None => {}
                }
                Passage { party, to_end: way.to_end, level_m: first.level_m, carried: Vec::new() }
            }
        };
        land.carry(place.carrier, step);
        way.from = place.cell;
        way.to_end = way.to_end + step;
        way.carrier = self.carried_on(place.carrier, way.outlet, way.carrier);
        way.is_marked |= is_marked(place.cell);
        Ahead { way, first: place, land: Some(land) }
    }

    /// The position of a lot line, given the land beyond it, the first place there and what lies ahead of that.
    fn enter(&mut self, setting: &Setting, land: &Passage, first: &PathPlace, way: &Downstream) -> u32 {
        let frame = setting.frame();
        self.entries.push(Entry {
            land: land.party,
            place: (first.x, first.y),
            ground_m: setting.ground[first.cell],
            to_end: way.to_end,
            metres_on_land: (way.to_end - land.to_end).metres(&frame),
            fall_m: first.level_m - land.level_m,
            carrier: land.main_carrier(&frame, first.carrier),
            next: way.entry,
        });
        position(self.entries.len())
    }

    /// The list of what carries the water with one more before it, unless that is the outlet or comes first already.
    fn carried_on(&mut self, carrier: Carrier, outlet: Option<Feature>, next: Option<u32>) -> Option<u32> {
        let Carrier::Mapped(feature) = carrier else { return next };
        let comes_first = next.is_some_and(|next| self.carriers[next as usize].0 == feature);
        if comes_first || Some(feature) == outlet {
            return next;
        }
        self.carriers.push((feature, next));
        Some(position(self.carriers.len()))
    }

    fn trace(&self, setting: &Setting, way: &Downstream) -> Trace {
        let frame = setting.frame();
        let mut carriers = Vec::new();
        for feature in self.carriers(way) {
            if !carriers.contains(&feature) {
                carriers.push(feature);
            }
        }
        Trace {
            crossings: self.crossings(&frame, setting.parties.of(way.from), way),
            outlet: way.outlet,
            end: way.end,
            carriers,
            deepest_fill_m: way.deepest_fill_m,
            deepest_fill_at: way.deepest_fill_at,
            first: place_at(setting, way.from).station(0.0),
            last: way.last.station(way.to_end.metres(&frame)),
            before_outlet: way.before_outlet,
        }
    }

    fn carriers(&self, way: &Downstream) -> impl Iterator<Item = Feature> {
        let at = |position: u32| self.carriers[position as usize];
        std::iter::successors(way.carrier.map(at), move |(_, next)| next.map(at)).map(|(feature, _)| feature)
    }

    fn crossings(&self, frame: &Frame, mut from: Party, way: &Downstream) -> Vec<Crossing> {
        let at = |position: u32| &self.entries[position as usize];
        let entries = std::iter::successors(way.entry.map(at), |entry| entry.next.map(at));
        let crossing = |entry: &Entry| Crossing {
            from: std::mem::replace(&mut from, entry.land),
            to: entry.land,
            x: entry.place.0,
            y: entry.place.1,
            distance_m: (way.to_end - entry.to_end).metres(frame),
            metres_on_land: entry.metres_on_land,
            carrier: entry.carrier,
            ground_m: entry.ground_m,
            fall_m: entry.fall_m,
        };
        entries.map(crossing).collect()
    }
}

impl Ahead {
    /// The reported route.
    pub(crate) fn trace(&self, setting: &Setting, shared: &Shared) -> Trace {
        shared.trace(setting, &self.way)
    }

    /// The same for water of `giver` that a structure takes in at the first place, which need not be a cell's centre. Where
    /// that is another's land, the lot line to it is the first crossing.
    pub(crate) fn trace_from(mut self, setting: &Setting, shared: &mut Shared, giver: Party) -> Trace {
        if let Some(land) = self.land.take_if(|land| land.party != giver) {
            self.way.entry = Some(shared.enter(setting, &land, &self.first, &self.way));
        }
        let trace = shared.trace(setting, &self.way);
        let crossings = shared.crossings(&setting.frame(), giver, &self.way);
        Trace { crossings, first: self.first.station(0.0), ..trace }
    }
}

impl Passage {
    /// Adds a step at the front.
    fn carry(&mut self, carrier: Carrier, step: Steps) {
        let known = self.carried.iter().position(|(known, _)| *known == carrier);
        let before = known.map_or(Steps::default(), |known| self.carried.remove(known).1);
        self.carried.insert(0, (carrier, before + step));
    }

    /// What carries the water for most of the way; on a tie what carries it first.
    fn main_carrier(&self, frame: &Frame, first: Carrier) -> Carrier {
        let metres = self.carried.iter().map(|(carrier, steps)| (*carrier, steps.metres(frame)));
        metres.fold((first, 0.0), |a, b| if b.1 > a.1 + TIE_M { b } else { a }).0
    }
}

/// Lengths that differ by less are the same: those along structures are sums of rounded pieces.
const TIE_M: f64 = 1e-6;

/// The position of the last of so many.
fn position(count: usize) -> u32 {
    u32::try_from(count - 1).expect("there are fewer than cells, which 32 bits count")
}
