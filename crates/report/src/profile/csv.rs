//! The points of a profile as a table.

use super::Profile;
use crate::tables::as_csv_text;

/// `station_m`, `east`, `north`, `ground_m`, `grade_m`, `land`, `carried_by`, `carrier_id`, `mark`, `mark_label`: a row for each
/// point, and one for each mark at its station, in order.
pub fn profile_csv(profile: &Profile) -> String {
    let mut rows: Vec<(f64, Vec<String>)> = Vec::new();
    for point in &profile.points {
        let number = |value: Option<f64>| value.map_or_else(String::new, |value| format!("{value:.3}"));
        rows.push((
            point.station_m,
            vec![
                format!("{:.3}", point.station_m),
                format!("{:.3}", point.east),
                format!("{:.3}", point.north),
                number(point.ground_m),
                number(profile.grade_at(point.station_m)),
                as_csv_text(&point.land),
                as_csv_text(&point.carried_by),
                as_csv_text(point.carrier_id.as_deref().unwrap_or_default()),
                String::new(),
                String::new(),
            ],
        ));
    }
    for mark in &profile.marks {
        let mut row = vec![String::new(); 10];
        row[0] = format!("{:.3}", mark.station_m);
        mark.kind.code().clone_into(&mut row[8]);
        row[9] = as_csv_text(&mark.label);
        rows.push((mark.station_m, row));
    }
    // Stable: a mark comes after the point at its station.
    rows.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut csv = csv::Writer::from_writer(Vec::new());
    let heads =
        ["station_m", "east", "north", "ground_m", "grade_m", "land", "carried_by", "carrier_id", "mark", "mark_label"];
    csv.write_record(heads).expect("written to memory");
    for (_, row) in rows {
        csv.write_record(row).expect("rows of one length, written to memory");
    }
    String::from_utf8(csv.into_inner().expect("written to memory")).expect("made of text")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::{Grade, MarkKind, ProfileMark, ProfilePoint};

    #[test]
    fn points_and_marks_stand_in_order_of_their_stations() {
        let point = |station_m: f64, ground_m| ProfilePoint {
            station_m,
            east: 500.0 + station_m,
            north: 7.0,
            ground_m,
            land: "=1+1".to_owned(),
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
                "0.000,500.000,7.000,10.500,,'=1+1,overland,,,",
                "4.000,,,,,,,,lot_line,007",
                "10.000,510.000,7.000,,8.500,'=1+1,overland,,,",
            ]
        );
    }
}
