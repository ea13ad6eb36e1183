//! By-law schedules of drains: which parcels are assessed, for how many hectares, and for what.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_geodata::Problem;
use fallwright_units::{HECTARES_PER_ACRE, ParcelIx, PartialDate, RoadIx, SQUARE_METRES_PER_HECTARE};
use geo::Area;
use typed_index_collections::TiSlice;

use super::csv_rows::{self, CsvRow};
use super::note::Note;
use super::parcels::Parcel;
use super::reading::Reading;
use super::roads::Road;
use crate::file::{self, AreaUnit};
use crate::nearest::meant;
use crate::spelling::folded;

/// The current schedule of one drain.
#[derive(Clone, Debug, PartialEq)]
pub struct Schedule {
    /// Id of the drain's waterway or enclosed pipe.
    pub drain: String,
    /// When the by-law was made.
    pub dated: Option<PartialDate>,
    /// By id of a parcel or road; an id that both have is the parcel's.
    pub assessed: BTreeMap<String, AssessedLand>,
}

/// What a schedule says of one parcel: a row, or one for each branch of the drain.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct AssessedLand {
    pub rows: Vec<ScheduleRow>,
}

/// One row of a schedule.
#[derive(Clone, Debug, PartialEq)]
pub struct ScheduleRow {
    /// The file's first row, the header, is number 1.
    pub row: u64,
    /// Of the drain; `None` where the schedule names none.
    pub branch: Option<String>,
    pub assessed: AssessedFor,
}

/// What land is assessed for. The two are not alike: outlet liability pays for the use of the drain as an outlet, benefit for
/// what the drain does for the land itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum AssessedFor {
    /// These hectares for outlet, be it for benefit too.
    Outlet(f64),
    /// These hectares for benefit alone.
    BenefitOnly(f64),
}

impl AssessedFor {
    /// Whatever they are assessed for.
    pub const fn hectares(self) -> f64 {
        match self {
            Self::Outlet(hectares) | Self::BenefitOnly(hectares) => hectares,
        }
    }
}

impl AssessedLand {
    /// All rows together: the hectares assessed for outlet where there are such rows, else those for benefit.
    pub fn assessed(&self) -> AssessedFor {
        let is_for_outlet = |row: &&ScheduleRow| matches!(row.assessed, AssessedFor::Outlet(_));
        let mut for_outlet = self.rows.iter().filter(is_for_outlet).peekable();
        if for_outlet.peek().is_some() {
            AssessedFor::Outlet(for_outlet.map(|row| row.assessed.hectares()).sum())
        } else {
            AssessedFor::BenefitOnly(self.hectares())
        }
    }

    /// The hectares of all rows, whatever they are assessed for.
    pub fn hectares(&self) -> f64 {
        self.rows.iter().map(|row| row.assessed.hectares()).sum()
    }
}

/// Reads the schedules of a case, in its order.
pub(super) fn read(
    reading: &mut Reading,
    tables: &[file::Schedule],
    drains: &BTreeSet<&str>,
    parcels: &TiSlice<ParcelIx, Parcel>,
    roads: &TiSlice<RoadIx, Road>,
) -> Vec<Schedule> {
    let ids = assessable(parcels, roads);
    let mut schedules = Vec::new();
    let mut earlier: BTreeMap<&str, &file::Schedule> = BTreeMap::new();
    for table in tables {
        if let Some(other) = earlier.insert(&table.drain, table) {
            let found = format!("the drain {:?}, whose schedule is {}", table.drain, other.source.given);
            let hint = "join the two files into one, with a column for the branch if they are of two branches";
            let expected = "one schedule for each drain";
            reading.problems.push(Problem::in_file(&table.source.given, found, expected, hint));
        }
        if reading.drains_are_known && !drains.contains(table.drain.as_str()) {
            let hint = meant(&table.drain, drains.iter().copied()).map_or_else(
                || "correct the drain in [[schedules]]".to_owned(),
                |near| format!("did you mean {near:?}?"),
            );
            let found = format!("the drain {:?}", table.drain);
            let expected = "the id of a waterway or pipe of the case";
            reading.problems.push(Problem::in_file(&table.source.given, found, expected, hint));
        }
        let assessed = assessed(reading, table);
        note_unknown_parcels(reading, table, &assessed, &ids);
        reading.notes.extend(areas_in_acres(table, &assessed, parcels));
        schedules.push(Schedule { drain: table.drain.clone(), dated: table.dated, assessed });
    }
    schedules
}

