//! What a parcel abuts: waterways, and pipes of a lawful class.

use fallwright_case::MappedWaterway;
use fallwright_land::{Abutting, Bed, BedIx, LandBetween, LandIndex, frontage};
use fallwright_law::{CutOff, Frontage};
use fallwright_network::{Feature, Party};
use fallwright_units::{ParcelIx, RoadIx};
use geo::{Coord, LineString, MultiLineString};
use typed_index_collections::{TiSlice, TiVec};

use super::holdings::Holdings;
use super::lands::land;
use super::quantities::metres;
use crate::study::Study;

/// Everything mapped that a parcel can abut: waterways, and pipes of a lawful class.
pub(super) fn mapped_features(study: &Study) -> TiVec<BedIx, (Feature, Bed)> {
    let waterways = study
        .inputs
        .waterways
        .iter_enumerated()
        .map(|(position, waterway)| (Feature::Waterway(position), bed(waterway)));
    let frame = study.setting.frame();
    let enclosed = study.setting.structures.iter_enumerated().filter(|(_, structure)| structure.lawful);
    let enclosed = enclosed.map(|(position, structure)| {
        let lines = MultiLineString::new(vec![LineString::from(structure.course(&frame))]);
        (Feature::Structure(position), Bed::Line { lines, width_m: 0.0 })
    });
    waterways.chain(enclosed).collect()
}

/// Where a waterway runs, as its frontage and its strips are measured.
pub(crate) fn bed(waterway: &MappedWaterway) -> Bed {
    if waterway.is_polygon() {
        Bed::Water(waterway.shape.clone())
    } else {
        Bed::Line { lines: waterway.lines.clone(), width_m: waterway.width_m }
    }
}

pub(super) fn frontages(
    study: &Study,
    features: &TiSlice<BedIx, (Feature, Bed)>,
    holdings: &Holdings,
) -> Vec<Abutting> {
    let shapes: TiVec<ParcelIx, _> = study.inputs.parcels.iter().map(|parcel| parcel.shape.clone()).collect();
    let beds: TiVec<BedIx, Bed> = features.iter().map(|(_, bed)| bed.clone()).collect();
    let near = study.inputs.case.rules.abut_tolerance_m;
    let roads: TiVec<RoadIx, _> = study.inputs.roads.iter().map(|road| road.shape.clone()).collect();
    let lands = LandIndex::new(&shapes, &roads, &holdings.of_parcel);
    let surveyed_m = |place: Coord<f64>| study.surveyed_m(study.setting.frame().cell_at((place.x, place.y))?);
    frontage(&lands, &beds, (near, near + boundary_accuracy_m(study)), surveyed_m)
}

pub(super) fn boundary_accuracy_m(study: &Study) -> f64 {
    study.inputs.case.parcels.as_ref().map_or(0.0, |table| table.accuracy_m)
}

pub(super) fn frontage_fact(study: &Study, feature: Feature, abutting: &Abutting) -> Frontage {
    Frontage {
        feature: study.setting.feature_id(feature).to_owned(),
        name: study.feature_name(feature),
        class: study.feature_class(feature).to_owned(),
        distance: metres(abutting.distance_m),
        length: metres(abutting.length_m),
        at_a_point: abutting.at_a_point,
        cut_off_by: abutting.cut_off_by.map(|between| CutOff {
            land: match between.land {
                LandBetween::Parcel(parcel) => land(study, Party::Parcel(parcel)),
                LandBetween::Road(road) => land(study, Party::Road(road)),
            },
            width: metres(between.width_m),
        }),
        lowest_ground: abutting.lowest_m.map(metres),
    }
}
