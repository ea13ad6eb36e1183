//! `fall.csv`: what decides each parcel's sufficiency, and the fall to its outlet.

use fallwright_study::{Capacity, Fall, Study};

use crate::{as_csv_text, metres};

/// One row a parcel: what decides, and the fall to its outlet.
pub(crate) fn fall_table(study: &Study, Capacity { check, falls, .. }: &Capacity) -> String {
    let mut csv = csv::Writer::from_writer(Vec::new());
    let mut row = |fields: [String; 9]| csv.write_record(fields).expect("rows of one length, written to memory");
    let header = [
        "parcel_id",
        "sufficiency",
        "limiting_reach",
        "path_m",
        "fall_available_m",
        "fall_needed_m",
        "fall_doubt_m",
        "outlet_level",
        "fall",
    ];
    row(header.map(str::to_owned));
    for (parcel, verdict) in check.parcels.iter().enumerate() {
        let fall = &falls[parcel];
        let number = |value: Option<f64>| value.map(|value| metres(value).to_string()).unwrap_or_default();
        let of = fall.as_ref().map(|fall| fall.fall);
        row([
            as_csv_text(study.inputs.parcels[parcel].id.as_str()),
            verdict.sufficiency.code().to_owned(),
            as_csv_text(verdict.limiting.as_deref().unwrap_or_default()),
            number(fall.as_ref().map(|fall| fall.path_m)),
            number(of.map(|fall| fall.available_m)),
            number(of.map(|fall| fall.needed_m)),
            number(of.and_then(|fall| fall.doubt_m)),
            fall.as_ref().map(|fall| fall.outlet_level.code()).unwrap_or_default().to_owned(),
            of.map(Fall::code).unwrap_or_default().to_owned(),
        ]);
    }
    String::from_utf8(csv.into_inner().expect("written to memory")).expect("made of text")
}