/// Ids that a schedule's rows may have: those of parcels and roads. None where no parcel is known.
fn assessable<'a>(parcels: &'a TiSlice<ParcelIx, Parcel>, roads: &'a TiSlice<RoadIx, Road>) -> BTreeSet<&'a str> {
    if parcels.is_empty() {
        return BTreeSet::new();
    }
    let parcels = parcels.iter().map(|parcel| parcel.id.as_str());
    parcels.chain(roads.iter().map(|road| road.id.as_str())).collect()
}

/// What each row says, by the id of a parcel or road.
fn assessed(reading: &mut Reading, table: &file::Schedule) -> BTreeMap<String, AssessedLand> {
    let [outlet, benefit, branch] = [&table.outlet, &table.benefit, &table.branch].map(|column| column.as_deref());
    let columns = [Some(table.parcel.as_str()), Some(table.hectares.as_str()), outlet, benefit, branch];
    let mut by_parcel: BTreeMap<String, AssessedLand> = BTreeMap::new();
    let mut first_rows: BTreeMap<(String, String), u64> = BTreeMap::new();
    let mut for_nothing = Vec::new();
    for row in csv_rows::read(&table.source, columns, &mut reading.problems) {
        let [parcel, _, _, _, branch] = &row.values;
        let first = *first_rows.entry((parcel.clone(), folded(branch))).or_insert(row.number);
        if first != row.number && !parcel.is_empty() {
            reading.problems.push(second_row(table, &row, first));
        }
        match assessed_for(table, &row) {
            Ok(Some(assessed)) => {
                let branch = Some(branch.clone()).filter(|branch| !branch.is_empty());
                let land = by_parcel.entry(parcel.clone()).or_default();
                land.rows.push(ScheduleRow { row: row.number, branch, assessed });
            }
            Ok(None) => for_nothing.push(parcel.clone()),
            Err(problems) => reading.problems.extend(problems),
        }
    }
    reading.notes.extend(assessed_for_nothing(table, &for_nothing));
    by_parcel
}

/// A row for a parcel, or for a branch on a parcel, that has one.
fn second_row(table: &file::Schedule, row: &CsvRow<5>, first: u64) -> Problem {
    let [parcel, _, _, _, branch] = &row.values;
    let (whose, hint) = match &table.branch {
        None => (
            String::new(),
            "join the parcel's rows into one; rows of several branches add up where the case names their column, branch = \"...\"",
        ),
        Some(_) if branch.is_empty() => {
            (" on no branch".to_owned(), "name the branch of each row, or join the rows into one")
        }
        Some(_) => (format!(" on the branch {branch:?}"), "join the rows of one branch into one"),
    };
    let found = format!("parcel {parcel} again{whose}, first in row {first}");
    Problem::in_file(&table.source.given, found, "one row for each parcel and branch", hint).at_row(row.number)
}

