//! Rows as CSV.

use schemars::JsonSchema;
use serde::Serialize;

use crate::record_schema::member_names;

/// Rows as CSV under the names of their fields; the header is written without rows too.
pub(super) fn rows_csv<R: Serialize + JsonSchema>(rows: impl IntoIterator<Item = R>) -> String {
    let mut csv = csv::WriterBuilder::new().has_headers(false).from_writer(Vec::new());
    csv.write_record(member_names::<R>()).expect("written to memory");
    for row in rows {
        csv.serialize(row).expect("rows of one length, written to memory");
    }
    text_of(csv)
}

pub(super) fn text_of(csv: csv::Writer<Vec<u8>>) -> String {
    String::from_utf8(csv.into_inner().expect("written to memory")).expect("made of text")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables::cells::Decimal;
    use crate::tables::watershed_parcels::WatershedParcelRow;

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
