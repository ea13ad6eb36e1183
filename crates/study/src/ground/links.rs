//! Mapped structures on cells.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_geodata::Problem;
use fallwright_network::{Structure, Waterway};
use fallwright_terrain::{Link, Links};
use fallwright_units::{Cell, Frame, StructureIx, StructureKind, WaterwayIx};
use geo::{Coord, LineString};

use super::channels::{channel_cells, waterway_is_lawful};
use super::inverts::{Inverts, inverts};
use super::junctions::{self, Drawn};
use super::level_doubt::level_doubt_m;
use fallwright_case::{Inputs, MappedStructure, Note};
use typed_index_collections::{TiSlice, TiVec};

/// How far an end may be moved to the channel or low ground it belongs to, metres (our choice).
const SNAP_M: f64 = 3.0;
/// The same in cells, for coarse elevation (our choice).
const SNAP_CELLS: f64 = 1.5;

/// The structures that can carry water, each between two cells. Those that cannot are noted and left out.
///
/// # Errors
/// Every culvert whose direction nothing determines; every loop of pipes.
pub(super) fn on_cells(
    inputs: &Inputs,
    waterways: &TiSlice<WaterwayIx, Waterway>,
    notes: &mut Vec<Note>,
) -> Result<TiVec<StructureIx, Structure>, Vec<Problem>> {
    let channel = channel_cells(waterways);
    let mut taken: BTreeMap<Cell, &MappedStructure> = BTreeMap::new();
    let mut structures = TiVec::new();
    let mut drawn = TiVec::new();
    let mut problems = Vec::new();
    for (position, mapped) in inputs.structures.iter_enumerated() {
        let about = format!("structure {}", mapped.id);
        let (start, end) = mapped.ends;
        let ends = (snapped(inputs, &channel, start), snapped(inputs, &channel, end));
        let (Some(first), Some(last)) = ends else {
            notes.push(Note::new(about, "an end outside the elevation", "left out"));
            continue;
        };
        if first == last {
            notes.push(Note::new(
                about,
                "both ends in one cell of the elevation",
                "left out: it carries water nowhere",
            ));
            continue;
        }
        let inverts = inverts(inputs, position, notes);
        problems.extend(undirected(inputs, mapped, inverts, (first, last)));
        let link = directed(inputs, mapped, inverts, (first, last), notes);
        note_high_ends(inputs, mapped, link, notes);
        if let Some(other) = taken.get(&link.inlet) {
            let found = format!("it takes its water in at the same cell as {}", other.id);
            notes.push(Note::new(about, found, format!("left out: the water is counted through {}", other.id)));
            continue;
        }
        taken.insert(link.inlet, mapped);
        let line = if link.inlet == first { mapped.line.clone() } else { reversed(&mapped.line) };
        structures.push(Structure {
            id: mapped.id.clone(),
            kind: mapped.kind,
            class: mapped.class.clone(),
            lawful: mapped.class.as_deref().is_some_and(|class| waterway_is_lawful(inputs, class)),
            link,
            bends: line.0[1..line.0.len() - 1].iter().map(Coord::x_y).collect(),
            joins: None,
        });
        drawn.push(Drawn { mapped, line });
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    junctions::join(inputs, &mut structures, &drawn, &channel, notes)?;
    Ok(structures)
}

fn reversed(line: &LineString<f64>) -> LineString<f64> {
    line.0.iter().rev().copied().collect()
}

/// A culvert without inverts whose ends stand at exactly the same level.
fn undirected(
    inputs: &Inputs,
    mapped: &MappedStructure,
    inverts: Option<Inverts>,
    (first, last): (Cell, Cell),
) -> Option<Problem> {
    let is_level = inputs.ground[first] == inputs.ground[last];
    let by_ground = inverts.is_none() && mapped.kind == StructureKind::Culvert;
    (is_level && by_ground).then(|| {
        let found = "no inverts, and ground at exactly the same level at both ends";
        let expected = "inverts or ground that tell which way the water runs";
        let hint = "give invert_up_m and invert_down_m, or the surveyed inverts of both ends under [[levels]]";
        Problem::in_file(&mapped.file, found, expected, hint).at_feature(mapped.id.as_str())
    })
}

pub(super) fn links(structures: &TiSlice<StructureIx, Structure>) -> Links {
    let links: Vec<Link> = structures.iter().map(|structure| structure.link).collect();
    Links::new(&links).expect("inlets were made to differ and to lie apart from their outlets")
}

/// Culverts between two channels join their beds.
pub(super) fn beds(
    structures: &TiSlice<StructureIx, Structure>,
    waterways: &TiSlice<WaterwayIx, Waterway>,
) -> Vec<Vec<Cell>> {
    let channel = channel_cells(waterways);
    structures
        .iter()
        .filter(|structure| structure.kind == StructureKind::Culvert)
        .map(|structure| vec![structure.link.inlet, structure.link.outlet])
        .filter(|ends| ends.iter().all(|cell| channel.contains(cell)))
        .collect()
}

/// The cell that an end belongs to: the nearest channel cell within the tolerance, or else the lowest ground within it.
fn snapped(inputs: &Inputs, channel: &BTreeSet<Cell>, end: Coord<f64>) -> Option<Cell> {
    let frame = &inputs.ground.frame;
    let at = frame.cell_at((end.x, end.y))?;
    let coarse = frame.cell_width().max(frame.cell_height());
    let near = within(frame, at, end, SNAP_M.max(SNAP_CELLS * coarse));
    let with_data = || near.iter().filter(|(cell, _)| !inputs.ground[*cell].is_nan());
    let in_channel = with_data().filter(|(cell, _)| channel.contains(cell)).min_by(|a, b| a.1.total_cmp(&b.1));
    let lowest = || with_data().min_by(|a, b| inputs.ground[a.0].total_cmp(&inputs.ground[b.0]));
    in_channel.or_else(lowest).map(|&(cell, _)| cell)
}

/// Cells whose centre is within a distance of a point, in the order of their index, with the distance; the cell that
/// holds the point is always among them.
fn within(frame: &Frame, at: Cell, point: Coord<f64>, tolerance: f64) -> Vec<(Cell, f64)> {
    let reach = (tolerance / frame.cell_width().min(frame.cell_height())).ceil() as i32;
    let around = (-reach..=reach).flat_map(|dr| (-reach..=reach).map(move |dc| (dc, dr)));
    around
        .filter_map(|step| frame.step(at, step))
        .map(|cell| {
            let (x, y) = frame.centre(cell);
            (cell, (x - point.x).hypot(y - point.y))
        })
        .filter(|&(cell, distance)| cell == at || distance <= tolerance)
        .collect()
}

/// Which way water runs: as drawn, unless the inverts or, without inverts, the ground clearly say otherwise. A pipe
/// without inverts runs as drawn whatever the ground does above it.
fn directed(
    inputs: &Inputs,
    mapped: &MappedStructure,
    inverts: Option<Inverts>,
    (first, last): (Cell, Cell),
    notes: &mut Vec<Note>,
) -> Link {
    let ground = |cell: Cell| f64::from(inputs.ground[cell]);
    let (rise, by) = match inverts {
        Some(Inverts { first_m, last_m, source }) => (last_m - first_m, source.name()),
        None => (ground(last) - ground(first), "ground"),
    };
    let against = match (inverts, mapped.kind) {
        (Some(_), _) => rise > 0.0,
        (None, StructureKind::Culvert) => rise > level_doubt_m(inputs),
        (None, StructureKind::Pipe) => false,
    };
    if inverts.is_none() && mapped.kind == StructureKind::Culvert && rise.abs() <= level_doubt_m(inputs) {
        notes.push(Note::new(
            format!("structure {}", mapped.id),
            format!("no inverts, and ground that differs by {:.2} m only between its ends", rise.abs()),
            "taken to flow as drawn; give invert_up_m and invert_down_m",
        ));
    }
    if !against {
        return Link { inlet: first, outlet: last };
    }
    notes.push(Note::new(
        format!("structure {}", mapped.id),
        format!("drawn uphill: by its {by} its end lies {rise:.2} m above its beginning"),
        "taken as flowing the other way; correct it if it is meant as drawn",
    ));
    Link { inlet: last, outlet: first }
}

/// A culvert whose ends both stand clearly above the ground around them takes in little water.
fn note_high_ends(inputs: &Inputs, mapped: &MappedStructure, link: Link, notes: &mut Vec<Note>) {
    /// How far around an end lower ground is looked for, metres (our choice).
    const AROUND_M: f64 = 10.0;
    let frame = &inputs.ground.frame;
    let above = |cell: Cell| {
        let (x, y) = frame.centre(cell);
        let around = within(frame, cell, Coord { x, y }, AROUND_M);
        let lowest = around.into_iter().map(|(cell, _)| inputs.ground[cell]).fold(f32::INFINITY, f32::min);
        f64::from(inputs.ground[cell]) - f64::from(lowest)
    };
    let least = above(link.inlet).min(above(link.outlet));
    if mapped.kind == StructureKind::Culvert && least > level_doubt_m(inputs) {
        notes.push(Note::new(
            format!("structure {}", mapped.id),
            format!("both ends stand at least {least:.2} m above ground within {AROUND_M} m of them"),
            "used as drawn, but little water reaches it; check where its ends are",
        ));
    }
}
