//! An area that a petition could name: the land that needs drainage on the parcels asked about and on those that its path crosses, with
//! the roads beside it.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use fallwright_geodata::outlines;
use fallwright_land::{cells_inside, mean_width};
use fallwright_law::Finding;
use fallwright_law::petition::PetitionLaw;
use fallwright_network::Party;
use fallwright_terrain::label_upstream;
use fallwright_units::{Cell, CellSet, Frame, ParcelIx, Raster, RoadIx, SQUARE_METRES_PER_HECTARE, ShareIx};
use geo::orient::Direction;
use geo::{
    Area, BooleanOps, BoundingRect, Intersects, MakeValid, MapCoords, MultiPolygon, Orient, Polygon, Rect, unary_union,
};
use rayon::prelude::*;
use typed_index_collections::TiSlice;

use super::lands::NOISE_M;
use super::needs::NeedsDrainage;
use crate::error::StudyError;
use crate::study::{SMALL_SHARE_HA, Study};

/// A parcel of which so much needs drainage lies in the area as a whole (our choice).
const WHOLE_FROM: f64 = 0.95;

/// An area put together from the terrain.
pub struct SuggestedArea {
    pub area: MultiPolygon<f64>,
    /// Parcels in their order, then roads.
    pub lands: Vec<SuggestedLand>,
    /// Parcels of which less than the profile's sliver would lie inside, with those square metres.
    pub left_out: BTreeMap<ParcelIx, f64>,
    /// Parcels with land without a right whose water comes to the outlet at the same places, and that no path of the parcels asked
    /// about crosses, with those hectares.
    pub beside: BTreeMap<ParcelIx, f64>,
    /// Parcels asked about that have no land in the area.
    pub not_inside: Vec<ParcelIx>,
    /// Parcels asked about with hectares of which it is undecided whether they have a right.
    pub undecided: Vec<(ParcelIx, f64)>,
}

/// A land of the area.
pub struct SuggestedLand {
    pub party: Party,
    pub why: WhyInside,
    /// The part inside.
    pub shape: MultiPolygon<f64>,
    /// Whether all of it lies inside.
    pub is_whole: bool,
    /// Hectares that have a right or are undecided, of the shares by which its land without a right drains: which of their land that is,
    /// is not known.
    pub of_another_standing_ha: f64,
    /// Cells inside under standing water.
    pub cells_under_water: u64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WhyInside {
    /// Asked about.
    Asked,
    /// The path of a parcel asked about crosses it, and it has no right either.
    OnPath,
    /// A road beside the land that drains the same way.
    Road,
}

/// What lies on the paths of the parcels asked about.
struct Paths {
    asked: BTreeSet<ParcelIx>,
    /// Shares without a right, of these parcels and of those on their paths, that come to an outlet at the same places.
    shares: BTreeSet<(ParcelIx, ShareIx)>,
    /// Where they come to their outlet, or end.
    places: BTreeSet<Cell>,
    roads: BTreeSet<RoadIx>,
    beside: BTreeMap<ParcelIx, f64>,
}

impl Study {
    /// An area that a petition for some parcels could name.
    ///
    /// *Complexity*: O(n) for n cells, and O(l p) for l lands of the area among p parcels and roads.
    ///
    /// # Errors
    /// Parcels of which no land needs drainage; areas whose outline cannot be traced.
    pub fn suggested_area(
        &self,
        parcels: &[ParcelIx],
        findings: &TiSlice<ParcelIx, Finding>,
    ) -> Result<SuggestedArea, StudyError> {
        let needs = NeedsDrainage::of(self, findings);
        let paths = Paths::of(self, parcels, &needs);
        let cells = chosen_cells(self, &paths, &needs);
        let (mut lands, left_out) = self.chosen_lands(&paths, &cells, &needs)?;
        let chosen: BTreeSet<Party> = lands.iter().map(|land| land.party).collect();
        let others = others(self, &chosen);
        lands.par_iter_mut().for_each(|land| {
            land.leave_to_others(&others);
            land.count_under_water(self, &needs);
        });
        lands.retain(|land| mean_width(&land.shape) >= NOISE_M);
        lands.sort_by_key(|land| (land.why == WhyInside::Road, land.party));
        if lands.is_empty() {
            return Err(nothing(self, parcels));
        }
        let area = unary_union(lands.iter().map(|land| &land.shape));
        let is_inside = |parcel: ParcelIx| lands.iter().any(|land| land.party == Party::Parcel(parcel));
        let not_inside = paths.asked.iter().copied().filter(|&parcel| !is_inside(parcel)).collect();
        let undecided = paths.asked.iter().map(|&parcel| (parcel, findings[parcel].undecided.hectares()));
        let undecided = undecided.filter(|&(_, hectares)| hectares >= SMALL_SHARE_HA).collect();
        Ok(SuggestedArea { area, lands, left_out, beside: paths.beside, not_inside, undecided })
    }

