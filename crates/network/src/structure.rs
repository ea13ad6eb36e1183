//! Culverts, pipes and tile mains: where each runs, and which pipe joins which.

use fallwright_terrain::Link;
use fallwright_units::{Frame, LinkId, StructureIx, StructureKind};

use crate::Setting;

/// A point in metres of the frame's system.
type Point = (f64, f64);

/// A mapped culvert, pipe or tile main on cells.
#[derive(Clone, Debug, PartialEq)]
pub struct Structure {
    pub id: LinkId,
    pub kind: StructureKind,
    pub class: Option<String>,
    pub lawful: bool,
    /// From its inlet to where its water comes to the surface: its own lower end, or that of the pipe it joins.
    pub link: Link,
    /// Where it bends between its ends, in the direction of flow.
    pub bends: Vec<Point>,
    pub joins: Option<Junction>,
}

/// Where a pipe joins another between that one's ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Junction {
    pub structure: StructureIx,
    /// On the course of the other one.
    pub at: Point,
    /// From the other one's inlet along its course.
    pub along_m: f64,
}

/// A place in a structure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct PlaceInside {
    pub(crate) at: Point,
    /// What carries the water on from there.
    pub(crate) carrier: StructureIx,
    /// How far along the way from the inlet to where the water comes to the surface, 0 to 1.
    pub(crate) along: f64,
}

impl Structure {
    /// Where it runs between its own ends, in the direction of flow.
    pub fn course(&self, frame: &Frame) -> Vec<Point> {
        let last = self.joins.map_or_else(|| frame.centre(self.link.outlet), |junction| junction.at);
        std::iter::once(frame.centre(self.link.inlet)).chain(self.bends.iter().copied()).chain([last]).collect()
    }
}

impl Setting {
    /// A structure, and those through which its water goes before it comes to the surface, in order.
    ///
    /// *Assumptions*: no pipe leads back into itself by those that it joins.
    pub fn joined(&self, structure: StructureIx) -> impl Iterator<Item = StructureIx> + '_ {
        let next = |&structure: &StructureIx| self.structures[structure].joins.map(|junction| junction.structure);
        std::iter::successors(Some(structure), next)
    }

    /// Structures whose water goes through one: itself, and those that join it, straight or by others, in their order.
    pub fn joining(&self, structure: StructureIx) -> impl Iterator<Item = StructureIx> + '_ {
        self.structures.keys().filter(move |&other| self.joined(other).any(|on| on == structure))
    }

    /// The first lawful outlet that water meets in a structure, before it comes to the surface: itself or one that it joins.
    pub fn lawful_inside(&self, structure: StructureIx) -> Option<StructureIx> {
        self.joined(structure).find(|&on| self.structures[on].lawful)
    }

    /// Places along the way of a structure's water between its inlet and where it comes to the surface, about a cell apart and
    /// at every bend and junction. Where it joins a lawful outlet, the place where it does so is the last.
    pub(crate) fn places_inside(&self, structure: StructureIx) -> Vec<PlaceInside> {
        let stretches = self.stretches(structure);
        let whole_m: f64 = stretches.iter().map(|(_, from, to)| distance_m(*from, *to)).sum();
        let cell_m = self.frame().cell_width().min(self.frame().cell_height());
        let outlet = self.lawful_inside(structure);
        let (mut places, mut before_m) = (Vec::new(), 0.0);
        for (number, &(carrier, from, to)) in stretches.iter().enumerate() {
            if number > 0 {
                places.push(PlaceInside { at: from, carrier, along: before_m / whole_m });
            }
            if Some(carrier) == outlet {
                break;
            }
            let length_m = distance_m(from, to);
            let pieces = (length_m / cell_m).ceil() as usize;
            places.extend((1..pieces).map(|piece| {
                let part = piece as f64 / pieces as f64;
                let at = (from.0 + part * (to.0 - from.0), from.1 + part * (to.1 - from.1));
                PlaceInside { at, carrier, along: (before_m + part * length_m) / whole_m }
            }));
            before_m += length_m;
        }
        places
    }

    /// The straight stretches from a structure's inlet to where its water comes to the surface, with what carries it on each.
    fn stretches(&self, structure: StructureIx) -> Vec<(StructureIx, Point, Point)> {
        let mut stretches = Vec::new();
        let mut from_m = 0.0;
        for on in self.joined(structure) {
            let course = beyond(&self.structures[on].course(&self.frame()), from_m);
            stretches.extend(course.windows(2).map(|ends| (on, ends[0], ends[1])));
            from_m = self.structures[on].joins.map_or(0.0, |junction| junction.along_m);
        }
        stretches
    }
}

/// What is left of a course from a distance along it on.
pub fn beyond(course: &[Point], from_m: f64) -> Vec<Point> {
    let mut left_m = from_m;
    for (number, ends) in course.windows(2).enumerate() {
        let length_m = distance_m(ends[0], ends[1]);
        if left_m < length_m {
            let part = left_m / length_m;
            let at = (ends[0].0 + part * (ends[1].0 - ends[0].0), ends[0].1 + part * (ends[1].1 - ends[0].1));
            return std::iter::once(at).chain(course[number + 1..].iter().copied()).collect();
        }
        left_m -= length_m;
    }
    course[course.len() - 1..].to_vec()
}

fn distance_m(from: Point, to: Point) -> f64 {
    (to.0 - from.0).hypot(to.1 - from.1)
}
