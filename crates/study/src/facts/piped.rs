//! Land drained by pipe: where its water goes, beside where it would go over the surface.

use std::collections::BTreeMap;

use fallwright_law::PipedFacts;
use fallwright_network::{Destination, Destinations, Feature, Party, Structure, trace};
use fallwright_units::{ParcelIx, StructureIx};
use typed_index_collections::{TiVec, ti_vec};

use super::holdings::Holdings;
use super::{features_at, hectares, lawful_outlets, parcels_crossed};
use crate::study::Study;

/// For each parcel a record for each pipe to which land of it is drained, in the order of the pipes.
pub(super) fn piped(
    study: &Study,
    destinations: &Destinations,
    holdings: &Holdings,
) -> TiVec<ParcelIx, Vec<PipedFacts>> {
    let mut all = ti_vec![Vec::new(); study.inputs.parcels.len()];
    if study.tiled_by_structure.iter().all(|&cells| cells == 0) {
        return all;
    }
    let goes_to: TiVec<StructureIx, Option<Destination>> = study
        .setting
        .structures
        .iter_enumerated()
        .map(|(position, structure)| {
            let by_itself = structure.lawful.then_some(Destination::Outlet(Feature::Structure(position)));
            by_itself.or_else(|| destinations.of(structure.link.outlet))
        })
        .collect();
    // Cells of each parcel by pipe: all, and those whose surface water goes elsewhere.
    let mut cells: BTreeMap<(ParcelIx, StructureIx), (u64, u64)> = BTreeMap::new();
    for cell in study.setting.parties.cells() {
        let Some(structure) = study.drained_to(cell) else { continue };
        let Party::Parcel(parcel) = study.setting.parties.of(cell) else { continue };
        let count = cells.entry((parcel, structure)).or_default();
        count.0 += 1;
        count.1 += u64::from(destinations.of(cell) != goes_to[structure]);
    }
    for ((parcel, structure), (drained, leaving)) in cells {
        all[parcel].push(PipedFacts {
            pipe: study.setting.structures[structure].id.to_string(),
            hectares: hectares(study.hectares(drained)),
            leaving_watershed: hectares(study.hectares(leaving)),
            outlets: outlets(study, parcel, structure, holdings),
        });
    }
    all
}

/// The lawful outlets that the water of a pipe meets: the pipe itself, then those below its lower end.
fn outlets(
    study: &Study,
    parcel: ParcelIx,
    position: StructureIx,
    holdings: &Holdings,
) -> Vec<fallwright_law::OutletOnPath> {
    let Structure { link, .. } = &study.setting.structures[position];
    let below = trace(&study.setting, link.outlet);
    let mut channels = vec![vec![Feature::Structure(position)]];
    channels.extend(below.outlet.map(|outlet| features_at(study, outlet, &below)));
    let node = study.network.point(link.outlet);
    channels.extend(node.map_or_else(Vec::new, |node| study.network.channels_below(node, &study.reaches)));
    lawful_outlets(study, &channels, &parcels_crossed(study, parcel, &below, holdings), &[])
}
