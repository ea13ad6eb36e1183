//! Beds of mapped waterways from surveyed levels.

use std::collections::BTreeMap;

use fallwright_units::{Cell, Frame, PartialDate, Raster, WaterwayIx};

use fallwright_case::{Level, LevelKind, LevelPlace, Note};

/// Surveyed bed levels by the cell of the waterway that they lie nearest to.
pub(super) type Surveyed<'a> = BTreeMap<Cell, &'a Level>;

/// The bed levels of a waterway by its cells; of several at one cell the latest, of one date the last row.
pub(super) fn by_cell<'a>(frame: &Frame, levels: &'a [Level], waterway: WaterwayIx, cells: &[Cell]) -> Surveyed<'a> {
    let of_bed =
        levels.iter().filter(|level| level.kind == LevelKind::Bed && level.place == LevelPlace::Waterway(waterway));
    let mut surveyed = Surveyed::new();
    for level in of_bed {
        let distance_m = |&cell: &Cell| {
            let (x, y) = frame.centre(cell);
            (x - level.x).hypot(y - level.y)
        };
        let nearest = cells.iter().copied().min_by(|a, b| distance_m(a).total_cmp(&distance_m(b)).then(a.cmp(b)));
        let Some(nearest) = nearest else { continue };
        let at = surveyed.entry(nearest).or_insert(level);
        if level.date >= at.date {
            *at = level;
        }
    }
    surveyed
}

/// The levels along a chain of cells, in its order, with the cells' positions.
pub(super) fn along<'a>(chain: &[Cell], surveyed: &Surveyed<'a>) -> Vec<(usize, &'a Level)> {
    chain.iter().enumerate().filter_map(|(position, cell)| Some((position, *surveyed.get(cell)?))).collect()
}

/// How far the surveyed bed rises from the first level along some cells to the last, metres.
pub(super) fn rise_m(levels: &[(usize, &Level)]) -> Option<f64> {
    let [(_, first), .., (_, last)] = levels else { return None };
    Some(last.level_m - first.level_m)
}

/// Bed levels of the cells of a chain, drawn downstream, from the first surveyed one to the last, metres: straight by the
/// distance along the cells' centres. A level above one upstream of it counts as high as that one.
pub(super) fn interpolated(frame: &Frame, chain: &[Cell], levels: &[(usize, &Level)]) -> Vec<(Cell, f32)> {
    let mut lowest = f64::INFINITY;
    let falling: Vec<(usize, f64)> = levels
        .iter()
        .map(|&(position, level)| {
            lowest = lowest.min(level.level_m);
            (position, lowest)
        })
        .collect();
    let step = |position: usize| frame.distance(chain[position], chain[position + 1]);
    let mut beds: Vec<(Cell, f32)> =
        falling.first().iter().map(|&&(position, level)| (chain[position], level as f32)).collect();
    for pair in falling.windows(2) {
        let [(from, upper), (to, lower)] = pair else { continue };
        let length_m: f64 = (*from..*to).map(step).sum();
        let mut along_m = 0.0;
        for position in *from..*to {
            along_m += step(position);
            let level = upper + (lower - upper) * along_m / length_m;
            beds.push((chain[position + 1], level as f32));
        }
    }
    beds
}

/// Tells how much of a waterway's bed is surveyed, and where the survey contradicts itself or the ground.
pub(super) fn notes(id: &str, ground: &Raster<f32>, chains: &[Vec<Cell>], surveyed: &Surveyed) -> Vec<Note> {
    let along: Vec<Vec<(usize, &Level)>> = chains.iter().map(|chain| along(chain, surveyed)).collect();
    let about = format!("waterway {id}");
    let mut notes = Vec::new();
    if let Some((first, last)) = dates(surveyed) {
        let surveyed_m: f64 = chains
            .iter()
            .zip(&along)
            .filter_map(|(chain, levels)| Some(&chain[levels.first()?.0..=levels.last()?.0]))
            .flat_map(|stretch| stretch.windows(2))
            .map(|pair| ground.frame.distance(pair[0], pair[1]))
            .sum();
        notes.push(Note::new(
            &about,
            format!("{} surveyed bed levels ({first} to {last}) along {surveyed_m:.0} m of it", surveyed.len()),
            "its bed is straight between them; elsewhere it is taken from the elevation",
        ));
    }
    let rises = along.iter().flat_map(|levels| levels.windows(2)).map(|pair| (pair[0].1, pair[1].1));
    if let Some((upper, lower)) =
        rises.max_by(|a, b| (a.1.level_m - a.0.level_m).total_cmp(&(b.1.level_m - b.0.level_m)))
        && lower.level_m > upper.level_m
    {
        notes.push(Note::new(
            &about,
            format!(
                "surveyed bed levels that rise downstream, most from {} m ({} row {}) to {} m ({} row {})",
                upper.level_m, upper.file, upper.row, lower.level_m, lower.file, lower.row
            ),
            "the bed is taken to run through at the lower level; check the survey, and whether the channel is silted up",
        ));
    }
    let above = surveyed.iter().map(|(&cell, level)| (level.level_m - f64::from(ground[cell]), level));
    if let Some((above_m, level)) = above.max_by(|a, b| a.0.total_cmp(&b.0))
        && above_m > 0.0
    {
        notes.push(Note::new(
            &about,
            format!("a surveyed bed {above_m:.2} m above the ground ({} row {})", level.file, level.row),
            "the ground is not raised; check the level and its datum, or whether the channel has silted up since",
        ));
    }
    notes
}

