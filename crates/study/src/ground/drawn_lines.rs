//! Lines of waterways on cells, and which way water runs along them.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_case::{Inputs, MappedWaterway, Note};
use fallwright_land::cells_along;
use fallwright_units::{Cell, WaterwayIx};
use geo::{Coord, LineString};
use typed_index_collections::TiVec;

use super::beds::{self, Surveyed};
use super::level_doubt::{STANDARD_DEVIATIONS_OF_DOUBT, level_doubt_m};

/// Vertices closer than this are one, metres: the reading of one place in two layers may differ in the last digit (our choice).
const SAME_PLACE_M: f64 = 0.01;

/// The lines of a waterway on cells with data, in the direction of flow.
pub(super) struct DrawnLines<'a> {
    /// Each line as chains: one for each stretch that has data.
    pub lines: Vec<Vec<Vec<Cell>>>,
    /// Whether a line was turned round.
    pub is_turned: Vec<bool>,
    pub surveyed: Surveyed<'a>,
}

/// The lines of all waterways. A line along which the ground clearly rises is taken the other way round where the lines at its
/// ends agree: what it meets at its beginning as drawn goes on from there, and nothing goes on from its end as drawn. Every line
/// turned, and every one kept against the ground, is noted.
///
/// *Complexity*: O(v log v) for v vertices, and linear in the cells.
pub(super) fn on_cells<'a>(inputs: &'a Inputs, notes: &mut Vec<Note>) -> TiVec<WaterwayIx, DrawnLines<'a>> {
    let mut drawn: TiVec<WaterwayIx, DrawnLines> =
        inputs.waterways.iter_enumerated().map(|(position, mapped)| as_drawn(inputs, position, mapped)).collect();
    let rises = Rises::find(inputs, &drawn, notes);
    let topology = Topology::of(inputs, &rises);
    for (&(position, line), rise_m) in &rises.0 {
        let mapped = &inputs.waterways[position];
        let agrees = topology.agrees_to_turn(&mapped.lines.0[line]);
        let done = if agrees {
            let of_waterway = &mut drawn[position];
            of_waterway.is_turned[line] = true;
            turn(&mut of_waterway.lines[line]);
            "taken as flowing the other way; correct the line if it is meant as drawn"
        } else {
            "taken as flowing the way it is drawn, since the lines that it meets at its ends are drawn so; correct the line if it is not meant as drawn"
        };
        notes.push(note(mapped, *rise_m, "", done));
    }
    drawn
}

/// A line as chains of cells with data.
pub(super) fn parts(inputs: &Inputs, line: &LineString<f64>) -> Vec<Vec<Cell>> {
    cells_along(&inputs.ground.frame, line)
        .into_iter()
        .map(|chain| chain.into_iter().filter(|&cell| !inputs.ground[cell].is_nan()).collect())
        .filter(|chain: &Vec<Cell>| !chain.is_empty())
        .collect()
}

pub(super) fn turn(parts: &mut [Vec<Cell>]) {
    parts.reverse();
    for chain in parts {
        chain.reverse();
    }
}

fn as_drawn<'a>(inputs: &'a Inputs, position: WaterwayIx, mapped: &MappedWaterway) -> DrawnLines<'a> {
    let lines: Vec<Vec<Vec<Cell>>> = mapped.lines.iter().map(|line| parts(inputs, line)).collect();
    let cells: Vec<Cell> = lines.iter().flatten().flatten().copied().collect();
    let surveyed = beds::by_cell(&inputs.ground.frame, &inputs.levels, position, &cells);
    DrawnLines { is_turned: vec![false; lines.len()], lines, surveyed }
}

fn note(mapped: &MappedWaterway, rise_m: f64, more: &str, done: &str) -> Note {
    let found = format!("a line drawn uphill: the ground along it rises by {rise_m:.2} m{more}");
    Note::new(format!("waterway {}", mapped.id), found, done)
}

/// How far the ground clearly rises along lines as drawn, metres, where no survey shows that their bed falls.
struct Rises(BTreeMap<(WaterwayIx, usize), f64>);