    /// The lands that some chosen cells stand for, and parcels on the path of which too little would lie inside.
    fn chosen_lands(
        &self,
        paths: &Paths,
        cells: &BTreeMap<Party, Vec<Cell>>,
        needs: &NeedsDrainage,
    ) -> Result<(Vec<SuggestedLand>, BTreeMap<ParcelIx, f64>), StudyError> {
        let sliver_m2 = sliver_m2(self);
        let whole = whole_cells(self, cells);
        let mut lands = Vec::new();
        let mut left_out = BTreeMap::new();
        for (&party, own) in cells {
            let is_whole = matches!(party, Party::Parcel(_)) && own.len() as f64 >= WHOLE_FROM * whole[&party] as f64;
            let shape = if is_whole { shape_of(self, party).clone() } else { self.part(party, own, sliver_m2)? };
            let square_metres = shape.unsigned_area();
            let why = paths.why(party);
            match party {
                Party::Parcel(parcel) if why == WhyInside::OnPath && square_metres < sliver_m2 => {
                    left_out.insert(parcel, square_metres);
                }
                Party::Road(road) if !paths.roads.contains(&road) && square_metres < sliver_m2 => {}
                _ => {
                    let of_another_standing_ha = match party {
                        Party::Parcel(parcel) => needs.hectares_of_another_standing(parcel),
                        Party::Road(_) | Party::Unowned => 0.0,
                    };
                    let cells_under_water = 0;
                    lands.push(SuggestedLand {
                        party,
                        why,
                        shape,
                        is_whole,
                        of_another_standing_ha,
                        cells_under_water,
                    });
                }
            }
        }
        Ok((lands, left_out))
    }

    /// The part of a land that some of its cells stand for, to its own lot lines.
    fn part(&self, party: Party, cells: &[Cell], sliver_m2: f64) -> Result<MultiPolygon<f64>, StudyError> {
        let frame = self.setting.frame();
        let (window, origin) = window_around(&frame, cells);
        let mut inside = vec![0_u32; window.len()];
        let mut mark = |cell: Cell| {
            let (col, row) = frame.col_row(cell);
            inside[window.cell(col - origin.0, row - origin.1).0] = 1;
        };
        for &cell in cells {
            mark(cell);
            // A cell that a lot line crosses belongs to one side.
            frame
                .neighbours(cell)
                .filter(|&(_, next)| self.setting.parties.of(next) != party)
                .for_each(|(_, next)| mark(next));
        }
        let outline = outlines(&window, &inside)?.remove(&1).unwrap_or(MultiPolygon(Vec::new()));
        Ok(without_crumbs(to_millimetres(&shape_of(self, party).intersection(&outline)), sliver_m2))
    }
}

impl Paths {
    fn of(study: &Study, parcels: &[ParcelIx], needs: &NeedsDrainage) -> Self {
        let asked: BTreeSet<ParcelIx> = parcels.iter().copied().collect();
        let of_asked = needs.without_right.keys().copied().filter(|(parcel, _)| asked.contains(parcel));
        let mut shares: BTreeSet<(ParcelIx, ShareIx)> = of_asked.collect();
        let place = |&(parcel, share): &(ParcelIx, ShareIx)| study.courses.before_outlet(parcel, share);
        let places: BTreeSet<Cell> = shares.iter().map(place).collect();
        let mut roads = BTreeSet::new();
        for path in shares.clone().into_iter().map(|(parcel, share)| study.path(parcel, share)) {
            for cell in path.stations.iter().map(|station| station.cell) {
                shares.extend(needs.share_without_right(cell));
                if let Party::Road(road) = study.setting.parties.of(cell) {
                    roads.insert(road);
                }
            }
        }
        let on_path: BTreeSet<ParcelIx> = shares.iter().map(|&(parcel, _)| parcel).collect();
        let mut beside: BTreeMap<ParcelIx, f64> = BTreeMap::new();
        for (&share, (without, _)) in needs.without_right.iter().filter(|(share, _)| places.contains(&place(share))) {
            if on_path.contains(&share.0) {
                shares.insert(share);
            } else {
                *beside.entry(share.0).or_default() += without;
            }
        }
        beside.retain(|_, &mut hectares| hectares >= SMALL_SHARE_HA);
        Self { asked, shares, places, roads, beside }
    }

