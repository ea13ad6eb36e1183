//! Tile design flow: what subsurface drains bring to each link, and what of it a storm method does not hold already.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_hydraulics::drainage_flow;
use fallwright_network::Party;
use fallwright_units::{CubicMetresPerSecond, Hectares, MillimetresPerDay, ParcelIx, StructureIx};
use typed_index_collections::{TiVec, ti_vec};

use super::choices::Choices;
use super::default_used::Assumed;
use super::links::{LinkIx, Links};
use crate::study::Study;

/// Land of a parcel that is to be drained by pipe, and the drainage coefficient.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Added {
    pub parcel: ParcelIx,
    pub coefficient: MillimetresPerDay,
}

/// The tile design flow through one link.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TileFlow {
    pub piped_cells: u64,
    pub added_cells: u64,
    pub flow: CubicMetresPerSecond,
    /// The part from land whose surface water does not pass here.
    pub from_elsewhere: CubicMetresPerSecond,
}

/// Piped land that enters the cascade at one link and whose surface water meets it first at another.
struct Source {
    enters: LinkIx,
    surface: Option<LinkIx>,
    cells: u64,
    coefficient: MillimetresPerDay,
    /// Position of the added land that it belongs to.
    added: Option<usize>,
}

/// What land that is added brings, and where to.
#[derive(Clone, Debug, PartialEq)]
pub struct AddedWater {
    pub parcel: ParcelIx,
    pub flow: CubicMetresPerSecond,
    /// Every link that it passes, in the order of flow; none where its water meets no link.
    pub links: Vec<LinkIx>,
}

/// What each piece of added land brings, in their order.
pub(super) fn added_water(study: &Study, links: &Links, choices: &Choices, added: &[Added]) -> Vec<AddedWater> {
    let sources = sources(study, links, choices, added);
    let of = |(position, land): (usize, &Added)| {
        let own: Vec<&Source> = sources.iter().filter(|source| source.added == Some(position)).collect();
        let passed: BTreeSet<LinkIx> = own.iter().flat_map(|source| links.chain(source.enters)).collect();
        let flows = own.iter().map(|source| drainage_flow(source.coefficient, hectares(study, source.cells)));
        AddedWater {
            parcel: land.parcel,
            flow: flows.fold(CubicMetresPerSecond::ZERO, |sum, flow| sum + flow),
            links: links.order.iter().copied().filter(|link| passed.contains(link)).collect(),
        }
    };
    added.iter().enumerate().map(of).collect()
}

/// The tile design flow through every link; areas add at junctions.
pub(super) fn tile_flows(study: &Study, links: &Links, choices: &Choices, added: &[Added]) -> TiVec<LinkIx, TileFlow> {
    let none = TileFlow {
        piped_cells: 0,
        added_cells: 0,
        flow: CubicMetresPerSecond::ZERO,
        from_elsewhere: CubicMetresPerSecond::ZERO,
    };
    let mut flows: TiVec<LinkIx, TileFlow> = ti_vec![none; links.list.len()];
    for source in sources(study, links, choices, added) {
        let flow = drainage_flow(source.coefficient, hectares(study, source.cells));
        let on_surface = source.surface.map(|first| links.chain(first)).unwrap_or_default();
        for link in links.chain(source.enters) {
            let through = &mut flows[link];
            through.flow = through.flow + flow;
            *(if source.added.is_some() { &mut through.added_cells } else { &mut through.piped_cells }) += source.cells;
            if !on_surface.contains(&link) {
                through.from_elsewhere = through.from_elsewhere + flow;
            }
        }
    }
    flows
}

fn sources(study: &Study, links: &Links, choices: &Choices, added: &[Added]) -> Vec<Source> {
    let coefficient = choices.drainage_coefficient(&mut Assumed::default());
    let mut cells: BTreeMap<(LinkIx, Option<LinkIx>, Option<usize>), u64> = BTreeMap::new();
    let mains: Vec<Option<StructureIx>> = added.iter().map(|added| main_of(study, added.parcel)).collect();
    for cell in study.setting.parties.cells().filter(|&cell| study.setting.flow().has_data(cell)) {
        let surface = links.first_at(cell);
        if let Some(structure) = study.drained_to(cell) {
            *cells.entry((links.structure(structure), surface, None)).or_default() += 1;
            continue;
        }
        let party = study.setting.parties.of(cell);
        let position = added.iter().position(|added| party == Party::Parcel(added.parcel));
        if let Some(position) = position {
            let enters = mains[position].map(|main| links.structure(main)).or(surface);
            if let Some(enters) = enters {
                *cells.entry((enters, surface, Some(position))).or_default() += 1;
            }
        }
    }
    let source = |((enters, surface, position), cells): ((LinkIx, Option<LinkIx>, Option<usize>), u64)| Source {
        enters,
        surface,
        cells,
        coefficient: position.map_or(coefficient, |position: usize| added[position].coefficient),
        added: position,
    };
    cells.into_iter().map(source).collect()
}

/// The main that takes most of a parcel's piped water.
fn main_of(study: &Study, parcel: ParcelIx) -> Option<StructureIx> {
    let mut cells: BTreeMap<StructureIx, u64> = BTreeMap::new();
    for cell in study.setting.parties.cells() {
        if let (Party::Parcel(own), Some(structure)) = (study.setting.parties.of(cell), study.drained_to(cell))
            && own == parcel
        {
            *cells.entry(structure).or_default() += 1;
        }
    }
    cells.into_iter().max_by_key(|&(structure, cells)| (cells, std::cmp::Reverse(structure))).map(|(main, _)| main)
}

pub(super) fn hectares(study: &Study, cells: u64) -> Hectares {
    Hectares::from_hectares(study.setting.frame().hectares(cells)).expect("a count of cells is finite")
}
