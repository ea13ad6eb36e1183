//! Records of a petition.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_law::petition::{
    ConditionTally, Denominator, Doubt, Fraction, OwnerIx, PetitionLaw, PetitionTest, RaisedBy, Reading, RollLand,
    Smallest, TestFirmness, Verdict,
};
use fallwright_network::Party;
use fallwright_study::{Basin, Petition, PetitionCount, Place, Study, SuggestedArea, SuggestedLand, WhyInside};
use fallwright_units::{ParcelIx, SQUARE_METRES_PER_HECTARE};
use geo::Area;

use crate::caution::CAUTION;
use crate::layer::Record;
use crate::layers::constraints::area_constraints;
use crate::layers::lands::land_item;
use crate::records::land::LandItem;
use crate::records::petition::{
    BasinRecord, FringeRecord, LandHectares, OwnLandRecord, OwnersRecord, PetitionLandProperties, PetitionRecord,
    PetitionTestFirmness, PetitionTestRecord, StageRecord, SuggestedLandProperties, SuggestedRecord, TILE_FLOW,
    WithoutSliversRecord,
};
use crate::rounded::{cubic_metres_per_second, hectares};
use crate::words::{area_description, petition_notes};

/// The record of the whole; `stage` is as given, `earlier` are the counts before it.
pub(crate) fn petition_record(
    study: &Study,
    (petition, suggested): (&Petition, Option<&SuggestedArea>),
    stage: &str,
    earlier: &[StageRecord],
) -> PetitionRecord {
    let sum = |is_road: bool| {
        let lands = petition.roll.lands.iter().filter(|land| land.is_road() == is_road);
        exact_hectares(lands.map(|land| land.square_metres).sum())
    };
    let (owned_ha, road_ha) = (sum(false), sum(true));
    let area_ha = hectares(petition.area_m2 / SQUARE_METRES_PER_HECTARE);
    let count = petition.count.as_ref();
    let names = |smallest: &Smallest| owners_record(petition, smallest);
    let valid = |is_valid: bool| if is_valid { Verdict::Valid.code() } else { Verdict::NotValid.code() };
    PetitionRecord {
        verdict: count.map_or(Verdict::Undecided, |count| count.settled.verdict()).code(),
        raised_by: raised_by_code(petition.raised_by),
        stage: stage.to_owned(),
        profile: study.inputs.profile.id.clone(),
        roll: roll_of(study),
        roll_dated: roll_date(study),
        earlier: earlier.to_vec(),
        area_ha,
        owned_ha,
        road_ha,
        unowned_ha: hectares((area_ha - owned_ha - road_ha).max(0.0)),
        tests: count.map(test_records).unwrap_or_default(),
        with_roads: count.map(|count| valid(count.readings.with_roads)),
        without_roads: count.map(|count| valid(count.readings.without_roads)),
        officers: petition.signatures.officer,
        smallest_to_pass: count.and_then(|count| count.firmness.to_pass.as_ref().map(names)),
        smallest_to_break: count.and_then(|count| count.firmness.to_break.as_ref().map(names)),
        by_test: count.map(|count| firmness_records(petition, count)).unwrap_or_default(),
        without_slivers: count.and_then(|count| without_slivers(petition, count)),
        fringe: count.map(|count| fringe(petition, count)).unwrap_or_default(),
        own_land: count.and_then(|count| own_land(petition, count)),
        doubts: count
            .map(|count| count.settled.doubts.iter().map(|&doubt| doubt_code(doubt)).collect())
            .unwrap_or_default(),
        basin: petition.basin.as_ref().map(|basin| basin_record(study, basin)),
        suggested: suggested.map(|area| suggested_record(study, area)),
        constraints: area_constraints(study, &petition.area),
        notes: petition_notes(study, petition),
        caution: CAUTION,
    }
}

/// Whole square metres as hectares, which keeps them exact in print.
pub(crate) fn exact_hectares(square_metres: u64) -> f64 {
    square_metres as f64 / SQUARE_METRES_PER_HECTARE
}

pub(crate) const fn raised_by_code(raised_by: RaisedBy) -> &'static str {
    match raised_by {
        RaisedBy::Petition => "petition",
        RaisedBy::Remonstrance => "remonstrance",
    }
}

const fn doubt_code(doubt: Doubt) -> &'static str {
    match doubt {
        Doubt::ParcelsWithoutOwner => "parcels_without_owner",
        Doubt::NamesAlike => "names_alike",
    }
}

fn roll_of(study: &Study) -> Option<String> {
    match &study.inputs.profile.petition {
        PetitionLaw::Known(rules) => Some(rules.roll.clone()),
        PetitionLaw::None { .. } | PetitionLaw::Unstated => None,
    }
}

/// As the case gives it.
pub(crate) fn roll_date(study: &Study) -> Option<String> {
    study.inputs.case.parcels.as_ref()?.dated.map(|date| date.to_string())
}

fn owners_record(petition: &Petition, Smallest { owners, is_proven }: &Smallest) -> OwnersRecord {
    OwnersRecord { count: owners.len(), owners: owner_names(petition, owners), proven: *is_proven }
}

