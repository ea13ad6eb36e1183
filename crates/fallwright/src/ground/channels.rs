//! Mapped waterways on cells, in the direction of flow.

use fallwright_land::cells_along;
use fallwright_network::Waterway;
use fallwright_units::Cell;

use super::{level_doubt_m, waterway_is_lawful};
use crate::inputs::{Inputs, MappedWaterway, Note};

/// The waterways of a case as chains of cells. A line whose lower end is drawn clearly higher than its upper end is taken
/// the other way round, and noted.
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
        if let Some(rise) = rise(inputs, &parts).filter(|&rise| rise > level_doubt_m(inputs)) {
            notes.push(Note::new(
                format!("waterway {}", mapped.id),
                format!("a line drawn uphill: its end lies {rise:.2} m above its beginning"),
                "taken as flowing the other way; correct the line if it is meant as drawn",
            ));
            parts.reverse();
            parts.iter_mut().for_each(|chain| chain.reverse());
        }
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

/// Metres from the first to the last cell of a line, upward.
fn rise(inputs: &Inputs, parts: &[Vec<Cell>]) -> Option<f64> {
    let (first, last) = (parts.first()?.first()?, parts.last()?.last()?);
    Some(f64::from(inputs.ground[*last]) - f64::from(inputs.ground[*first]))
}