/// What a row's land is assessed for; `None` where no amount says so.
///
/// # Errors
/// Every value that is none.
fn assessed_for(table: &file::Schedule, row: &CsvRow<5>) -> Result<Option<AssessedFor>, Vec<Problem>> {
    let [parcel, area, outlet, benefit, _] = &row.values;
    let mut problems = Vec::new();
    let mut problem = |found: String, expected: &str| {
        let problem = Problem::in_file(&table.source.given, found, expected, "correct the row");
        problems.push(problem.at_row(row.number));
    };
    let hectares = not_negative(area).filter(|_| !parcel.is_empty()).map(|area| area * table.unit.hectares());
    if hectares.is_none() {
        let unit = table.unit.words();
        problem(
            format!("parcel {parcel:?} with {area:?} {unit}"),
            &format!("a parcel's id and its assessed {unit}, 0 or more"),
        );
    }
    let mut amount = |what: &str, text: &str| {
        let amount = if text.is_empty() { Some(0.0) } else { not_negative(text) };
        if amount.is_none() {
            let found = format!("parcel {parcel:?} with the amount {text:?} for {what}");
            problem(found, "a plain number, 0 or more, or nothing");
        }
        amount
    };
    let (outlet, benefit) = (amount("outlet", outlet), amount("benefit", benefit));
    let (Some(hectares), Some(outlet), Some(benefit)) = (hectares, outlet, benefit) else { return Err(problems) };
    Ok(if table.outlet.is_none() || outlet > 0.0 {
        Some(AssessedFor::Outlet(hectares))
    } else {
        (benefit > 0.0).then_some(AssessedFor::BenefitOnly(hectares))
    })
}

fn not_negative(text: &str) -> Option<f64> {
    text.parse().ok().filter(|number: &f64| number.is_finite() && *number >= 0.0)
}

/// More ids than this are not listed (our choice).
const LISTED: usize = 10;

fn listed(ids: &[String]) -> String {
    let more = if ids.len() > LISTED { format!(" and {} more", ids.len() - LISTED) } else { String::new() };
    format!("{}{more}", ids[..ids.len().min(LISTED)].join(", "))
}

fn assessed_for_nothing(table: &file::Schedule, parcels: &[String]) -> Option<Note> {
    let columns = table.outlet.iter().chain(&table.benefit).map(|column| format!("{column:?}"));
    let columns = columns.collect::<Vec<_>>().join(" or ");
    (!parcels.is_empty()).then(|| {
        Note::new(
            format!("schedule of {}", table.drain),
            format!("parcels without an amount in the column {columns}: {}", listed(parcels)),
            "taken as not assessed",
        )
    })
}

/// Areas that fit the parcels if they are acres.
fn areas_in_acres(
    table: &file::Schedule,
    assessed: &BTreeMap<String, AssessedLand>,
    parcels: &TiSlice<ParcelIx, Parcel>,
) -> Option<Note> {
    /// Boundaries and by-laws differ by as much in whole farms (our choice, no source).
    const TOLERANCE: f64 = 0.1;
    let is_in_acres = |hectares: f64, parcel: &Parcel| {
        let area_ha = parcel.shape.unsigned_area() / SQUARE_METRES_PER_HECTARE;
        (hectares * HECTARES_PER_ACRE / area_ha - 1.0).abs() <= TOLERANCE
    };
    let suspected = |parcel: &&Parcel| {
        let rows = assessed.get(parcel.id.as_str()).into_iter().flat_map(|land| &land.rows);
        rows.into_iter().any(|row| is_in_acres(row.assessed.hectares(), parcel))
    };
    if table.unit == AreaUnit::Acre {
        return None;
    }
    let suspected: Vec<String> = parcels.iter().filter(suspected).map(|parcel| parcel.id.to_string()).collect();
    (!suspected.is_empty()).then(|| {
        Note::new(
            format!("schedule of {}", table.drain),
            format!("parcels with about 2.47 times the hectares that they have: {}", listed(&suspected)),
            format!("taken as hectares; if the column {:?} is in acres, say unit = \"ac\"", table.hectares),
        )
    })
}