fn owner_names(petition: &Petition, owners: &BTreeSet<OwnerIx>) -> Vec<String> {
    owners.iter().map(|&owner| petition.roll.owners[owner].clone()).collect()
}

fn test_records(count: &PetitionCount) -> Vec<PetitionTestRecord> {
    count.tallies.iter().map(|tally| test_record(&count.tests[tally.test], tally)).collect()
}

fn test_record(test: &PetitionTest, tally: &ConditionTally) -> PetitionTestRecord {
    let condition = test.all_of[tally.condition];
    let heads = condition.of.heads();
    let amount = |number: u64| if heads.is_some() { number as f64 } else { exact_hectares(number) };
    let distance = tally.have as f64 - tally.needed as f64;
    PetitionTestRecord {
        test: test.id.clone(),
        label: test.label.clone(),
        condition: tally.condition + 1,
        measure: if heads.is_some() { "heads" } else { "hectares" }.to_owned(),
        counted_of: condition.of.code().to_owned(),
        heads: heads.map(|rule| rule.code().to_owned()),
        roads: if counts_roads(condition.of, tally.reading) { "counted" } else { "not_counted" }.to_owned(),
        have: amount(tally.have),
        of: amount(tally.whole),
        needed: amount(tally.needed),
        comparison: condition.requirement.code().to_owned(),
        fraction: condition.requirement.fraction().map(Fraction::words),
        met: tally.is_met(),
        distance: if heads.is_some() { distance } else { distance / SQUARE_METRES_PER_HECTARE },
        confirmed: test.confirmed,
        source: test.source.clone(),
    }
}

fn counts_roads(of: Denominator, reading: Option<Reading>) -> bool {
    match of {
        Denominator::Owners(_) | Denominator::Land => false,
        Denominator::OwnersAndRoadAuthorities(_) | Denominator::LandAndRoads => true,
        Denominator::LandAndPerhapsRoads => reading == Some(Reading::WithRoads),
    }
}

fn firmness_records(petition: &Petition, count: &PetitionCount) -> Vec<PetitionTestFirmness> {
    let names = |set: &Option<Smallest>| set.as_ref().map(|set| owners_record(petition, set));
    let record = |firmness: &TestFirmness| PetitionTestFirmness {
        test: count.tests[firmness.test].id.clone(),
        roads: match firmness.reading {
            Some(Reading::WithRoads) => "counted",
            Some(Reading::WithoutRoads) => "not_counted",
            None => "same",
        },
        met: firmness.is_met,
        to_pass: names(&firmness.to_pass),
        to_break: names(&firmness.to_break),
    };
    count.firmness.by_test.iter().map(record).collect()
}

fn without_slivers(petition: &Petition, count: &PetitionCount) -> Option<WithoutSliversRecord> {
    let without = count.without_slivers.as_ref()?;
    let id = |&position: &usize| petition.roll.lands[position].id.clone();
    Some(WithoutSliversRecord {
        verdict: without.verdict.code(),
        lands_left_out: without.lands.iter().map(id).collect(),
        owners_left_out: owner_names(petition, &without.owners),
    })
}

fn fringe(petition: &Petition, count: &PetitionCount) -> Vec<FringeRecord> {
    let record = |&(position, verdict): &(usize, Verdict)| {
        let land = &petition.roll.lands[position];
        FringeRecord { parcel_id: land.id.clone(), inside_ha: land.hectares(), verdict: verdict.code() }
    };
    count.fringe.iter().map(record).collect()
}

fn own_land(petition: &Petition, count: &PetitionCount) -> Option<OwnLandRecord> {
    let own = count.own_land.as_ref()?;
    Some(OwnLandRecord {
        verdict: own.verdict.code(),
        hectares: exact_hectares(own.square_metres),
        parcels: own.lands.iter().map(|&position| petition.roll.lands[position].id.clone()).collect(),
    })
}

fn suggested_record(study: &Study, area: &SuggestedArea) -> SuggestedRecord {
    let hectares_of = |parcels: &[(ParcelIx, f64)]| -> Vec<LandHectares> {
        let land = |&(parcel, of_it): &(ParcelIx, f64)| {
            let LandItem { kind, id, .. } = land_item(study, Party::Parcel(parcel));
            LandHectares { kind, id, hectares: hectares(of_it) }
        };
        parcels.iter().map(land).collect()
    };
    let left_out = area.left_out.iter().map(|(&parcel, &m2)| (parcel, m2 / SQUARE_METRES_PER_HECTARE));
    let lands: Vec<SuggestedLandProperties> = area.lands.iter().map(|land| suggested_land(study, land)).collect();
    SuggestedRecord {
        description: area_description(&lands),
        lands,
        left_out: hectares_of(&left_out.collect::<Vec<_>>()),
        same_way: hectares_of(&area.beside.iter().map(|(&parcel, &without)| (parcel, without)).collect::<Vec<_>>()),
        not_inside: area.not_inside.iter().map(|&parcel| study.inputs.parcels[parcel].id.to_string()).collect(),
        undecided: hectares_of(&area.undecided),
    }
}