/// The first and the last date of the levels; `None` without levels.
fn dates(surveyed: &Surveyed) -> Option<(PartialDate, PartialDate)> {
    let dates = || surveyed.values().map(|level| level.date);
    dates().min().zip(dates().max())
}

#[cfg(test)]
mod tests {
    use super::*;

    const FRAME: fn() -> Frame = || Frame::new(6, 2, (0.0, 20.0), (10.0, 10.0)).unwrap();

    fn bed(x: f64, level_m: f64, date: &str) -> Level {
        Level {
            feature: "D".to_owned(),
            place: LevelPlace::Waterway(WaterwayIx(0)),
            x,
            y: 16.0,
            kind: LevelKind::Bed,
            level_m,
            date: date.parse().unwrap(),
            datum: "invented".to_owned(),
            file: "levels.csv".to_owned(),
            row: 2,
        }
    }

    fn chain() -> Vec<Cell> {
        (0..6).map(Cell).collect()
    }

    #[test]
    fn the_latest_level_of_a_cell_counts() {
        let check = |levels: &[Level], expected: &[(usize, f64)]| {
            let found: Vec<(usize, f64)> = by_cell(&FRAME(), levels, WaterwayIx(0), &chain())
                .iter()
                .map(|(cell, level)| (cell.0, level.level_m))
                .collect();
            assert_eq!(found, expected);
        };
        check(&[bed(4.0, 9.0, "2024"), bed(31.0, 8.0, "2024")], &[(0, 9.0), (3, 8.0)]);
        check(&[bed(4.0, 9.0, "2024"), bed(6.0, 8.8, "2019-04")], &[(0, 9.0)]);
        check(&[bed(4.0, 9.0, "2024"), bed(6.0, 8.8, "2024-01")], &[(0, 8.8)]);
        check(&[Level { kind: LevelKind::Water, ..bed(4.0, 9.0, "2024") }], &[]);
        check(&[Level { place: LevelPlace::Waterway(WaterwayIx(1)), ..bed(4.0, 9.0, "2024") }], &[]);
    }

    #[test]
    fn the_bed_is_straight_between_levels_and_falls() {
        let check = |levels: &[(f64, f64)], expected: &[(usize, f32)]| {
            let levels: Vec<Level> = levels.iter().map(|&(x, level)| bed(x, level, "2024")).collect();
            let surveyed = by_cell(&FRAME(), &levels, WaterwayIx(0), &chain());
            let beds = interpolated(&FRAME(), &chain(), &along(&chain(), &surveyed));
            let beds: Vec<(usize, f32)> = beds.into_iter().map(|(cell, level)| (cell.0, level)).collect();
            assert_eq!(beds, expected);
        };
        check(&[(15.0, 9.0), (45.0, 8.25)], &[(1, 9.0), (2, 8.75), (3, 8.5), (4, 8.25)]);
        check(&[(15.0, 9.0)], &[(1, 9.0)]);
        check(&[(5.0, 9.0), (25.0, 9.5), (45.0, 8.0)], &[(0, 9.0), (1, 9.0), (2, 9.0), (3, 8.5), (4, 8.0)]);
        check(&[], &[]);
    }

    #[test]
    fn what_contradicts_itself_or_the_ground_is_told() {
        let check = |levels: &[(f64, f64)], expected: &[&str]| {
            let levels: Vec<Level> = levels.iter().map(|&(x, level)| bed(x, level, "2024")).collect();
            let ground = Raster { frame: FRAME(), values: vec![10.0; 12] };
            let surveyed = by_cell(&ground.frame, &levels, WaterwayIx(0), &chain());
            let notes = notes("D", &ground, &[chain()], &surveyed);
            assert_eq!(notes.len(), expected.len(), "{notes:#?}");
            assert!(notes.iter().zip(expected).all(|(note, words)| note.found.contains(words)), "{notes:#?}");
        };
        check(&[], &[]);
        check(&[(15.0, 9.0), (45.0, 8.25)], &["2 surveyed bed levels (2024 to 2024) along 30 m"]);
        check(
            &[(15.0, 9.0), (45.0, 9.5)],
            &["2 surveyed", "rise downstream, most from 9 m (levels.csv row 2) to 9.5 m"],
        );
        check(&[(15.0, 10.4)], &["1 surveyed", "0.40 m above the ground"]);
    }
}
