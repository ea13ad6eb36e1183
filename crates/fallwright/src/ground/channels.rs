//! Mapped waterways on cells, in the direction of flow.

use fallwright_land::cells_along;
use fallwright_network::Waterway;
use fallwright_units::Cell;

use super::{STANDARD_DEVIATIONS_OF_DOUBT, level_doubt_m, waterway_is_lawful};
use crate::inputs::{Inputs, MappedWaterway, Note};

/// The waterways of a case as chains of cells. A line along which the ground clearly rises is taken the other way round,
/// and noted.
pub(super) fn on_cells(inputs: &Inputs, notes: &mut Vec<Note>) -> Vec<Waterway> {
    inputs.waterways.iter().map(|mapped| waterway(inputs, mapped, notes)).collect()
}

fn waterway(inputs: &Inputs, mapped: &MappedWaterway, notes: &mut Vec<Note>) -> Waterway {
    let mut chains = Vec::new();
    for line in &mapped.lines {
        let mut parts: Vec<Vec<Cell>> = cells_along(&inputs.ground.frame, line)
            .into_iter()
            .map(|chain| chain.into_iter().filter(|&cell| !inputs.ground[cell].is_nan()).collect())
            .filter(|chain: &Vec<Cell>| !chain.is_empty())
            .collect();
        let levels: Vec<f32> = parts.iter().flatten().map(|&cell| inputs.ground[cell]).collect();
        if let Some(rise) = clear_rise(&levels, level_doubt_m(inputs)) {
            notes.push(Note::new(
                format!("waterway {}", mapped.id),
                format!("a line drawn uphill: the ground along it rises by {rise:.2} m"),
                "taken as flowing the other way; correct the line if it is meant as drawn",
            ));
            parts.reverse();
            for chain in &mut parts {
                chain.reverse();
            }
        }
        note_divide(inputs, mapped, &parts, notes);
        chains.extend(parts);
    }
    if chains.is_empty() {
        notes.push(Note::new(format!("waterway {}", mapped.id), "no part on the elevation", "it has no effect"));
    }
    Waterway {
        id: mapped.id.clone(),
        class: mapped.class.clone(),
        lawful: waterway_is_lawful(inputs, &mapped.class),
        chains,
    }
}

/// Ground along a channel that stands clearly above its upper end is a divide or a bank that the channel crosses.
fn note_divide(inputs: &Inputs, mapped: &MappedWaterway, parts: &[Vec<Cell>], notes: &mut Vec<Note>) {
    let levels = || parts.iter().flatten().map(|&cell| f64::from(inputs.ground[cell]));
    let (Some(upper), Some(highest)) = (levels().next(), levels().reduce(f64::max)) else { return };
    if highest - upper > level_doubt_m(inputs) {
        notes.push(Note::new(
            format!("waterway {}", mapped.id),
            format!("ground along it {:.2} m above its upper end: it crosses a divide or a bank", highest - upper),
            "its bed was taken to run through; check the line, and map the culvert if there is one",
        ));
    }
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
