//! Up the slope: whose water arrives, how much, and which way it comes.

use std::collections::BTreeMap;

use fallwright_geodata::Projector;
use fallwright_network::{
    Arrival, Arriving, Carrier, Feature, Inflow, Party, Stretch, arriving as arriving_at, lands_above,
};
use fallwright_report::{Traced, TracedWay};
use geo::Point;
use serde_json::Value;

use super::{TraceFrom, TraceReport, feature, named, owner};
use crate::failure::Failure;
use crate::place::{cell_at, parcel};
use crate::study::Study;
use crate::summary::{counted, hectares, table};
use crate::works::works;

/// More stretches of a way than this are not told in the table (our choice).
const STRETCHES_TOLD: usize = 6;

pub(super) fn arriving(study: &Study, from: &TraceFrom) -> Result<TraceReport, Failure> {
    let (title, found) = match from {
        TraceFrom::Parcel(id) => {
            let party = Party::Parcel(parcel(study, id)?);
            let found = arriving_at(&study.setting, |cell| study.setting.parties.of(cell) == party);
            (format!("water arriving on parcel {id} ({})", owner(study, party)), found)
        }
        TraceFrom::Point(point) => {
            let at = cell_at(study, *point)?;
            (format!("water passing {}, {}", point.x, point.y), arriving_at(&study.setting, |cell| cell == at))
        }
    };
    let givers = givers(&found);
    let total: u64 = found.arrivals.iter().map(|arrival| arrival.cells).sum();
    let mut lines = vec![format!("{title}: {}", hectares(study.hectares(total)))];
    if total > 0 {
        lines.push("where it comes in".to_owned());
        lines.extend(inflow_lines(study, &found.inflows));
        lines.push("whose it is, and the way most of it comes".to_owned());
        lines.extend(giver_lines(study, &givers));
    }
    let to_lonlat = Projector::to_lonlat(&study.inputs.crs)?;
    let mut features = Vec::new();
    for (party, ways) in &givers {
        features.push(giver_feature(study, *party, ways, &to_lonlat)?);
    }
    for inflow in &found.inflows {
        features.push(inflow_feature(study, inflow, &to_lonlat)?);
    }
    Ok(TraceReport { features, lines })
}

/// Everyone whose water arrives with its ways, most water first.
fn givers(found: &Arriving) -> Vec<(Party, Vec<&Arrival>)> {
    let mut by_giver: BTreeMap<Party, Vec<&Arrival>> = BTreeMap::new();
    for arrival in &found.arrivals {
        by_giver.entry(arrival.giver).or_default().push(arrival);
    }
    let mut givers: Vec<(Party, Vec<&Arrival>)> = by_giver.into_iter().collect();
    givers.sort_by_key(|(party, ways)| (std::cmp::Reverse(cells(ways)), *party));
    givers
}

fn cells(ways: &[&Arrival]) -> u64 {
    ways.iter().map(|way| way.cells).sum()
}

fn inflow_lines(study: &Study, inflows: &[Inflow]) -> Vec<String> {
    let header = ["hectares", "from the land of", "carried by", "most of it near"].map(str::to_owned).to_vec();
    let row = |inflow: &Inflow| {
        let (x, y) = study.setting.frame().centre(inflow.at);
        vec![
            format!("{:.2}", study.hectares(inflow.cells)),
            named(study, inflow.from),
            works(study, inflow.carrier, inflow.from).label,
            format!("{x:.0}, {y:.0}"),
        ]
    };
    indented(&std::iter::once(header).chain(inflows.iter().map(row)).collect::<Vec<_>>())
}

fn giver_lines(study: &Study, givers: &[(Party, Vec<&Arrival>)]) -> Vec<String> {
    let header = ["hectares", "of", "by way of"].map(str::to_owned).to_vec();
    let row = |(party, ways): &(Party, Vec<&Arrival>)| {
        let main = way_in_words(study, &ways[0].through);
        let others = match ways.len() - 1 {
            0 => String::new(),
            others => format!("; {}", counted(others, "other way", "other ways")),
        };
        vec![format!("{:.2}", study.hectares(cells(ways))), named(study, *party), format!("{main}{others}")]
    };
    indented(&std::iter::once(header).chain(givers.iter().map(row)).collect::<Vec<_>>())
}

fn indented(rows: &[Vec<String>]) -> Vec<String> {
    table(rows).into_iter().map(|line| format!("  {line}")).collect()
}

fn way_in_words(study: &Study, through: &[Stretch]) -> String {
    if through.is_empty() {
        return "straight over the lot line".to_owned();
    }
    let told: Vec<String> = through.iter().take(STRETCHES_TOLD).map(|&stretch| in_words(study, stretch)).collect();
    let more = match through.len().saturating_sub(STRETCHES_TOLD) {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    format!("{}{more}", told.join(", "))
}

fn in_words(study: &Study, stretch: Stretch) -> String {
    match stretch {
        Stretch::Land(Party::Road) => "a road".to_owned(),
        Stretch::Land(party) => study.party_name(party),
        Stretch::Structure(structure) => {
            let label = works(study, Carrier::Mapped(Feature::Structure(structure)), Party::Unowned).label;
            let is_under_road = lands_above(&study.setting, structure).contains(&Party::Road);
            if is_under_road { format!("{label} under a road") } else { label }
        }
    }
}

fn giver_feature(study: &Study, party: Party, ways: &[&Arrival], to_lonlat: &Projector) -> Result<Value, Failure> {
    let shape = match party {
        Party::Parcel(parcel) => Some(to_lonlat.geometry(&study.inputs.parcels[parcel].shape.clone().into())?),
        Party::Road | Party::Unowned => None,
    };
    let giver = Traced::Giver {
        parcel_id: study.party_name(party),
        owner: study.party_owner(party).map(ToOwned::to_owned),
        hectares: study.hectares(cells(ways)),
        ways: ways.iter().map(|way| traced_way(study, way)).collect(),
    };
    Ok(feature(shape.as_ref(), &giver))
}

fn traced_way(study: &Study, way: &Arrival) -> TracedWay {
    let is_road = |&stretch: &Stretch| match stretch {
        Stretch::Land(party) => party == Party::Road,
        Stretch::Structure(structure) => lands_above(&study.setting, structure).contains(&Party::Road),
    };
    let id = |&stretch: &Stretch| match stretch {
        Stretch::Land(party) => study.party_name(party),
        Stretch::Structure(structure) => study.setting.feature_id(Feature::Structure(structure)).to_owned(),
    };
    TracedWay {
        hectares: study.hectares(way.cells),
        through: way.through.iter().map(id).collect(),
        crosses_road: way.through.iter().any(is_road),
    }
}

fn inflow_feature(study: &Study, inflow: &Inflow, to_lonlat: &Projector) -> Result<Value, Failure> {
    let (x, y) = study.setting.frame().centre(inflow.at);
    let works = works(study, inflow.carrier, inflow.from);
    let inflow = Traced::Inflow {
        from: study.party_name(inflow.from),
        from_owner: study.party_owner(inflow.from).map(ToOwned::to_owned),
        hectares: study.hectares(inflow.cells),
        carried_by: works.carried_by,
        carrier_id: works.carrier_id,
    };
    Ok(feature(Some(&to_lonlat.geometry(&Point::new(x, y).into())?), &inflow))
}
