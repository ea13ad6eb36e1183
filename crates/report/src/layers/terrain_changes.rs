//! Records of what conditioning changed.

use fallwright_study::{Study, TerrainChange};
use fallwright_units::ParcelIx;

use crate::layer::Record;
use crate::records::terrain_change::{ChangeKind, Consequence, TerrainChangeProperties};
use crate::rounded::metres;

pub(crate) fn terrain_change(study: &Study, change: &TerrainChange) -> Record<TerrainChangeProperties> {
    let id = |&parcel: &ParcelIx| study.inputs.parcels[parcel].id.clone();
    let evidence = change.suspected_culvert;
    let bank = evidence.and_then(|evidence| evidence.bank);
    let has_roads = study.inputs.case.roads.is_some();
    let properties = TerrainChangeProperties {
        change_id: change.id.clone(),
        kind: match change.kind {
            fallwright_study::ChangeKind::Fill => ChangeKind::Fill,
            fallwright_study::ChangeKind::Cut => ChangeKind::Cut,
            fallwright_study::ChangeKind::Kept => ChangeKind::Kept,
        },
        depth_m: metres(change.depth_m),
        volume_m3: metres(change.volume_m3),
        area_ha: study.hectares(change.cells),
        length_m: change.length_m.map(metres),
        level_m: change.level_m.map(metres),
        waterway_id: change.waterway.map(|position| study.setting.waterways[position].id.to_string()),
        draining_ha: study.hectares(change.draining),
        rise_sum_m: change.rise_sum_m.map(metres),
        suspected_culvert: evidence.is_some(),
        on_road: evidence.filter(|_| has_roads).map(|evidence| evidence.on_road),
        embankment: evidence.filter(|_| bank.is_some()).map(|evidence| evidence.is_embankment),
        channel_end: evidence.filter(|_| bank.is_some()).map(|evidence| evidence.at_channel_end),
        bank_height_m: bank.map(|bank| metres(bank.height_m)),
        roughness_m: bank.map(|bank| metres(bank.roughness_m)),
        consequence: change.consequence().map(consequence),
        rerouted_ha: change.rerouted.map(|cells| study.hectares(cells)),
        rank: change.rank,
        parcels: change.parcels.iter().map(id).collect(),
        finding_depends: change
            .depending
            .as_ref()
            .map(|parcels| parcels.iter().map(|parcel| id(parcel).to_string()).collect()),
    };
    Record { geometry: change.geometry.clone(), properties }
}

fn consequence(consequence: fallwright_study::Consequence) -> Consequence {
    match consequence {
        fallwright_study::Consequence::Finding => Consequence::Finding,
        fallwright_study::Consequence::Watershed => Consequence::Watershed,
        fallwright_study::Consequence::None => Consequence::None,
    }
}
