//! Land drained by pipe: where its water goes, beside where it would go over the surface.

use std::collections::BTreeMap;

use fallwright_law::{Land, OutletOnPath, PipedFacts, PipedPart, ShareFacts};
use fallwright_network::{Carrier, Destination, Destinations, Feature, Party, Path, Station, trace};
use fallwright_units::{Cell, CellSet, Hectares, Metres, ParcelId, ParcelIx, ShareIx, StructureIx};
use typed_index_collections::{TiVec, ti_vec};

use super::fills::fill_at;
use super::holdings::Holdings;
use super::lands::land;
use super::path::{also_met, constraints_on_path, features_at, lands, lawful_outlets, parcels_crossed, path_end};
use super::quantities::{hectares, metres};
use crate::study::Study;

/// Cells by the share of their surface water, and whether that goes elsewhere than the piped water.
type Parts = BTreeMap<(Option<u32>, bool), u64>;

/// For each parcel a record for each pipe to which land of it is drained, in the order of the pipes.
pub(super) fn piped(
    study: &Study,
    destinations: &Destinations,
    share_of: impl Fn(Cell) -> Option<(ParcelIx, ShareIx)>,
    holdings: &Holdings,
) -> TiVec<ParcelIx, Vec<PipedFacts>> {
    let mut all = ti_vec![Vec::new(); study.inputs.parcels.len()];
    if study.tiled_by_structure.iter().all(|&cells| cells == 0) {
        return all;
    }
    let suspected = study.suspected.cells(&study.setting);
    for ((parcel, pipe), parts) in parts(study, destinations, share_of) {
        let number = u32::try_from(all[parcel].len() + 1).expect("there are fewer pipes than cells");
        all[parcel].push(piped_facts(study, (parcel, pipe, number), parts, &suspected, holdings));
    }
    all
}

fn parts(
    study: &Study,
    destinations: &Destinations,
    share_of: impl Fn(Cell) -> Option<(ParcelIx, ShareIx)>,
) -> BTreeMap<(ParcelIx, StructureIx), Parts> {
    let goes_to: TiVec<StructureIx, Option<Destination>> = study
        .setting
        .structures
        .iter_enumerated()
        .map(|(position, structure)| {
            let inside = study.setting.lawful_inside(position);
            inside
                .map(|outlet| Destination::Outlet(Feature::Structure(outlet)))
                .or_else(|| destinations.of(structure.link.outlet))
        })
        .collect();
    let mut all: BTreeMap<(ParcelIx, StructureIx), Parts> = BTreeMap::new();
    for cell in study.setting.parties.cells() {
        let Some(pipe) = study.drained_to(cell) else { continue };
        let Party::Parcel(parcel) = study.setting.parties.of(cell) else { continue };
        let share = share_of(cell).map(|(_, share)| share.number());
        let leaves = destinations.of(cell) != goes_to[pipe];
        *all.entry((parcel, pipe)).or_default().entry((share, leaves)).or_default() += 1;
    }
    all
}

fn piped_facts(
    study: &Study,
    (parcel, pipe, number): (ParcelIx, StructureIx, u32),
    parts: Parts,
    suspected: &CellSet,
    holdings: &Holdings,
) -> PipedFacts {
    let path = study.piped_path(parcel, pipe);
    let constraints = constraints_on_path(study, &path);
    let Path { stations, trace } = path;
    let structure = &study.setting.structures[pipe];
    let before_outlet = &stations[..stations.len() - usize::from(trace.outlet.is_some())];
    let is_open = |station: &&Station| !matches!(station.carrier, Carrier::Mapped(Feature::Structure(_)));
    let open = || before_outlet.iter().filter(is_open);
    let met = also_met(study, parcel, (&stations, &trace), holdings);
    let below_m = study.setting.ground[structure.link.outlet];
    let is_met_inside = study.setting.lawful_inside(pipe).is_some();
    let runs_on = !is_met_inside && trace.last.cell != structure.link.outlet;
    PipedFacts {
        pipe: structure.id.to_string(),
        water: ShareFacts {
            share: number,
            hectares: hectares(study.hectares(parts.values().sum())),
            outlets: outlets(study, parcel, (pipe, &trace), holdings),
            also_met: met.into_iter().filter(|met| met.feature != structure.id.as_str()).collect(),
            lands: lands(study, parcel, &trace, holdings),
            end: path_end(study.piped_end(pipe)),
            marked_channel: None,
            leaving_area: Hectares::ZERO,
            within_a_cell_of_line: false,
            path: metres(trace.length_m()),
            leaving_level: Metres::from_metres(trace.first.level_m).ok(),
            fall: runs_on.then(|| Metres::from_metres(f64::from(below_m) - trace.last.level_m).ok()).flatten(),
            deepest_fill: metres(trace.deepest_fill_m),
            filled: fill_at(study, trace.deepest_fill_at),
            over_suspected_culvert: open().any(|station| suspected.contains(station.cell)),
            divide_height: None,
            is_remainder: false,
            constraints,
        },
        under: under(study, parcel, before_outlet, holdings),
        open_on: open().find_map(|station| others_land(study, parcel, station.cell, holdings)),
        parts: parts
            .into_iter()
            .map(|((share, leaves_watershed), cells)| PipedPart {
                hectares: hectares(study.hectares(cells)),
                share,
                leaves_watershed,
            })
            .collect(),
    }
}

/// The parcel or road of others that a cell lies on.
fn others_land(study: &Study, parcel: ParcelIx, cell: Cell, holdings: &Holdings) -> Option<Land> {
    match study.setting.parties.of(cell) {
        Party::Unowned => None,
        Party::Parcel(other) if holdings.are_one(other, parcel) => None,
        party => Some(land(study, party)),
    }
}

/// Parcels of others under which pipes carry the water, in order, each once.
fn under(study: &Study, parcel: ParcelIx, stations: &[Station], holdings: &Holdings) -> Vec<ParcelId> {
    let piped = stations.iter().filter(|station| matches!(station.carrier, Carrier::Mapped(Feature::Structure(_))));
    let mut under: Vec<ParcelId> = Vec::new();
    for station in piped {
        if let Some(Land::Parcel(other)) = others_land(study, parcel, station.cell, holdings)
            && !under.contains(&other)
        {
            under.push(other);
        }
    }
    under
}

/// The lawful outlets that the water of a pipe meets: the pipe itself or one that it joins where it is one, then those below.
fn outlets(
    study: &Study,
    parcel: ParcelIx,
    (pipe, piped): (StructureIx, &fallwright_network::Trace),
    holdings: &Holdings,
) -> Vec<OutletOnPath> {
    let structure = &study.setting.structures[pipe];
    let first = piped.outlet.map_or_else(Vec::new, |outlet| features_at(study, outlet, piped));
    let mut channels = vec![first.clone()];
    if study.setting.lawful_inside(pipe).is_some() {
        let below = trace(&study.setting, structure.link.outlet);
        channels.extend(below.outlet.map(|outlet| features_at(study, outlet, &below)));
    }
    let node = study.network.point(structure.link.outlet);
    channels.extend(node.map_or_else(Vec::new, |node| study.network.channels_below(node, &study.reaches)));
    let is_own = study.setting.parties.of(piped.last.cell) == Party::Parcel(parcel);
    let reached = if is_own { first } else { Vec::new() };
    lawful_outlets(study, &channels, &parcels_crossed(study, parcel, piped, holdings), &reached)
}