/// Ids that a spreadsheet took for numbers are refused; other parcels that the layer lacks are left out.
fn note_unknown_parcels(
    reading: &mut Reading,
    table: &file::Schedule,
    assessed: &BTreeMap<String, AssessedLand>,
    parcels: &BTreeSet<&str>,
) {
    if parcels.is_empty() {
        return;
    }
    let number = |id: &str| id.trim_start_matches('0').to_owned();
    let numbers: BTreeMap<String, &str> = parcels.iter().map(|id| (number(id), *id)).collect();
    let (mut mistaken, mut unknown) = (Vec::new(), Vec::new());
    for id in assessed.keys().map(String::as_str).filter(|id| !parcels.contains(id)) {
        match numbers.get(&number(id)) {
            Some(parcel) => mistaken.push(format!("{id} ({parcel} in the layer)")),
            None => unknown.push(id),
        }
    }
    if !mistaken.is_empty() {
        let found = format!("parcels that differ from the layer's by leading zeros alone: {}", listed(&mistaken));
        let hint = "correct the ids; a spreadsheet drops the zeros unless the column is text";
        reading.problems.push(Problem::in_file(&table.source.given, found, "ids as in the parcel layer", hint));
    }
    if !unknown.is_empty() {
        reading.notes.push(Note::new(
            format!("schedule of {}", table.drain),
            format!("parcels that the parcel layer lacks: {}", unknown.join(", ")),
            "they were left out of every finding; the layer or the schedule may be out of date",
        ));
    }
}

#[cfg(test)]
mod tests {
    use fallwright_geodata::{Crs, Projector};
    use fallwright_units::{Frame, ParcelId};
    use geo::{MultiPolygon, Rect};
    use typed_index_collections::TiVec;

    use super::*;
    use crate::file::Source;

    /// What reading the schedules of D-07 and others yields beside a parcel 001 of 10 ha and a parcel 002 of 4 ha.
    struct Read {
        schedules: Vec<Schedule>,
        problems: Vec<String>,
        notes: Vec<Note>,
    }

    /// A schedule of D-07 with the columns `roll` and `ha`.
    fn plain() -> file::Schedule {
        file::Schedule {
            source: Source::default(),
            drain: "D-07".to_owned(),
            parcel: "roll".to_owned(),
            hectares: "ha".to_owned(),
            outlet: None,
            benefit: None,
            branch: None,
            unit: AreaUnit::Hectare,
            dated: None,
        }
    }

    fn read(tables: &[(file::Schedule, &str)]) -> Read {
        let home = tempfile::tempdir().unwrap();
        let sourced = tables.iter().enumerate().map(|(position, (table, content))| {
            let given = format!("schedule{}.csv", position + 1);
            let path = home.path().join(&given);
            std::fs::write(&path, content).unwrap();
            file::Schedule { source: Source { given, path, repair: false }, ..table.clone() }
        });
        let tables: Vec<file::Schedule> = sourced.collect();
        let parcel = |id: &str, width_m: f64, height_m: f64| Parcel {
            id: ParcelId::new(id),
            owner: None,
            legal: None,
            owned_since: None,
            shape: MultiPolygon::new(vec![Rect::new((0.0, 0.0), (width_m, height_m)).to_polygon()]),
        };
        let parcels = TiVec::from(vec![parcel("001", 500.0, 200.0), parcel("002", 200.0, 200.0)]);
        let crs = Crs::from_text("EPSG:26917").unwrap();
        let mut reading = Reading {
            crs: &crs,
            stated_crs: None,
            to_lonlat: &Projector::to_lonlat(&crs).unwrap(),
            sliver_m: 2.0,
            repair: false,
            frame: &Frame::new(1, 1, (0.0, 0.0), (1.0, 1.0)).unwrap(),
            case_file: "case.toml",
            profile: None,
            defaults: None,
            drains_are_known: true,
            problems: Vec::new(),
            notes: Vec::new(),
        };
        let schedules =
            super::read(&mut reading, &tables, &BTreeSet::from(["D-07", "D-07A"]), &parcels, TiSlice::from_ref(&[]));
        let problems = reading.problems.iter().map(ToString::to_string).collect();
        Read { schedules, problems, notes: reading.notes }
    }

    fn check_problems(table: file::Schedule, content: &str, expected: &[&str]) {
        let problems = read(&[(table, content)]).problems;
        assert_eq!(problems.len(), expected.len(), "{problems:#?}");
        for (problem, words) in problems.iter().zip(expected) {
            assert!(problem.contains(words), "no {words:?} in {problem}");
        }
    }

