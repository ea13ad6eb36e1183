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
    let others: TiVec<StructureIx, Option<StructureIx>> = structures
        .iter_enumerated()
        .map(|(pipe, structure)| {
            let ends_open = structure.kind != StructureKind::Pipe || channel.contains(&structure.link.outlet);
            if ends_open { None } else { joined(structures, drawn, pipe) }
        })
        .collect();
    let problems = loops(&others, drawn);
    if !problems.is_empty() {
        return Err(problems);
    }
    // From the lowest pipe up, since the course of one that joins another ends on that one's.
    let mut order: Vec<StructureIx> = others.keys().filter(|&pipe| others[pipe].is_some()).collect();
    order.sort_by_key(|&pipe| chain(&others, pipe).count());
    for pipe in order {
        let Some(other) = others[pipe] else { continue };
        let outlet = structures[other].link.outlet;
        let junction = junction(frame, &structures[other], (other, end_of(&drawn[pipe])));
        // A pipe whose water would come to the surface at its own inlet is left as it is.
        let Some(junction) = junction.filter(|_| outlet != structures[pipe].link.inlet) else { continue };
        let id = structures[other].id.clone();
        let structure = &mut structures[pipe];
        structure.joins = Some(junction);
        structure.link.outlet = outlet;
        notes.push(Note::new(
            format!("structure {}", structure.id),
            format!("its lower end lies on the line of {id}, {:.0} m from its upper end", junction.along_m),
            format!("its water goes on in {id}"),
        ));
    }
    Ok(())
}

/// The nearest pipe on whose line another ends, neither at that one's beginning nor at its end.
fn joined(
    structures: &TiSlice<StructureIx, Structure>,
    drawn: &TiSlice<StructureIx, Drawn>,
    pipe: StructureIx,
) -> Option<StructureIx> {
    let end = end_of(&drawn[pipe]);
    let near = drawn.iter_enumerated().filter(|&(other, _)| other != pipe).filter_map(|(other, it)| {
        let from = |point: &geo::Coord<f64>| Euclidean.distance(end, Point::from(*point));
        let at_an_end = it.line.0.first().into_iter().chain(it.line.0.last()).any(|point| from(point) <= JOINED_M);
        let metres = Euclidean.distance(&end, &it.line);
        let is_near = structures[other].kind == StructureKind::Pipe && metres <= JOINED_M && !at_an_end;
        is_near.then_some((other, metres))
    });
    near.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(other, _)| other)
}

fn end_of(drawn: &Drawn) -> Point<f64> {
    Point::from(*drawn.line.0.last().expect("a line has points"))
}

/// The place on a pipe's course that is nearest to where another ends.
fn junction(frame: &Frame, course_of: &Structure, (structure, end): (StructureIx, Point<f64>)) -> Option<Junction> {
    let course = LineString::from(course_of.course(frame));
    let (Closest::Intersection(at) | Closest::SinglePoint(at)) = course.closest_point(&end) else { return None };
    let along_m = course.line_locate_point(&at)? * Euclidean.length(&course);
    Some(Junction { structure, at: at.x_y(), along_m })
}

/// A pipe and those that it joins, one after the other.
fn chain(
    others: &TiSlice<StructureIx, Option<StructureIx>>,
    pipe: StructureIx,
) -> impl Iterator<Item = StructureIx> + '_ {
    std::iter::successors(Some(pipe), |&pipe| others[pipe])
}

fn loops(others: &TiSlice<StructureIx, Option<StructureIx>>, drawn: &TiSlice<StructureIx, Drawn>) -> Vec<Problem> {
    let mut problems = Vec::new();
    let mut known: BTreeSet<StructureIx> = BTreeSet::new();
    for start in others.keys() {
        let mut members = Vec::new();
        let mut next = Some(start).filter(|start| !known.contains(start));
        while let Some(pipe) = next.filter(|pipe| !members.contains(pipe) && !known.contains(pipe)) {
            members.push(pipe);
            next = others[pipe];
        }
        let looping_from = next.and_then(|next| members.iter().position(|&pipe| pipe == next));
        problems.extend(looping_from.map(|from| looping(&members[from..], drawn)));
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
    structures: &TiSlice<StructureIx, Structure>,
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
    for structure in structures {
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
            let mut rest = beyond(&other.course(frame), junction.along_m);
            rest.pop();
            structure.bends.extend(rest);
            structure.joins = other.joins;
        }
        kept.push(structure);
    }
    (out, kept)
}