impl Rises {
    fn find(inputs: &Inputs, drawn: &TiVec<WaterwayIx, DrawnLines>, notes: &mut Vec<Note>) -> Self {
        let doubt_m = level_doubt_m(inputs);
        let mut rises = BTreeMap::new();
        for (position, of_waterway) in drawn.iter_enumerated() {
            for (line, parts) in of_waterway.lines.iter().enumerate() {
                let levels: Vec<f32> = parts.iter().flatten().map(|&cell| inputs.ground[cell]).collect();
                let Some(rise_m) = clear_rise(&levels, doubt_m) else { continue };
                let surveyed = beds::rise_m(&beds::along(&parts.concat(), &of_waterway.surveyed));
                match surveyed.map(|rise| -rise).filter(|&fall| fall > 0.0) {
                    Some(fall_m) => {
                        let more = format!(", while its surveyed bed falls by {fall_m:.2} m");
                        let done = "taken as flowing the way it is drawn";
                        notes.push(note(&inputs.waterways[position], rise_m, &more, done));
                    }
                    None => drop(rises.insert((position, line), rise_m)),
                }
            }
        }
        Self(rises)
    }
}

/// A vertex in steps of [`SAME_PLACE_M`].
type Place = (i64, i64);

/// The lines that meet at vertices, each turned where the ground clearly rises along it.
struct Topology {
    /// How many lines come to an end of theirs, or go on from it; those that run through count as both.
    coming: BTreeMap<Place, usize>,
    going: BTreeMap<Place, usize>,
}

impl Topology {
    fn of(inputs: &Inputs, rises: &Rises) -> Self {
        let mut topology = Self { coming: BTreeMap::new(), going: BTreeMap::new() };
        let ends: BTreeSet<Place> = inputs
            .waterways
            .iter()
            .flat_map(|mapped| &mapped.lines)
            .filter_map(|line| Some([place(*line.0.first()?), place(*line.0.last()?)]))
            .flatten()
            .collect();
        for (position, mapped) in inputs.waterways.iter_enumerated() {
            for (number, line) in mapped.lines.iter().enumerate() {
                let is_turned = rises.0.contains_key(&(position, number));
                topology.add(line, is_turned, &ends);
            }
        }
        topology
    }

    fn add(&mut self, line: &LineString<f64>, is_turned: bool, ends: &BTreeSet<Place>) {
        let [first, .., last] = line.0[..] else { return };
        let (from, to) = if is_turned { (last, first) } else { (first, last) };
        *self.going.entry(place(from)).or_default() += 1;
        *self.coming.entry(place(to)).or_default() += 1;
        let inside: BTreeSet<Place> = line.0[1..line.0.len() - 1].iter().map(|&at| place(at)).collect();
        for &at in inside.intersection(ends) {
            *self.going.entry(at).or_default() += 1;
            *self.coming.entry(at).or_default() += 1;
        }
    }

    /// Of a line that counts as turned here: whether its water goes on from its beginning as drawn, or meets nothing there, and
    /// nothing else takes the water on from its end as drawn.
    fn agrees_to_turn(&self, line: &LineString<f64>) -> bool {
        let [first, .., last] = line.0[..] else { return true };
        let count = |at: &BTreeMap<Place, usize>, of: Coord<f64>| at.get(&place(of)).copied().unwrap_or(0);
        let (others_come, goes_on) = (count(&self.coming, first) > 1, count(&self.going, first) > 0);
        let is_taken_on = count(&self.going, last) > 1;
        (goes_on || !others_come) && !is_taken_on
    }
}

fn place(at: Coord<f64>) -> Place {
    ((at.x / SAME_PLACE_M).round() as i64, (at.y / SAME_PLACE_M).round() as i64)
}