    /// A schedule without fault and without notes: what it says of each parcel.
    fn check(table: file::Schedule, content: &str, expected: &[(&str, AssessedFor)]) {
        let Read { schedules, problems, notes } = read(&[(table, content)]);
        assert!(problems.is_empty() && notes.is_empty(), "{problems:#?} {notes:#?}");
        let found: Vec<_> =
            schedules[0].assessed.iter().map(|(parcel, land)| (parcel.as_str(), land.assessed())).collect();
        assert_eq!(found, expected);
    }

    fn with_amounts() -> file::Schedule {
        file::Schedule { outlet: Some("out".to_owned()), benefit: Some("ben".to_owned()), ..plain() }
    }

    fn with_branches() -> file::Schedule {
        file::Schedule { branch: Some("branch".to_owned()), ..plain() }
    }

    #[test]
    fn without_amounts_every_row_is_for_outlet() {
        use AssessedFor::Outlet;
        check(plain(), "roll,ha\n001,6.5\n002,0\n", &[("001", Outlet(6.5)), ("002", Outlet(0.0))]);
    }

    #[test]
    fn a_row_for_benefit_alone_is_no_outlet() {
        use AssessedFor::{BenefitOnly, Outlet};
        check(
            with_amounts(),
            "roll,ha,out,ben\n001,6.5,120.50,80\n002,3.5,0,80\n",
            &[("001", Outlet(6.5)), ("002", BenefitOnly(3.5))],
        );
        check(
            with_amounts(),
            "roll,ha,out,ben\n001,6.5,1,\n002,3.5,,0.01\n",
            &[("001", Outlet(6.5)), ("002", BenefitOnly(3.5))],
        );
    }

    #[test]
    fn a_row_for_neither_is_noted_and_left_out() {
        let Read { schedules, problems, notes } =
            read(&[(with_amounts(), "roll,ha,out,ben\n001,6.5,120,0\n002,3.5,0,\n")]);
        assert!(problems.is_empty(), "{problems:?}");
        assert_eq!(schedules[0].assessed.keys().collect::<Vec<_>>(), ["001"]);
        assert_eq!(notes.len(), 1);
        assert_eq!(notes[0].found, "parcels without an amount in the column \"out\" or \"ben\": 002");
    }

    /// By definition: 43,560 ft² of 0.3048 m each way, 4 046.856 422 4 m².
    #[test]
    fn acres_become_hectares() {
        let acres = |content: &str, expected_ha: f64| {
            let Read { schedules, problems, notes } =
                read(&[(file::Schedule { unit: AreaUnit::Acre, ..plain() }, content)]);
            assert!(problems.is_empty() && notes.is_empty(), "{problems:#?} {notes:#?}");
            let found = schedules[0].assessed["001"].hectares();
            assert!((found - expected_ha).abs() < 1e-12, "{found}");
        };
        acres("roll,ha\n001,1\n", 0.404_685_642_24);
        acres("roll,ha\n001,25\n", 10.117_141_056);
        check_problems(
            file::Schedule { unit: AreaUnit::Acre, ..plain() },
            "roll,ha\n001,x\n",
            &["parcel \"001\" with \"x\" acres"],
        );
    }

    /// 10 ha are 24.71 acres, 4 ha 9.88.
    #[test]
    fn hectares_that_look_like_acres_are_noted() {
        let noted = |table: file::Schedule, content: &str, expected: Option<&str>| {
            let notes = read(&[(table, content)]).notes;
            let found: Vec<&str> = notes.iter().map(|note| note.found.as_str()).collect();
            assert_eq!(found, expected.into_iter().collect::<Vec<_>>(), "{content}");
        };
        let both = "parcels with about 2.47 times the hectares that they have: 001, 002";
        noted(plain(), "roll,ha\n001,24.7\n002,9.9\n", Some(both));
        let one = "parcels with about 2.47 times the hectares that they have: 001";
        noted(plain(), "roll,ha\n001,23.0\n002,3.9\n", Some(one));
        noted(plain(), "roll,ha\n001,10.0\n002,3.9\n", None);
        noted(plain(), "roll,ha\n001,16.0\n", None);
        noted(plain(), "roll,ha\n001,40.0\n", None);
        noted(file::Schedule { unit: AreaUnit::Acre, ..plain() }, "roll,ha\n001,24.7\n", None);
    }

