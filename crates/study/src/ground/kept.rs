//! Real depressions: those that a layer names, and those as large as the case says.

use std::collections::BTreeSet;

use fallwright_case::KeptSize;
use fallwright_case::{Inputs, Note};
use fallwright_land::cells_inside;
use fallwright_network::{Parties, Party};
use fallwright_terrain::{Conditioned, Conditioning, Depression, condition, depressions, lowest_cell, storage};
use fallwright_units::{Cell, Raster, SQUARE_METRES_PER_HECTARE};

use crate::error::StudyError;

/// The lowest cell of each depression of the layer. What is no hollow in the ground, or holds a mapped channel, is noted and
/// left out.
pub(super) fn named(inputs: &Inputs, channel: &BTreeSet<Cell>, notes: &mut Vec<Note>) -> Vec<Cell> {
    let frame = &inputs.ground.frame;
    let mut sinks = Vec::new();
    for (number, shape) in (1..).zip(&inputs.kept_depressions) {
        let mut note = |found: &str| {
            notes.push(Note::new(
                format!("kept depression number {number}"),
                found,
                "left out; check where it is drawn",
            ));
        };
        match lowest_cell(&inputs.ground, cells_inside(frame, shape)) {
            None => note("no cell of the elevation inside"),
            Some(cell) if sinks.contains(&cell) => note("its lowest place is that of another one"),
            Some(cell) if channel.contains(&cell) => note("its lowest place lies in a mapped channel"),
            Some(cell) if has_lower_neighbour(&inputs.ground, cell) => {
                note("the ground falls away from its lowest place");
            }
            Some(cell) => sinks.push(cell),
        }
    }
    sinks
}

fn has_lower_neighbour(ground: &Raster<f32>, cell: Cell) -> bool {
    ground.frame.neighbours(cell).any(|(_, next)| ground[next] < ground[cell])
}

/// Adds the depressions as large as the case says, but for those that spill over a road: there a road holds the water
/// back, not the land, and what lies inside is not looked for.
///
/// Once the water of a depression ends in its deepest place, the hollows beside that fill to the levels at which they spill
/// into it: those as large as the case says are depressions too, until no other one is left.
///
/// *Complexity*: the terrain is conditioned once more than depressions lie in each other.
pub(super) fn with_larger(
    ground: &Raster<f32>,
    size: Option<KeptSize>,
    parties: &Parties,
    mut known: Conditioning,
) -> Result<Conditioning, StudyError> {
    let Some(size) = size else { return Ok(known) };
    loop {
        let larger = larger(ground, size, parties, &known)?;
        if larger.is_empty() {
            return Ok(known);
        }
        known.sinks.extend(larger);
    }
}

/// The deepest cell of each larger depression that would be filled.
fn larger(
    ground: &Raster<f32>,
    size: KeptSize,
    parties: &Parties,
    known: &Conditioning,
) -> Result<Vec<Cell>, StudyError> {
    let filled = condition(ground, known.clone())?;
    let cell_m2 = ground.frame.cell_square_metres();
    let real = depressions(&filled.enforced, &filled.surface)
        .filter(|depression| is_larger(depression, size, cell_m2) && !spills_over_road(&filled, parties, depression));
    // The inlet of a structure may stand under water though it is a sink.
    Ok(real.map(|depression| depression.deepest).filter(|deepest| !known.sinks.contains(deepest)).collect())
}

fn is_larger(depression: &Depression, size: KeptSize, cell_m2: f64) -> bool {
    depression.depth_m > size.depth_m
        && depression.cells.len() as f64 * cell_m2 / SQUARE_METRES_PER_HECTARE > size.area_ha
        && depression.volume_m3 > size.volume_m3
}

/// The conditioned terrain and what it was conditioned with. A depression that holds no water in it (a flat, or one whose rim
/// was cut or lies under a mapped bed, or one that a structure drains) is no depression: it is noted, and its water goes on.
pub(super) fn with_holding(
    inputs: &Inputs,
    mut known: Conditioning,
    notes: &mut Vec<Note>,
) -> Result<(Conditioned, Conditioning), StudyError> {
    loop {
        let found = condition(&inputs.ground, known.clone())?;
        let (holding, dry): (Vec<Cell>, Vec<Cell>) =
            known.sinks.iter().partition(|&&sink| !is_dry(&found, &known.sinks, sink));
        if dry.is_empty() {
            return Ok((found, known));
        }
        notes.extend(dry.into_iter().map(|sink| {
            let (x, y) = inputs.ground.frame.centre(sink);
            Note::new(
                format!("kept depression at {x:.1}, {y:.1}"),
                "it holds no water in the conditioned terrain",
                "left out: its water goes on",
            )
        }));
        known.sinks = holding;
    }
}

/// Whether a structure takes in the water of a sink, or no cell lies below the level at which it reaches lower ground.
fn is_dry(conditioned: &Conditioned, sinks: &[Cell], sink: Cell) -> bool {
    let stored = || storage(&conditioned.enforced, &conditioned.flow.links, sinks, sink);
    conditioned.flow.receiver(sink).is_some() || stored().is_some_and(|stored| stored.cells.is_empty())
}