/// `area.geojson`.
pub(crate) fn suggested_records(study: &Study, area: &SuggestedArea) -> Vec<Record<SuggestedLandProperties>> {
    let record = |land: &SuggestedLand| Record {
        geometry: Some(land.shape.clone().into()),
        properties: suggested_land(study, land),
    };
    area.lands.iter().map(record).collect()
}

fn suggested_land(study: &Study, land: &SuggestedLand) -> SuggestedLandProperties {
    let LandItem { kind, id, name, .. } = land_item(study, land.party);
    let legal = match land.party {
        Party::Parcel(parcel) => study.inputs.parcels[parcel].legal.clone(),
        Party::Road(_) | Party::Unowned => name,
    };
    SuggestedLandProperties {
        kind,
        id: id.unwrap_or_default(),
        legal,
        why: match land.why {
            WhyInside::Asked => "asked",
            WhyInside::OnPath => "on_path",
            WhyInside::Road => "road",
        },
        part: if land.is_whole { "all" } else { "part" },
        inside_ha: hectares(land.shape.unsigned_area() / SQUARE_METRES_PER_HECTARE),
        of_another_standing_ha: hectares(land.of_another_standing_ha),
        under_water_ha: study.hectares(land.cells_under_water),
    }
}

fn basin_record(study: &Study, basin: &Basin) -> BasinRecord {
    let below = basin.below.as_ref();
    let lowest = below.and_then(|below| below.lowest.as_ref());
    BasinRecord {
        outlet: place_name(&basin.outlet),
        named: basin.is_named,
        area_ha: study.hectares(basin.cells),
        drains_to_outlet_ha: study.hectares(basin.draining_cells),
        elsewhere: land_hectares(study, &basin.elsewhere),
        from_outside: land_hectares(study, &basin.from_outside),
        adds_ha: study.hectares(basin.cells - basin.draining_cells),
        lowest_link: lowest.map(|link| link.id.clone()),
        lowest_link_checked_for: lowest.map(|link| if link.is_pipe { TILE_FLOW } else { "storm" }),
        flow_m3_s: lowest.and_then(|link| link.flow).map(cubic_metres_per_second),
        flow_with_area_m3_s: lowest.and_then(|link| link.flow_with_area).map(cubic_metres_per_second),
        first_too_small_with_area: below.and_then(|below| below.too_small_with_area.clone()),
        first_too_small: below.and_then(|below| below.too_small.clone()),
        maintenance_may_do: below.is_some_and(|below| below.maintenance_may_do),
        first_not_checked: below.and_then(|below| below.not_checked.clone()),
        links_checked: below.is_some_and(|below| below.links > 0),
    }
}

pub(crate) fn place_name(place: &Place) -> String {
    match place {
        Place::Parcel(id) | Place::Outlet(id) => id.clone(),
        Place::Point(point) => format!("{}, {}", point.x, point.y),
    }
}

fn land_hectares(study: &Study, lands: &BTreeMap<Party, u64>) -> Vec<LandHectares> {
    let record = |(&party, &cells): (&Party, &u64)| {
        let LandItem { kind, id, .. } = land_item(study, party);
        LandHectares { kind, id, hectares: study.hectares(cells) }
    };
    lands.iter().map(record).collect()
}

/// Each land of the area, in the order of the roll.
pub(crate) fn land_records(study: &Study, petition: &Petition) -> Vec<Record<PetitionLandProperties>> {
    let signed = petition.signatures.standing();
    let counts_roads = petition
        .count
        .iter()
        .flat_map(|count| &count.tests)
        .flat_map(|test| &test.all_of)
        .any(|condition| counts_roads(condition.of, Some(Reading::WithRoads)));
    let tipping = petition.count.as_ref().map(|count| &count.tipping);
    let record = |(land, part): (&RollLand, &fallwright_study::PetitionLand)| {
        let (parcel, road) = match part.party {
            Party::Parcel(parcel) => (Some(&study.inputs.parcels[parcel]), None),
            Party::Road(road) => (None, Some(&study.inputs.roads[road])),
            Party::Unowned => (None, None),
        };
        let owner = parcel.and_then(|parcel| parcel.owner.clone());
        Record {
            geometry: Some(part.shape.clone().into()),
            properties: PetitionLandProperties {
                parcel_id: parcel.map(|parcel| parcel.id.as_str().to_owned()),
                road_id: road.map(|road| road.id.as_str().to_owned()),
                owner: owner.or_else(|| road.map(|road| road.owner().to_owned())),
                legal: parcel.and_then(|parcel| parcel.legal.clone()),
                inside_ha: land.hectares(),
                whole_ha: hectares(part.whole_m2 / SQUARE_METRES_PER_HECTARE),
                counts: !land.is_road() || counts_roads,
                signed: !land.owners.is_empty() && land.owners.iter().all(|owner| signed.contains(owner)),
                tips: tipping.is_some_and(|tipping| land.owners.iter().any(|owner| tipping.contains(owner))),
                drains_to_outlet_ha: petition.basin.as_ref().map(|_| study.hectares(part.draining_cells)),
            },
        }
    };
    petition.roll.lands.iter().zip(&petition.lands).map(record).collect()
}
