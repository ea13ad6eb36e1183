//! The points of a profile as a table.

use schemars::JsonSchema;
use serde::Serialize;

use super::cells::{Millis, Text};
use super::rows::rows_csv;
use crate::profile::Profile;
use crate::record_schema::or_null;

/// A row for each point of a profile, and one for each mark at its station, in order.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub(crate) struct ProfileRow {
    /// Metres from the beginning of the profile
    pub station_m: Millis,
    /// East coordinate; empty in the row of a mark
    pub east: Option<Millis>,
    /// North coordinate; empty in the row of a mark
    pub north: Option<Millis>,
    /// Ground as surveyed
    pub ground_m: Option<Millis>,
    /// Level of the grade line
    pub grade_m: Option<Millis>,
    /// Kind of land: parcel, road, or unowned for land of neither; empty in the row of a mark
    #[schemars(extend("enum" = or_null(["parcel", "road", "unowned"])))]
    pub land_kind: Option<&'static str>,
    /// Id of the parcel or road; empty for unowned land
    pub land_id: Option<Text>,
    /// Name of the road, where one is given
    pub land_name: Option<Text>,
    /// What carries the water
    pub carried_by: Option<Text>,
    /// Id of the waterway or structure
    pub carrier_id: Option<Text>,
    /// Kind of mark
    pub mark: Option<&'static str>,
    /// Label of the mark
    pub mark_label: Option<Text>,
}

/// The table of a profile.
pub(crate) fn profile_csv(profile: &Profile) -> String {
    let points = profile.points.iter().map(|point| ProfileRow {
        station_m: Millis(point.station_m),
        east: Some(Millis(point.east)),
        north: Some(Millis(point.north)),
        ground_m: point.ground_m.map(Millis),
        grade_m: profile.grade_at(point.station_m).map(Millis),
        land_kind: Some(point.land.kind),
        land_id: point.land.id.as_ref().map(Text::from),
        land_name: point.land.name.as_ref().map(Text::from),
        carried_by: Some(Text::from(&point.carried_by)),
        carrier_id: point.carrier_id.as_ref().map(Text::from),
        mark: None,
        mark_label: None,
    });
    let marks = profile.marks.iter().map(|mark| ProfileRow {
        station_m: Millis(mark.station_m),
        east: None,
        north: None,
        ground_m: None,
        grade_m: None,
        land_kind: None,
        land_id: None,
        land_name: None,
        carried_by: None,
        carrier_id: None,
        mark: Some(mark.kind.code()),
        mark_label: Some(Text::from(&mark.label)),
    });
    let mut rows: Vec<ProfileRow> = points.chain(marks).collect();
    // Stable: a mark comes after the point at its station.
    rows.sort_by(|a, b| a.station_m.0.total_cmp(&b.station_m.0));
    rows_csv(rows)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::{Grade, MarkKind, ProfileMark, ProfilePoint};
    use crate::records::land::LandItem;

    #[test]
    fn points_and_marks_stand_in_order_of_their_stations() {
        let point = |station_m: f64, ground_m| ProfilePoint {
            station_m,
            east: 500.0 + station_m,
            north: 7.0,
            ground_m,
            land: LandItem { kind: "parcel", id: Some("=1+1".to_owned()), name: None, authority: None },
            carried_by: "overland".to_owned(),
            carrier_id: None,
        };
        let profile = Profile {
            name: String::new(),
            start: String::new(),
            points: vec![point(0.0, Some(10.5)), point(10.0, None)],
            marks: vec![ProfileMark { station_m: 4.0, kind: MarkKind::LotLine, label: "007".to_owned() }],
            grades: vec![Grade { from_m: 5.0, to_m: 15.0, from_level_m: 9.0, to_level_m: 8.0, label: String::new() }],
        };
        let csv = profile_csv(&profile);
        let rows: Vec<&str> = csv.lines().skip(1).collect();
        assert_eq!(
            rows,
            [
                "0.000,500.000,7.000,10.500,,parcel,'=1+1,,overland,,,",
                "4.000,,,,,,,,,,lot_line,007",
                "10.000,510.000,7.000,,8.500,parcel,'=1+1,,overland,,,",
            ]
        );
    }
}
