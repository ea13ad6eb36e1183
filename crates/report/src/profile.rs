//! Profiles: the ground along a path or a drain, with stations, lot lines, crossings and structures.

use crate::records::land::LandItem;

/// A profile in the direction of flow.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    /// What it runs along, for titles.
    pub name: String,
    /// What lies at station 0.
    pub start: String,
    pub points: Vec<ProfilePoint>,
    pub marks: Vec<ProfileMark>,
    /// Design grades where they are known.
    pub grades: Vec<Grade>,
}

#[derive(Clone, Debug, PartialEq)]
pub struct ProfilePoint {
    /// Metres from the start.
    pub station_m: f64,
    pub east: f64,
    pub north: f64,
    /// Ground as surveyed, metres; `None` where there is none.
    pub ground_m: Option<f64>,
    pub land: LandItem,
    /// What carries the water on from here, and its id.
    pub carried_by: String,
    pub carrier_id: Option<String>,
}

/// A place on a profile.
#[derive(Clone, Debug, PartialEq)]
pub struct ProfileMark {
    pub station_m: f64,
    pub kind: MarkKind,
    pub label: String,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MarkKind {
    /// The path enters other land.
    LotLine,
    /// A culvert or pipe begins.
    Structure,
    /// Water of another waterway joins.
    Junction,
}

impl MarkKind {
    pub const fn code(self) -> &'static str {
        match self {
            Self::LotLine => "lot_line",
            Self::Structure => "structure",
            Self::Junction => "junction",
        }
    }
}

/// A straight grade line between two stations.
#[derive(Clone, Debug, PartialEq)]
pub struct Grade {
    pub from_m: f64,
    pub to_m: f64,
    pub from_level_m: f64,
    pub to_level_m: f64,
    pub label: String,
}

impl Grade {
    /// Level at a station within the grade, metres.
    pub fn level_at(&self, station_m: f64) -> Option<f64> {
        if station_m < self.from_m || station_m > self.to_m || self.to_m <= self.from_m {
            return None;
        }
        let along = (station_m - self.from_m) / (self.to_m - self.from_m);
        Some(self.from_level_m + along * (self.to_level_m - self.from_level_m))
    }
}

impl Profile {
    pub fn length_m(&self) -> f64 {
        self.points.last().map_or(0.0, |point| point.station_m)
    }

    /// Grade level at a station, where one is known.
    pub fn grade_at(&self, station_m: f64) -> Option<f64> {
        self.grades.iter().find_map(|grade| grade.level_at(station_m))
    }
}

/// A station as it is written in the field: hundreds and the rest, `3+45` for 345 m.
pub(crate) fn station(metres: f64) -> String {
    let whole = metres.round() as i64;
    format!("{}+{:02}", whole / 100, whole % 100)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stations_are_written_in_hundreds() {
        let check = |metres, expected| assert_eq!(station(metres), expected);
        check(0.0, "0+00");
        check(7.4, "0+07");
        check(345.0, "3+45");
        check(1200.0, "12+00");
    }

    #[test]
    fn a_grade_is_known_between_its_ends() {
        let grade = Grade { from_m: 10.0, to_m: 20.0, from_level_m: 5.0, to_level_m: 4.0, label: String::new() };
        let check = |station, expected| assert_eq!(grade.level_at(station), expected);
        check(9.0, None);
        check(10.0, Some(5.0));
        check(15.0, Some(4.5));
        check(21.0, None);
    }
}
