//! Tables as CSV: a struct for the rows of each, its fields the columns.

mod capacity;
mod cells;
mod csv_text;
pub(crate) mod fall;
mod profile;
pub(crate) mod watershed_lands;
pub(crate) mod watershed_parcels;

pub(crate) use capacity::capacity_csv;
pub(crate) use cells::{Decimal, Millis, Text};
pub(crate) use fall::FallRow;
pub(crate) use profile::{ProfileRow, profile_csv};
pub(crate) use watershed_lands::WatershedLandRow;
pub(crate) use watershed_parcels::WatershedParcelRow;

use schemars::JsonSchema;
use serde::Serialize;

use crate::schema::member_names;

/// Rows as CSV under the names of their fields; the header is written without rows too.
pub(crate) fn rows_csv<R: Serialize + JsonSchema>(rows: impl IntoIterator<Item = R>) -> String {
    let mut csv = csv::WriterBuilder::new().has_headers(false).from_writer(Vec::new());
    csv.write_record(member_names::<R>()).expect("written to memory");
    for row in rows {
        csv.serialize(row).expect("rows of one length, written to memory");
    }
    text_of(csv)
}

fn text_of(csv: csv::Writer<Vec<u8>>) -> String {
    String::from_utf8(csv.into_inner().expect("written to memory")).expect("made of text")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(rows: impl IntoIterator<Item = WatershedParcelRow>, expected: &str) {
        assert_eq!(rows_csv(rows), expected);
    }

    #[test]
    fn rows_have_their_header() {
        let header = "kind,id,name,authority,owner,part,reach_id,surface_ha,piped_ha,meets_edge\n";
        let row = WatershedParcelRow {
            kind: "parcel",
            id: Some("0527-010".into()),
            name: None,
            authority: None,
            owner: Some("=Smith, A.".into()),
            part: "whole",
            reach_id: None,
            surface_ha: Decimal(12.0),
            piped_ha: Decimal(0.000_001),
            meets_edge: false,
        };
        check([], header);
        check([row], &format!("{header}parcel,0527-010,,,\"'=Smith, A.\",whole,,12,0.000001,false\n"));
    }
}
