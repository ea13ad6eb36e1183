//! The tables of a watershed: each parcel's hectares by part, and each land once beside the drain's schedule.

use std::collections::BTreeMap;

use fallwright_network::Party;
use fallwright_study::{LandInWatershed, Part, Study, Watershed, WatershedLand};

use crate::as_csv_text;

pub(crate) fn parcels_csv(study: &Study, Watershed { parts, tally, .. }: &Watershed) -> String {
    let header = ["parcel_id", "owner", "part", "reach_id", "surface_ha", "piped_ha", "meets_edge"];
    let rows = tally.keys().into_iter().map(|(party, label)| {
        let part = parts.part(label);
        let reach =
            if let Part::Reach(reach) = part { study.reaches.list[reach].id.to_string() } else { String::new() };
        let of = |cells: &BTreeMap<(Party, u32), u64>| study.hectares(cells.get(&(party, label)).copied().unwrap_or(0));
        [
            as_csv_text(&study.party_name(party)),
            as_csv_text(study.party_owner(party).unwrap_or_default()),
            part.name().to_owned(),
            as_csv_text(&reach),
            of(&tally.surface).to_string(),
            of(&tally.piped).to_string(),
            tally.meets_edge.contains(&(party, label)).to_string(),
        ]
    });
    csv(header, rows)
}

pub(crate) fn lands_csv(study: &Study, lands: &[LandInWatershed]) -> String {
    let header = [
        "parcel_id",
        "owner",
        "surface_ha",
        "piped_ha",
        "drains_ha",
        "meets_edge",
        "unknown_ha",
        "assessed_ha",
        "measured_less_assessed_ha",
        "compared",
    ];
    let rows = lands.iter().map(|land| {
        let (id, owner) = named(study, &land.land);
        let given = |hectares: Option<f64>| hectares.map(|hectares| hectares.to_string()).unwrap_or_default();
        let difference = land.assessed_ha.map(|assessed| crate::hectares(land.drains_ha - assessed));
        [
            as_csv_text(&id),
            as_csv_text(owner.unwrap_or_default()),
            land.surface_ha.to_string(),
            land.piped_ha.to_string(),
            land.drains_ha.to_string(),
            land.meets_edge.to_string(),
            land.unknown_ha.to_string(),
            given(land.assessed_ha),
            given(difference),
            land.compared.code().to_owned(),
        ]
    });
    csv(header, rows)
}

fn csv<const N: usize>(header: [&str; N], rows: impl Iterator<Item = [String; N]>) -> String {
    let mut csv = csv::Writer::from_writer(Vec::new());
    csv.write_record(header).expect("written to memory");
    for row in rows {
        csv.write_record(row).expect("rows of one length, written to memory");
    }
    String::from_utf8(csv.into_inner().expect("written to memory")).expect("made of text")
}

/// Id and owner of a land.
pub(crate) fn named<'a>(study: &'a Study, land: &'a WatershedLand) -> (String, Option<&'a str>) {
    match land {
        &WatershedLand::Party(party) => (study.party_name(party), study.party_owner(party)),
        WatershedLand::OnlyInSchedule(id) => (id.clone(), None),
    }
}
