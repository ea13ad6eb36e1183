//! What the law asks about each parcel, measured.

mod holdings;
mod piped;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use fallwright_case::{AssessedFor, AssessedLand, MappedWaterway, Schedule};
use fallwright_land::{Abutting, Bed, BedIx, LandBetween, LandIndex, frontage};
use fallwright_law::{
    Assessed, Assessment, CutOff, FeatureMet, Frontage, Land, LandOnPath, MarkedChannel, Membership, OutletOnPath,
    ParcelFacts, PathEnd, PipedFacts, ShareFacts,
};
use fallwright_network::{Carrier, Destinations, End, Feature, Party, Share, Station, Trace, divide_heights};
use fallwright_units::{Hectares, Metres, ParcelId, ParcelIx, RoadIx, SQUARE_METRES_PER_HECTARE, ShareIx};
use geo::{Area, BoundingRect, Coord, LineString, MultiLineString};
use rayon::prelude::*;
use rustc_hash::FxHashMap;
use typed_index_collections::{TiSlice, TiVec, ti_vec};

use crate::facts::holdings::Holdings;
use crate::share_cells::ShareCells;
use crate::study::Study;

/// What is measured for all parcels together, and what each has of it.
struct Measured {
    features: TiVec<BedIx, (Feature, Bed)>,
    frontages: Vec<Abutting>,
    holdings: Holdings,
    coverage: TiVec<ParcelIx, Coverage>,
    members: Arc<[Membership]>,
    divides: DivideHeights,
    piped: TiVec<ParcelIx, Vec<PipedFacts>>,
}

/// Looks at what the law asks about every parcel, in their order: one parcel's facts tell every land that its water crosses,
/// and are forgotten after that.
pub(crate) fn each_facts<T: Send>(
    study: &Study,
    look: impl Fn(ParcelIx, &ParcelFacts) -> T + Sync,
) -> TiVec<ParcelIx, T> {
    let measured = Measured::find(study);
    let parcels = (0..study.inputs.parcels.len()).into_par_iter().map(ParcelIx);
    parcels.map(|parcel| look(parcel, &measured.facts(study, parcel))).collect::<Vec<T>>().into()
}

impl Measured {
    fn find(study: &Study) -> Self {
        let features = mapped_features(study);
        let holdings = Holdings::of(study);
        let frontages = frontages(study, &features, &holdings);
        let destinations = Destinations::find(&study.setting);
        let share_cells = ShareCells::find(&study.setting, &study.shares);
        let share_of = |cell| share_cells.of(&study.setting, cell);
        let leaving = |(parcel, share): (ParcelIx, ShareIx)| study.shares[parcel][share].leaving;
        let divides = divide_heights(&study.setting, &destinations, share_of, leaving);
        let piped = piped::piped(study, &destinations, share_of, &holdings);
        let members = memberships(study);
        Self { features, frontages, holdings, coverage: coverage(study), members, divides, piped }
    }

    fn facts(&self, study: &Study, parcel: ParcelIx) -> ParcelFacts {
        ParcelFacts {
            shares: shares(study, parcel, &self.divides, &self.holdings),
            piped: self.piped[parcel].clone(),
            members: Arc::clone(&self.members),
            also_owned: self.holdings.others(study, parcel),
            ..parcel_facts(study, parcel, &self.features, &self.frontages, self.coverage[parcel])
        }
    }
}

/// Cells of a parcel, with and without elevation.
#[derive(Clone, Copy, Default)]
struct Coverage {
    with_data: u64,
    without_data: u64,
}

fn coverage(study: &Study) -> TiVec<ParcelIx, Coverage> {
    let mut coverage = ti_vec![Coverage::default(); study.inputs.parcels.len()];
    for cell in study.setting.parties.cells() {
        if let Party::Parcel(parcel) = study.setting.parties.of(cell) {
            if study.setting.flow().has_data(cell) {
                coverage[parcel].with_data += 1;
            } else {
                coverage[parcel].without_data += 1;
            }
        }
    }
    coverage
}

/// Hectares of every parcel without elevation, in their order.
pub(crate) fn missing_hectares(study: &Study) -> TiVec<ParcelIx, f64> {
    coverage(study).into_iter_enumerated().map(|(parcel, coverage)| missing_ha(study, parcel, coverage)).collect()
}

