//! Pipes that lead back into themselves.

use fallwright_geodata::Problem;
use fallwright_units::StructureKind;

use super::structures::MappedStructure;

/// How far a pipe's end may lie from the beginning of the next, metres (our choice; as far as ends are moved to channels).
const JOINED_M: f64 = 3.0;

/// Each loop of pipes as drawn, reported once, at its first pipe.
///
/// *Complexity*: O(n²) for n pipes.
pub(super) fn loops(structures: &[MappedStructure]) -> Vec<Problem> {
    let pipes: Vec<&MappedStructure> =
        structures.iter().filter(|structure| structure.kind == StructureKind::Pipe).collect();
    let next: Vec<Option<usize>> = pipes.iter().map(|pipe| following(&pipes, pipe)).collect();
    let mut reported = vec![false; pipes.len()];
    let mut problems = Vec::new();
    for start in 0..pipes.len() {
        let Some(members) = loop_from(&next, start).filter(|members| members.iter().all(|&pipe| !reported[pipe]))
        else {
            continue;
        };
        for &pipe in &members {
            reported[pipe] = true;
        }
        let ids: Vec<&str> = members.iter().map(|&pipe| pipes[pipe].id.as_str()).collect();
        let problem = Problem::in_file(
            &pipes[start].file,
            format!("a loop of pipes: {}, and back to {}", ids.join(", "), ids[0]),
            "pipes drawn downstream to an outlet",
            "turn the pipe that is drawn upstream, or move the end that does not belong there",
        );
        problems.push(problem.at_feature(ids[0]));
    }
    problems
}

/// The pipe that begins nearest to where one ends, within reach.
fn following(pipes: &[&MappedStructure], pipe: &MappedStructure) -> Option<usize> {
    let distance = |other: &MappedStructure| (other.ends.0.x - pipe.ends.1.x).hypot(other.ends.0.y - pipe.ends.1.y);
    let near = pipes.iter().enumerate().map(|(position, other)| (position, distance(other)));
    near.filter(|&(_, metres)| metres <= JOINED_M).min_by(|a, b| a.1.total_cmp(&b.1)).map(|(position, _)| position)
}

/// The pipes from one back to itself.
fn loop_from(next: &[Option<usize>], start: usize) -> Option<Vec<usize>> {
    let mut members = vec![start];
    let mut at = start;
    while let Some(following) = next[at] {
        if following == start {
            return Some(members);
        }
        if members.contains(&following) {
            return None;
        }
        members.push(following);
        at = following;
    }
    None
}

#[cfg(test)]
mod tests {
    use fallwright_units::LinkId;
    use geo::{Coord, LineString};

    use super::*;
    use crate::inputs::dimensions::Dimensions;

    fn pipe(id: &str, from: (f64, f64), to: (f64, f64)) -> MappedStructure {
        MappedStructure {
            file: "mains.geojson".to_owned(),
            id: LinkId::new(id),
            kind: StructureKind::Pipe,
            class: None,
            ends: (Coord::from(from), Coord::from(to)),
            line: LineString::from(vec![from, to]),
            inverts_m: None,
            dimensions: Dimensions::default(),
        }
    }

    fn check(pipes: &[MappedStructure], expected: &[&str]) {
        let found: Vec<String> = loops(pipes).into_iter().map(|problem| problem.found).collect();
        assert_eq!(found, expected);
    }

    #[test]
    fn a_loop_is_told_once() {
        let a = pipe("A", (0.0, 0.0), (100.0, 0.0));
        let b = pipe("B", (101.0, 0.0), (100.0, 80.0));
        let c = pipe("C", (100.0, 82.0), (1.0, 1.0));
        let feeder = pipe("F", (50.0, 200.0), (100.0, 81.0));
        check(&[a.clone(), b.clone()], &[]);
        check(&[a.clone(), b.clone(), c.clone()], &["a loop of pipes: A, B, C, and back to A"]);
        check(&[feeder, a, b, c], &["a loop of pipes: A, B, C, and back to A"]);
    }

    #[test]
    fn a_pipe_that_ends_where_it_begins() {
        check(&[pipe("A", (0.0, 0.0), (2.0, 0.0))], &["a loop of pipes: A, and back to A"]);
    }
}