    #[test]
    fn two_rows_of_a_parcel_are_refused_with_both_named() {
        check_problems(
            plain(),
            "roll,ha\n001,6.5\n002,1.0\n001,2.0\n001,3.0\n",
            &["row 4: found parcel 001 again, first in row 2", "row 5: found parcel 001 again, first in row 2"],
        );
        check_problems(
            with_branches(),
            "roll,ha,branch\n001,6.5,Main\n001,1.0,main\n002,1.0,\n002,1.0,\n",
            &["row 3: found parcel 001 again on the branch \"main\", first in row 2", "002 again on no branch"],
        );
    }

    #[test]
    fn rows_of_several_branches_add_up_and_are_kept() {
        use AssessedFor::{BenefitOnly, Outlet};
        check(
            with_branches(),
            "roll,ha,branch\n001,6.5,Main\n002,1.0,Main\n001,1.0,Branch A\n",
            &[("001", Outlet(7.5)), ("002", Outlet(1.0))],
        );
        let table = file::Schedule { branch: Some("branch".to_owned()), ..with_amounts() };
        let content = "roll,ha,out,ben,branch\n001,6.5,10,0,Main\n001,1.0,0,10,A\n002,1.0,0,3,Main\n002,2.0,0,3,A\n";
        check(table.clone(), content, &[("001", Outlet(6.5)), ("002", BenefitOnly(3.0))]);
        let land = &read(&[(table, content)]).schedules[0].assessed["001"];
        let rows: Vec<_> = land.rows.iter().map(|row| (row.row, row.branch.as_deref(), row.assessed)).collect();
        assert_eq!(rows, [(2, Some("Main"), Outlet(6.5)), (3, Some("A"), BenefitOnly(1.0))]);
        assert_eq!(land.hectares(), 7.5);
    }

    #[test]
    fn every_faulty_row_is_reported() {
        check_problems(
            with_amounts(),
            "roll,ha,out,ben\n001,six,-3,few\n,2,1,1\n002,inf,1,1\n001,1,1,1\n1,5,1,1\n",
            &[
                "row 2: found parcel \"001\" with \"six\" hectares",
                "row 2: found parcel \"001\" with the amount \"-3\" for outlet",
                "row 2: found parcel \"001\" with the amount \"few\" for benefit",
                "row 3: found parcel \"\" with \"2\" hectares",
                "row 4: found parcel \"002\" with \"inf\" hectares",
                "row 5: found parcel 001 again, first in row 2",
                "1 (001 in the layer)",
            ],
        );
    }

    #[test]
    fn a_branch_may_have_a_schedule_of_its_own() {
        let branch = file::Schedule { drain: "D-07A".to_owned(), ..plain() };
        let Read { schedules, problems, .. } = read(&[(plain(), "roll,ha\n001,6.5\n"), (branch, "roll,ha\n001,2\n")]);
        assert!(problems.is_empty(), "{problems:?}");
        let found: Vec<_> = schedules.iter().map(|schedule| (schedule.drain.as_str(), &schedule.assessed)).collect();
        assert_eq!((found[0].0, found[0].1["001"].hectares()), ("D-07", 6.5));
        assert_eq!((found[1].0, found[1].1["001"].hectares()), ("D-07A", 2.0));
    }

    #[test]
    fn a_drain_has_one_schedule() {
        let problems = read(&[(plain(), "roll,ha\n001,6.5\n"), (plain(), "roll,ha\n002,2\n")]).problems;
        assert_eq!(problems.len(), 1, "{problems:#?}");
        assert!(problems[0].contains("schedule2.csv: found the drain \"D-07\", whose schedule is schedule1.csv"));
    }
}
