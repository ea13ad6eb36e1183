//! Pipes that join another between its ends.

use std::collections::BTreeSet;

use fallwright_case::{Inputs, MappedStructure, Note};
use fallwright_geodata::Problem;
use fallwright_network::{Junction, Structure, beyond};
use fallwright_units::{Cell, Frame, StructureIx, StructureKind};
use geo::{Closest, ClosestPoint, Distance, Euclidean, Length, LineLocatePoint, LineString, Point};
use typed_index_collections::{TiSlice, TiVec};

/// How far a pipe's lower end may lie from the line of the one it joins, metres (our choice; as far as ends are moved to
/// channels).
const JOINED_M: f64 = 3.0;

/// A structure as mapped, drawn downstream.
pub(super) struct Drawn<'a> {
    pub(super) mapped: &'a MappedStructure,
    pub(super) line: LineString<f64>,
}

/// Leads the water of each pipe that ends on another's line through that one. A pipe that ends in a mapped channel, or at an
/// end of the other, is left as it is.
///
/// *Complexity*: O(p²) for p pipes.
///
/// # Errors
/// Each loop of pipes, at its first one.
pub(super) fn join(
    inputs: &Inputs,
    structures: &mut TiSlice<StructureIx, Structure>,
    drawn: &TiSlice<StructureIx, Drawn>,
    channel: &BTreeSet<Cell>,
    notes: &mut Vec<Note>,
) -> Result<(), Vec<Problem>> {
    let frame = &inputs.ground.frame;
    let mut joins: TiVec<StructureIx, Option<Junction>> = structures
        .iter_enumerated()
        .map(|(pipe, structure)| {
            let ends_open = structure.kind != StructureKind::Pipe || channel.contains(&structure.link.outlet);
            if ends_open { None } else { junction(frame, structures, drawn, pipe) }
        })
        .collect();
    let problems = loops(&joins, drawn);
    if !problems.is_empty() {
        return Err(problems);
    }
    let outlet = |joins: &TiSlice<StructureIx, Option<Junction>>, pipe| structures[last_of(joins, pipe)].link.outlet;
    // Such a pipe would have to give its water back to its own inlet.
    let leads_back = |joins: &TiSlice<StructureIx, Option<Junction>>, pipe: StructureIx| {
        joins[pipe].is_some() && outlet(joins, pipe) == structures[pipe].link.inlet
    };
    while let Some(pipe) = joins.keys().find(|&pipe| leads_back(&joins, pipe)) {
        joins[pipe] = None;
    }
    let outlets: TiVec<StructureIx, Cell> = joins.keys().map(|pipe| outlet(&joins, pipe)).collect();
    for (pipe, junction) in joins.into_iter_enumerated() {
        let Some(junction) = junction else { continue };
        let other = structures[junction.structure].id.clone();
        let structure = &mut structures[pipe];
        structure.joins = Some(junction);
        structure.link.outlet = outlets[pipe];
        notes.push(Note::new(
            format!("structure {}", structure.id),
            format!("its lower end lies on the line of {other}, {:.0} m from its upper end", junction.along_m),
            format!("its water goes on in {other}"),
        ));
    }
    Ok(())
}

/// The nearest pipe on whose line another ends, neither at that one's beginning nor at its end.
fn junction(
    frame: &Frame,
    structures: &TiSlice<StructureIx, Structure>,
    drawn: &TiSlice<StructureIx, Drawn>,
    pipe: StructureIx,
) -> Option<Junction> {
    let end = Point::from(*drawn[pipe].line.0.last()?);
    let near = drawn.iter_enumerated().filter(|&(other, _)| other != pipe).filter_map(|(other, it)| {
        let from = |point: &geo::Coord<f64>| Euclidean.distance(end, Point::from(*point));
        let at_an_end = it.line.0.first().into_iter().chain(it.line.0.last()).any(|point| from(point) <= JOINED_M);
        let metres = Euclidean.distance(&end, &it.line);
        let is_near = structures[other].kind == StructureKind::Pipe && metres <= JOINED_M && !at_an_end;
        is_near.then_some((other, metres))
    });
    let (other, _) = near.min_by(|a, b| a.1.total_cmp(&b.1))?;
    let course = LineString::from(structures[other].course(frame));
    let (Closest::Intersection(at) | Closest::SinglePoint(at)) = course.closest_point(&end) else { return None };
    let along_m = course.line_locate_point(&at)? * Euclidean.length(&course);
    Some(Junction { structure: other, at: at.x_y(), along_m })
}

fn last_of(joins: &TiSlice<StructureIx, Option<Junction>>, pipe: StructureIx) -> StructureIx {
    let next = |&pipe: &StructureIx| joins[pipe].map(|junction| junction.structure);
    std::iter::successors(Some(pipe), next).last().unwrap_or(pipe)
}

fn loops(joins: &TiSlice<StructureIx, Option<Junction>>, drawn: &TiSlice<StructureIx, Drawn>) -> Vec<Problem> {
    let mut problems = Vec::new();
    let mut known: BTreeSet<StructureIx> = BTreeSet::new();
    for start in joins.keys() {
        let mut members = Vec::new();
        let mut next = Some(start).filter(|start| !known.contains(start));
        while let Some(pipe) = next.filter(|pipe| !members.contains(pipe) && !known.contains(pipe)) {
            members.push(pipe);
            next = joins[pipe].map(|junction| junction.structure);
        }
        if next == Some(start) {
            problems.push(looping(&members, drawn));
        }
        known.extend(members);
    }
    problems
}

fn looping(members: &[StructureIx], drawn: &TiSlice<StructureIx, Drawn>) -> Problem {
    let ids: Vec<&str> = members.iter().map(|&pipe| drawn[pipe].mapped.id.as_str()).collect();
    let found = format!("a loop of pipes that end on each other's lines: {}, and back to {}", ids.join(", "), ids[0]);
    let hint = "turn the pipe that is drawn upstream, or move the end that does not belong there";
    Problem::in_file(&drawn[members[0]].mapped.file, found, "pipes drawn downstream to an outlet", hint)
        .at_feature(ids[0])
}

/// Leaves out the structures whose inlets are named. The way of a pipe that joins one of them goes on as it did.
pub(super) fn without(
    frame: &Frame,
    structures: TiVec<StructureIx, Structure>,
    is_out: impl Fn(&Structure) -> bool,
) -> (Vec<Structure>, TiVec<StructureIx, Structure>) {
    let mut kept = TiVec::<StructureIx, Structure>::new();
    let new_place: TiVec<StructureIx, Option<StructureIx>> = structures
        .iter()
        .scan(0, |count, structure| {
            let place = (!is_out(structure)).then_some(StructureIx(*count));
            *count += usize::from(place.is_some());
            Some(place)
        })
        .collect();
    let mut out = Vec::new();
    for structure in &structures {
        if is_out(structure) {
            out.push(structure.clone());
            continue;
        }
        let mut structure = structure.clone();
        while let Some(junction) = structure.joins {
            if let Some(place) = new_place[junction.structure] {
                structure.joins = Some(Junction { structure: place, ..junction });
                break;
            }
            let other = &structures[junction.structure];
            let mut rest = beyond(other.course(frame), junction.along_m);
            rest.pop();
            structure.bends.extend(rest);
            structure.joins = other.joins;
        }
        kept.push(structure);
    }
    (out, kept)
}