    fn why(&self, party: Party) -> WhyInside {
        match party {
            Party::Parcel(parcel) if self.asked.contains(&parcel) => WhyInside::Asked,
            Party::Parcel(_) | Party::Unowned => WhyInside::OnPath,
            Party::Road(_) => WhyInside::Road,
        }
    }
}

/// The cells of each land that lie in the area.
fn chosen_cells(study: &Study, paths: &Paths, needs: &NeedsDrainage) -> BTreeMap<Party, Vec<Cell>> {
    let setting = &study.setting;
    let on_path: BTreeSet<ParcelIx> = paths.shares.iter().map(|&(parcel, _)| parcel).collect();
    let is_chosen = |cell: Cell, parcel: ParcelIx| {
        if paths.asked.contains(&parcel) {
            return needs.is_needed(cell);
        }
        on_path.contains(&parcel)
            && (needs.is_under_water(cell)
                || needs.share_without_right(cell).is_some_and(|share| paths.shares.contains(&share)))
    };
    let mut cells: BTreeMap<Party, Vec<Cell>> = BTreeMap::new();
    for cell in setting.parties.cells() {
        let party = setting.parties.of(cell);
        if let Party::Parcel(parcel) = party
            && is_chosen(cell, parcel)
        {
            cells.entry(party).or_default().push(cell);
        }
    }
    add_roads(study, paths, &mut cells);
    cells
}

/// Roads from the chosen land on, as far as their water comes to the same places.
fn add_roads(study: &Study, paths: &Paths, cells: &mut BTreeMap<Party, Vec<Cell>>) {
    const INSIDE: u32 = 2;
    let setting = &study.setting;
    let mut labels = Raster::filled(setting.frame(), 0_u32);
    for cell in setting.channel_cells().filter(|&cell| setting.lawful_at(cell).is_some()) {
        labels[cell] = 1;
    }
    let exits = paths.shares.iter().flat_map(|&(parcel, share)| &study.shares[parcel][share].exits);
    for &cell in exits.chain(paths.places.iter().filter(|&&place| setting.lawful_at(place).is_none())) {
        labels[cell] = INSIDE;
    }
    let basin = label_upstream(setting.flow(), labels);
    let mut seen = CellSet::new(setting.frame().len());
    let mut open: VecDeque<Cell> = cells.values().flatten().copied().collect();
    while let Some(cell) = open.pop_front() {
        for (_, next) in setting.frame().neighbours(cell) {
            let party = setting.parties.of(next);
            if matches!(party, Party::Road(_)) && basin[next] == INSIDE && seen.insert(next) {
                cells.entry(party).or_default().push(next);
                open.push_back(next);
            }
        }
    }
}

/// All cells of each land that has some chosen.
fn whole_cells(study: &Study, chosen: &BTreeMap<Party, Vec<Cell>>) -> BTreeMap<Party, u64> {
    let mut whole: BTreeMap<Party, u64> = chosen.keys().map(|&party| (party, 0)).collect();
    for cell in study.setting.parties.cells() {
        if let Some(cells) = whole.get_mut(&study.setting.parties.of(cell)) {
            *cells += 1;
        }
    }
    whole
}

fn shape_of(study: &Study, party: Party) -> &MultiPolygon<f64> {
    match party {
        Party::Parcel(parcel) => &study.inputs.parcels[parcel].shape,
        Party::Road(road) => &study.inputs.roads[road].shape,
        Party::Unowned => unreachable!("only cells of parcels and roads are chosen"),
    }
}

/// The shapes of all lands that are not chosen, with their bounds.
fn others<'a>(study: &'a Study, chosen: &BTreeSet<Party>) -> Vec<(&'a MultiPolygon<f64>, Rect<f64>)> {
    let parcels = study.inputs.parcels.keys().map(Party::Parcel);
    let others = parcels.chain(study.inputs.roads.keys().map(Party::Road)).filter(|party| !chosen.contains(party));
    others.map(|party| shape_of(study, party)).filter_map(|shape| Some((shape, shape.bounding_rect()?))).collect()
}