fn missing_ha(study: &Study, parcel: ParcelIx, coverage: Coverage) -> f64 {
    let frame = study.setting.frame();
    let area_ha = study.inputs.parcels[parcel].shape.unsigned_area() / SQUARE_METRES_PER_HECTARE;
    let covered = frame.hectares(coverage.with_data + coverage.without_data);
    let beyond_ha = if reaches_beyond(study, parcel) { (area_ha - covered).max(0.0) } else { 0.0 };
    frame.hectares(coverage.without_data) + beyond_ha
}

/// Whether a parcel reaches beyond the raster.
fn reaches_beyond(study: &Study, parcel: ParcelIx) -> bool {
    let frame = study.setting.frame();
    study.inputs.parcels[parcel].shape.bounding_rect().is_some_and(|bounds| {
        bounds.min().x < frame.west()
            || bounds.max().x > frame.east()
            || bounds.min().y < frame.south()
            || bounds.max().y > frame.north()
    })
}

/// Everything mapped that a parcel can abut: waterways, and pipes of a lawful class.
fn mapped_features(study: &Study) -> TiVec<BedIx, (Feature, Bed)> {
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

fn frontages(study: &Study, features: &TiSlice<BedIx, (Feature, Bed)>, holdings: &Holdings) -> Vec<Abutting> {
    let shapes: TiVec<ParcelIx, _> = study.inputs.parcels.iter().map(|parcel| parcel.shape.clone()).collect();
    let beds: TiVec<BedIx, Bed> = features.iter().map(|(_, bed)| bed.clone()).collect();
    let near = study.inputs.case.rules.abut_tolerance_m;
    let roads: TiVec<RoadIx, _> = study.inputs.roads.iter().map(|road| road.shape.clone()).collect();
    let lands = LandIndex::new(&shapes, &roads, &holdings.of_parcel);
    let surveyed_m = |place: Coord<f64>| study.surveyed_m(study.setting.frame().cell_at((place.x, place.y))?);
    frontage(&lands, &beds, (near, near + boundary_accuracy_m(study)), surveyed_m)
}

fn boundary_accuracy_m(study: &Study) -> f64 {
    study.inputs.case.parcels.as_ref().map_or(0.0, |table| table.accuracy_m)
}

fn parcel_facts(
    study: &Study,
    parcel: ParcelIx,
    features: &TiSlice<BedIx, (Feature, Bed)>,
    frontages: &[Abutting],
    coverage: Coverage,
) -> ParcelFacts {
    let given = &study.inputs.parcels[parcel];
    let area_ha = given.shape.unsigned_area() / SQUARE_METRES_PER_HECTARE;
    let covered = coverage.with_data + coverage.without_data;
    let first = frontages.partition_point(|abutting| abutting.parcel < parcel);
    let own_frontage = frontages[first..].iter().take_while(|abutting| abutting.parcel == parcel);
    ParcelFacts {
        parcel: given.id.clone(),
        owner: given.owner.clone(),
        owned_since: given.owned_since,
        own_ha: hectares(study.hectares(coverage.with_data)),
        area_ha: hectares(area_ha),
        missing_ha: hectares(missing_ha(study, parcel, coverage)),
        entirely_outside: covered == 0 && reaches_beyond(study, parcel),
        frontage: own_frontage.map(|abutting| frontage_fact(study, features[abutting.bed].0, abutting)).collect(),
        assessments: assessments(study, &given.id),
        members: Arc::default(),
        also_owned: Vec::new(),
        shares: Vec::new(),
        piped: Vec::new(),
        elevation_rmse: study.inputs.case.terrain.rmse_z_m.map(metres),
        boundary_accuracy: metres(boundary_accuracy_m(study)),
        abut_tolerance: metres(study.inputs.case.rules.abut_tolerance_m),
    }
}

/// How far the divides of each share stand above where it leaves.
type DivideHeights = BTreeMap<(ParcelIx, ShareIx), f64>;

fn shares(study: &Study, parcel: ParcelIx, divides: &DivideHeights, holdings: &Holdings) -> Vec<ShareFacts> {
    let shares = study.shares[parcel].iter_enumerated();
    shares
        .map(|(number, share)| ShareFacts {
            divide_height: divides.get(&(parcel, number)).copied().map(metres),
            ..share_facts(study, (parcel, number), share, &study.trace(parcel, number), holdings)
        })
        .collect()
}

fn frontage_fact(study: &Study, feature: Feature, abutting: &Abutting) -> Frontage {
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

fn assessments(study: &Study, parcel: &ParcelId) -> Vec<Assessment> {
    let of = |schedule: &Schedule| match schedule.assessed.get(parcel.as_str()).map(AssessedLand::assessed) {
        Some(AssessedFor::Outlet(area)) => Assessed::Hectares(hectares(area)),
        Some(AssessedFor::BenefitOnly(_)) => Assessed::BenefitOnly,
        None => Assessed::NotListed,
    };
    let schedules = study.inputs.schedules.iter();
    schedules.map(|schedule| Assessment { drain: schedule.drain.clone(), assessed: of(schedule) }).collect()
}

fn memberships(study: &Study) -> Arc<[Membership]> {
    let with_members =
        study.inputs.waterways.iter().filter_map(|waterway| Some((waterway, waterway.members.as_ref()?)));
    with_members
        .map(|(waterway, members)| Membership {
            feature: waterway.id.to_string(),
            parties: members.iter().map(ParcelId::new).collect(),
            agreed: waterway.agreed,
            registered: waterway.registered,
        })
        .collect()
}

fn share_facts(
    study: &Study,
    (parcel, number): (ParcelIx, ShareIx),
    share: &Share,
    trace: &Trace,
    holdings: &Holdings,
) -> ShareFacts {
    let crossed = parcels_crossed(study, parcel, trace, holdings);
    ShareFacts {
        share: number.number(),
        hectares: hectares(study.hectares(share.cells)),
        outlets: outlets_on_path(study, parcel, number, trace, &crossed),
        also_met: if trace.carriers.is_empty() {
            Vec::new()
        } else {
            also_met(study, parcel, (&study.path(parcel, number).stations, trace), holdings)
        },
        lands: lands(study, parcel, trace, holdings),
        end: path_end(study.network.leaving(parcel, number).and_then(|node| study.network.end_of(node))),
        marked_channel: marked_channel(study, share),
        path: metres(trace.length_m()),
        leaving_level: study.surveyed_m(share.leaving).map(metres),
        fall: Metres::from_metres(trace.fall_m()).ok(),
        deepest_fill: metres(trace.deepest_fill_m),
        over_suspected_culvert: study.courses.passes_marked(parcel, number),
        divide_height: None,
        is_remainder: share.is_remainder,
    }
}

/// Where a path ends; one that the network leaves open leaves the data.
pub fn path_end(end: Option<End>) -> PathEnd {
    match end {
        Some(End::Hole) => PathEnd::Hole,
        Some(End::KeptDepression) => PathEnd::KeptDepression,
        Some(End::ClosedLake) => PathEnd::ClosedLake,
        Some(End::Edge) | None => PathEnd::Edge,
    }
}

/// Parcels of others that the path crosses, in order.
fn parcels_crossed(study: &Study, parcel: ParcelIx, trace: &Trace, holdings: &Holdings) -> Vec<ParcelId> {
    let others = trace.parcels_crossed().into_iter().filter(|&crossed| !holdings.are_one(crossed, parcel));
    others.map(|crossed| study.inputs.parcels[crossed].id.clone()).collect()
}

/// Land of others crossed, each once with all metres on it.
fn lands(study: &Study, parcel: ParcelIx, trace: &Trace, holdings: &Holdings) -> Vec<LandOnPath> {
    let mut metres_on: Vec<(Party, f64)> = Vec::new();
    let mut place: FxHashMap<Party, usize> = FxHashMap::default();
    let is_own = |party| matches!(party, Party::Parcel(other) if holdings.are_one(other, parcel));
    for crossing in trace.crossings.iter().filter(|crossing| !is_own(crossing.to)) {
        let place = *place.entry(crossing.to).or_insert_with(|| {
            metres_on.push((crossing.to, 0.0));
            metres_on.len() - 1
        });
        metres_on[place].1 += crossing.metres_on_land;
    }
    let on_path = |(party, sum)| LandOnPath { land: land(study, party), metres: metres(sum) };
    metres_on.into_iter().map(on_path).collect()
}

fn land(study: &Study, party: Party) -> Land {
    match party {
        Party::Parcel(parcel) => Land::Parcel(study.inputs.parcels[parcel].id.clone()),
        Party::Road(road) => Land::Road(study.inputs.roads[road].id.clone()),
        Party::Unowned => Land::Unowned,
    }
}

fn outlets_on_path(
    study: &Study,
    parcel: ParcelIx,
    share: ShareIx,
    trace: &Trace,
    crossed: &[ParcelId],
) -> Vec<OutletOnPath> {
    let node = study.network.leaving(parcel, share);
    let mut channels = node.map_or_else(Vec::new, |node| study.network.channels_below(node, &study.reaches));
    let first = trace.outlet.map_or_else(Vec::new, |outlet| features_at(study, outlet, trace));
    channels.insert(0, first.clone());
    let own_land = study.setting.parties.of(trace.last.cell) == Party::Parcel(parcel);
    let reached = if own_land { first } else { Vec::new() };
    lawful_outlets(study, &channels, crossed, &reached)
}

/// The lawful outlets among the features of some channels, each once; `reached_on_own_land` are those met there.
fn lawful_outlets(
    study: &Study,
    channels: &[Vec<Feature>],
    crossed: &[ParcelId],
    reached_on_own_land: &[Feature],
) -> Vec<OutletOnPath> {
    let lawful = |feature: &Feature| match *feature {
        Feature::Waterway(position) => study.setting.waterways[position].lawful,
        Feature::Structure(position) => study.setting.structures[position].lawful,
    };
    let mut met = BTreeSet::new();
    let mut outlets = Vec::new();
    for channel in channels {
        for &feature in channel.iter().filter(|&feature| lawful(feature) && met.insert(*feature)) {
            let others = channel.iter().filter(|&&other| other != feature);
            outlets.push(OutletOnPath {
                feature: study.setting.feature_id(feature).to_owned(),
                name: study.feature_name(feature),
                class: study.feature_class(feature).to_owned(),
                crossed_before: crossed.to_vec(),
                reached_on_own_land: reached_on_own_land.contains(&feature),
                same_channel_as: others.map(|&other| study.setting.feature_id(other).to_owned()).collect(),
            });
        }
    }
    outlets
}

/// Every feature that runs where a path meets its outlet, the outlet first.
fn features_at(study: &Study, outlet: Feature, trace: &Trace) -> Vec<Feature> {
    let in_channel = || study.setting.waterways_at(trace.last.cell).map(Feature::Waterway);
    let others = in_channel().filter(|&feature| feature != outlet && matches!(outlet, Feature::Waterway(_)));
    std::iter::once(outlet).chain(others).collect()
}

/// Mapped features with a class that carry the water before its first lawful outlet, in order; culverts have none.
fn also_met(
    study: &Study,
    parcel: ParcelIx,
    (stations, trace): (&[Station], &Trace),
    holdings: &Holdings,
) -> Vec<FeatureMet> {
    // What carries the water on from the place where it meets its outlet comes after the outlet.
    let to_outlet = stations.len().saturating_sub(usize::from(trace.outlet.is_some()));
    let met = |&feature: &Feature| {
        let class = study.setting.feature_class(feature)?.to_owned();
        let carries = |station: &Station| station.carrier == Carrier::Mapped(feature);
        let first = stations[..to_outlet].iter().position(carries)?;
        // The land on which the feature is met has to be crossed to get to it.
        let before = stations[..=first].iter();
        let mut crossed_before: Vec<ParcelId> = Vec::new();
        for station in before {
            let Party::Parcel(on) = study.setting.parties.of(station.cell) else { continue };
            let id = &study.inputs.parcels[on].id;
            if !holdings.are_one(on, parcel) && !crossed_before.contains(id) {
                crossed_before.push(id.clone());
            }
        }
        let (feature, name) = (study.setting.feature_id(feature).to_owned(), study.feature_name(feature));
        Some(FeatureMet { feature, name, class, crossed_before })
    };
    trace.carriers.iter().filter_map(met).collect()
}

/// The largest marked channel by which a share leaves, on the parcel or just over its boundary.
fn marked_channel(study: &Study, share: &Share) -> Option<MarkedChannel> {
    let flow = study.setting.flow();
    share
        .exits
        .iter()
        .flat_map(|&exit| [Some(exit), flow.receiver(exit)])
        .flatten()
        .filter_map(|cell| Some((study.setting.area(cell), *study.marked.get(&cell)?)))
        .max_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)))
        .map(|(cells, depth)| MarkedChannel { hectares: hectares(study.hectares(cells)), depth: metres(depth) })
}

fn hectares(value: f64) -> Hectares {
    Hectares::from_hectares(value).expect("areas of finite geometry are finite")
}

fn metres(value: f64) -> Metres {
    Metres::from_metres(value).expect("lengths of finite geometry are finite")
}