/// Whether water that stands in a filled depression leaves it over a road: the path from its deepest cell crosses one
/// before it is lower than the fill's level.
pub(crate) fn spills_over_road(conditioned: &Conditioned, parties: &Parties, fill: &Depression) -> bool {
    conditioned
        .flow
        .path(fill.deepest)
        .take_while(|&cell| f64::from(conditioned.surface[cell]) >= fill.level_m)
        .any(|cell| matches!(parties.of(cell), Party::Road(_)))
}

#[cfg(test)]
mod tests {
    use fallwright_terrain::{Link, Links, condition};
    use fallwright_units::{Frame, RoadIx};

    use super::*;

    /// One row of cells. By definition a depression holds water where ground lies below the level at which it spills.
    fn check(ground: &[f32], channel: &[usize], link: Option<(usize, usize)>, sink: usize, expected: bool) {
        let frame = Frame::new(ground.len(), 1, (0.0, 1.0), (1.0, 1.0)).unwrap();
        let cell = |col: usize| frame.cell(col, 0);
        let links: Vec<Link> =
            link.iter().map(|&(inlet, outlet)| Link { inlet: cell(inlet), outlet: cell(outlet) }).collect();
        let known = Conditioning {
            channels: vec![channel.iter().map(|&col| cell(col)).collect()],
            links: Links::new(&links).unwrap(),
            sinks: vec![cell(sink)],
            ..Conditioning::default()
        };
        let conditioned = condition(&Raster { frame, values: ground.to_vec() }, known).unwrap();
        assert_eq!(is_dry(&conditioned, &[], cell(sink)), expected, "{ground:?}");
    }

    #[test]
    fn a_depression_is_dry_where_no_ground_lies_below_its_spill_level() {
        check(&[9.0, 5.0, 4.0, 5.0, 9.0, 3.0], &[], None, 2, false);
        check(&[9.0, 4.0, 4.0, 4.0, 3.0, 2.0], &[], None, 2, true);
        // A bed runs through the rim.
        check(&[9.0, 5.0, 4.0, 4.0, 9.0, 3.0], &[3, 4, 5], None, 2, true);
        // A pipe drains it, or comes from its slope.
        check(&[9.0, 5.0, 4.0, 5.0, 9.0, 3.0], &[], Some((2, 5)), 2, true);
        check(&[9.0, 6.0, 4.0, 5.0, 9.0, 3.0], &[], Some((3, 5)), 2, false);
    }

    /// A row of ground between high banks, cells of one square metre, with a road over some columns. Expected, by hand: the
    /// columns where the water of each depression ends that is deeper than 1 m, of more than 0.5 m² and 1 m³.
    fn check_larger(ground: &[f32], road: &[usize], named: &[usize], expected: &[usize]) {
        let frame = Frame::new(ground.len(), 3, (0.0, 3.0), (1.0, 1.0)).unwrap();
        let bank = vec![99.0; ground.len()];
        let raster = Raster { frame, values: [&bank[..], ground, &bank[..]].concat() };
        let party = |at: usize| {
            let is_road = at / ground.len() == 1 && road.contains(&(at % ground.len()));
            if is_road { Party::Road(RoadIx(0)) } else { Party::Unowned }
        };
        let parties = Parties::new((0..frame.len()).map(party));
        let size = KeptSize { depth_m: 1.0, area_ha: 0.5 / SQUARE_METRES_PER_HECTARE, volume_m3: 1.0 };
        let cells = |cols: &[usize]| cols.iter().map(|&col| frame.cell(col, 1)).collect::<Vec<_>>();
        let known = Conditioning { sinks: cells(named), ..Conditioning::default() };
        let kept = with_larger(&raster, Some(size), &parties, known).unwrap();
        assert_eq!(kept.sinks, cells(expected), "{ground:?}");
    }

    #[test]
    fn every_depression_of_the_size_is_kept() {
        check_larger(&[9.0, 8.0, 8.5, 8.0], &[], &[], &[]);
        check_larger(&[9.0, 5.0, 9.0, 6.0, 9.0, 0.0], &[], &[], &[1, 3]);
        // Under one water level, then each at its own.
        check_larger(&[9.0, 3.0, 6.0, 4.0, 8.0, 0.0], &[], &[], &[1, 3]);
        check_larger(&[9.0, 3.0, 6.0, 5.5, 8.0, 0.0], &[], &[], &[1]);
        // Three in one, one of them in what is left of the second.
        check_larger(&[9.0, 2.0, 7.0, 3.0, 6.0, 4.0, 8.0, 0.0], &[], &[], &[1, 3, 5]);
        // As deep as each other; one that a layer names.
        check_larger(&[9.0, 3.0, 6.0, 3.0, 8.0, 0.0], &[], &[], &[1, 3]);
        check_larger(&[9.0, 3.0, 6.0, 4.0, 8.0, 0.0], &[], &[3], &[3, 1]);
    }

    #[test]
    fn what_a_road_holds_back_is_not_kept() {
        check_larger(&[9.0, 3.0, 6.0, 4.0, 8.0, 0.0], &[4], &[], &[]);
        // The road holds back the second one alone.
        check_larger(&[0.0, 8.0, 3.0, 6.0, 4.0, 9.0, 9.0], &[3], &[], &[2]);
    }
}