impl SuggestedLand {
    /// Without the ground that lands which are not chosen claim too, so that none of them lies in the area; outer rings all run the
    /// same way round.
    fn leave_to_others(&mut self, others: &[(&MultiPolygon<f64>, Rect<f64>)]) {
        let Some(bounds) = self.shape.bounding_rect() else { return };
        for (other, _) in others.iter().filter(|(_, own)| own.intersects(&bounds)) {
            if mean_width(&self.shape.intersection(*other)) >= NOISE_M {
                self.shape = to_millimetres(&self.shape.difference(*other));
                self.is_whole = false;
            }
        }
        self.shape = self.shape.orient(Direction::Default);
    }

    fn count_under_water(&mut self, study: &Study, needs: &NeedsDrainage) {
        let setting = &study.setting;
        let inside = cells_inside(&setting.frame(), &self.shape).into_iter();
        let own = inside.filter(|&cell| setting.parties.of(cell) == self.party && needs.is_under_water(cell));
        self.cells_under_water = own.count() as u64;
    }
}

/// Square metres below which a part counts as hardly inside; none where the profile knows no petition.
fn sliver_m2(study: &Study) -> f64 {
    match &study.inputs.profile.petition {
        PetitionLaw::Known(rules) => rules.sliver_ha.value * SQUARE_METRES_PER_HECTARE,
        PetitionLaw::None { .. } | PetitionLaw::Unstated => 0.0,
    }
}

/// The cells from one column and row before to one after, with the column and row at which they begin.
fn window_around(frame: &Frame, cells: &[Cell]) -> (Frame, (usize, usize)) {
    let places = || cells.iter().map(|&cell| frame.col_row(cell));
    let first = |values: &mut dyn Iterator<Item = usize>| values.min().unwrap_or(0).saturating_sub(1);
    let last = |values: &mut dyn Iterator<Item = usize>, count: usize| (values.max().unwrap_or(0) + 1).min(count - 1);
    let (west, north) = (first(&mut places().map(|(col, _)| col)), first(&mut places().map(|(_, row)| row)));
    let (east, south) =
        (last(&mut places().map(|(col, _)| col), frame.cols()), last(&mut places().map(|(_, row)| row), frame.rows()));
    let corner = (frame.west() + west as f64 * frame.cell_width(), frame.north() - north as f64 * frame.cell_height());
    let size = (frame.cell_width(), frame.cell_height());
    let window = Frame::new(east - west + 1, south - north + 1, corner, size).expect("cells of a frame make a frame");
    (window, (west, north))
}

/// Corners to the millimetre, so that the shape stays valid when it is written in degrees: a piece that touches itself is taken apart,
/// and what is narrower goes.
fn to_millimetres(shape: &MultiPolygon<f64>) -> MultiPolygon<f64> {
    let rounded = |value: f64| (value * 1000.0).round() / 1000.0;
    let shape = shape.map_coords(|corner| geo::coord! { x: rounded(corner.x), y: rounded(corner.y) });
    shape.make_valid().unwrap_or(shape)
}

/// The largest piece, and every other one that is no sliver; holes that are slivers are closed.
fn without_crumbs(shape: MultiPolygon<f64>, sliver_m2: f64) -> MultiPolygon<f64> {
    let largest = shape.iter().map(Area::unsigned_area).fold(0.0, f64::max);
    let pieces = shape.into_iter().filter(|piece| piece.unsigned_area() >= sliver_m2.min(largest));
    let closed = pieces.map(|piece| {
        let (exterior, holes) = piece.into_inner();
        let is_large =
            |hole: &geo::LineString<f64>| Polygon::new(hole.clone(), Vec::new()).unsigned_area() >= sliver_m2;
        Polygon::new(exterior, holes.into_iter().filter(is_large).collect())
    });
    MultiPolygon(closed.collect())
}

fn nothing(study: &Study, parcels: &[ParcelIx]) -> StudyError {
    let ids = parcels.iter().map(|&parcel| study.inputs.parcels[parcel].id.as_str());
    StudyError::NothingToDrain { ids: ids.collect::<Vec<_>>().join(", ") }
}