/// How far the ground rises along a line, metres, where that is clear: the straight grade fitted to all its cells rises by
/// more than the doubt about a level and more than the ground scatters about that grade. On coarse cells the levels at
/// the two ends alone say little: a cell holds the banks too, and the channel may lie in the cell beside it.
///
/// *Method*: least squares on the position in the line.
fn clear_rise(levels: &[f32], doubt_m: f64) -> Option<f64> {
    /// Fewer cells cannot show how much the ground scatters (our choice).
    const FEWEST_CELLS: usize = 5;
    if levels.len() < FEWEST_CELLS {
        return None;
    }
    let cells = levels.len() as f64;
    let middle = (cells - 1.0) / 2.0;
    let mean = levels.iter().map(|&z| f64::from(z)).sum::<f64>() / cells;
    let about_middle = || levels.iter().enumerate().map(|(at, &z)| (at as f64 - middle, f64::from(z) - mean));
    let spread: f64 = about_middle().map(|(x, _)| x * x).sum();
    let grade = about_middle().map(|(x, z)| x * z).sum::<f64>() / spread;
    let scatter = (about_middle().map(|(x, z)| (z - grade * x).powi(2)).sum::<f64>() / (cells - 2.0)).sqrt();
    let rise = grade * (cells - 1.0);
    (rise > doubt_m.max(STANDARD_DEVIATIONS_OF_DOUBT * scatter)).then_some(rise)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(levels: &[f32], doubt_m: f64, expected: Option<f64>) {
        let found = clear_rise(levels, doubt_m).map(|rise| (rise * 1000.0).round() / 1000.0);
        assert_eq!(found, expected, "{levels:?}");
    }

    /// Lines by their vertices, those along which the ground rises, and whether the first is to be turned.
    fn check_turned(lines: &[&[(f64, f64)]], rising: &[usize], expected: bool) {
        let lines: Vec<LineString<f64>> = lines.iter().map(|line| line.to_vec().into()).collect();
        let ends = lines.iter().flat_map(|line| [place(line.0[0]), place(*line.0.last().unwrap())]).collect();
        let mut topology = Topology { coming: BTreeMap::new(), going: BTreeMap::new() };
        for (number, line) in lines.iter().enumerate() {
            topology.add(line, rising.contains(&number), &ends);
        }
        assert_eq!(topology.agrees_to_turn(&lines[0]), expected, "{lines:?}");
    }

    #[test]
    fn a_line_is_turned_where_its_neighbours_agree() {
        let line = |points: &'static [(f64, f64)]| points;
        let rising = line(&[(0.0, 0.0), (10.0, 0.0)]);
        check_turned(&[rising], &[0], true);
        // From its beginning as drawn a line goes on, or one runs through; others come there too.
        check_turned(&[rising, &[(0.0, 0.0), (-10.0, 0.0)]], &[0], true);
        check_turned(&[rising, &[(0.0, 9.0), (0.001, 0.0), (0.0, -9.0)]], &[0], true);
        check_turned(&[rising, &[(0.0, 0.0), (-10.0, 0.0)], &[(0.0, 9.0), (0.0, 0.0)]], &[0], true);
        // What comes to its end as drawn goes on in it.
        check_turned(&[rising, &[(0.0, 0.0), (-10.0, 0.0)], &[(20.0, 0.0), (10.0, 0.0)]], &[0], true);
        // The line that comes to its beginning would have no way on; the one that takes it on would have nothing to take.
        check_turned(&[rising, &[(-10.0, 0.0), (0.0, 0.0)]], &[0], false);
        check_turned(&[rising, &[(10.0, 0.0), (20.0, 0.0)]], &[0], false);
        // Both are drawn the wrong way.
        check_turned(&[rising, &[(-10.0, 0.0), (0.0, 0.0)]], &[0, 1], true);
        check_turned(&[rising, &[(10.0, 0.0), (20.0, 0.0)]], &[0, 1], true);
    }

    #[test]
    fn a_line_rises_where_its_whole_profile_says_so() {
        check(&[100.0, 100.25, 100.5, 100.75, 101.0], 0.3, Some(1.0));
        check(&[101.0, 100.75, 100.5, 100.25, 100.0], 0.3, None);
        check(&[100.0, 100.05, 100.1, 100.15, 100.2], 0.3, None);
        check(&[100.0, 100.05, 100.1, 100.15, 100.2], 0.1, Some(0.2));
        check(&[100.0, 100.5, 101.0, 101.5], 0.3, None);
        check(&[], 0.3, None);
    }

    #[test]
    fn ends_alone_prove_nothing_where_the_ground_scatters() {
        // The last cell is a metre above the first, on ground that goes up and down by as much.
        check(&[36.0, 36.8, 35.9, 36.9, 36.1, 36.6, 35.8, 37.0], 0.3, None);
        // A steady rise with an embankment in the middle.
        check(&[36.0, 36.1, 36.2, 36.3, 36.4, 36.9, 36.6, 36.7, 36.8, 36.9, 37.0], 0.3, Some(1.0));
    }
}
