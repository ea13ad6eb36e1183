//! What works would meet: the constraints along a path and within an area.

use fallwright_land::{Extent, Stretch, points_at};
use fallwright_network::{Party, Path};
use fallwright_units::{ConstraintIx, Hectares, Metres};
use geo::{LineString, MultiPolygon};

use crate::study::Study;

/// A constraint that a path meets.
#[derive(Clone, Debug, PartialEq)]
pub struct ConstraintAlong {
    pub constraint: ConstraintIx,
    /// Of the path inside an area, its border included; of a line, no farther from it than [`Study::constraint_reach`].
    pub metres: Metres,
    /// Stretches of the path there.
    pub places: usize,
    /// The lands on which they lie, in order, each once, as looked up every cell or so along the stretches.
    pub lands: Vec<Party>,
}

/// A constraint of which a part lies within an area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ConstraintWithin {
    pub constraint: ConstraintIx,
    pub extent: ConstraintExtent,
}

/// How much of a constraint lies within an area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ConstraintExtent {
    Area(Hectares),
    /// Of a line, its border included.
    Line(Metres),
}

impl Study {
    /// Constraints that a path in the case's reference system meets, in the order of the inputs. None where the case gives no
    /// layer of them, which says nothing about the land.
    ///
    /// *Complexity*: O(s log e) for s segments of the path and e edges of a constraint, for each whose bounding box meets that
    /// of the path.
    pub fn constraints_along(&self, path: &LineString<f64>) -> Vec<ConstraintAlong> {
        let met = self.constraints.along(path, self.constraint_reach().metres());
        met.into_iter().map(|(position, stretches)| self.constraint_along(path, position, &stretches)).collect()
    }

    /// The same for a path of water; constant where the case gives no layer of them.
    pub fn constraints_on(&self, path: &Path) -> Vec<ConstraintAlong> {
        if self.constraints.is_empty() {
            return Vec::new();
        }
        self.constraints_along(&path.stations.iter().map(|station| (station.x, station.y)).collect())
    }

    /// Constraints of which a part lies within an area in the case's reference system, in the order of the inputs. None where
    /// the case gives no layer of them, which says nothing about the land.
    ///
    /// *Complexity*: O(e log e) for e edges of the area and of the constraints near it.
    pub fn constraints_in(&self, area: &MultiPolygon<f64>) -> Vec<ConstraintWithin> {
        let within = |(position, extent)| ConstraintWithin {
            constraint: ConstraintIx(position),
            extent: match extent {
                Extent::SquareMetres(area) => ConstraintExtent::Area(
                    Hectares::from_square_metres(area).expect("areas of finite geometry are finite"),
                ),
                Extent::Metres(length) => ConstraintExtent::Line(metres(length)),
            },
        };
        self.constraints.inside(area).into_iter().map(within).collect()
    }

    /// A path that comes no farther from a line than this meets it: the diagonal of a cell, since a path runs from the middle of
    /// one cell to that of the next, and water beside a line that is mapped along it keeps within a cell of it.
    pub fn constraint_reach(&self) -> Metres {
        let frame = self.setting.frame();
        metres(frame.cell_width().hypot(frame.cell_height()))
    }

    fn constraint_along(&self, path: &LineString<f64>, position: usize, stretches: &[Stretch]) -> ConstraintAlong {
        ConstraintAlong {
            constraint: ConstraintIx(position),
            metres: metres(stretches.iter().map(|stretch| stretch.length_m()).sum()),
            places: stretches.len(),
            lands: self.lands_on(path, stretches),
        }
    }

    fn lands_on(&self, path: &LineString<f64>, stretches: &[Stretch]) -> Vec<Party> {
        let cell_m = self.constraint_reach().metres();
        let middles: Vec<f64> = stretches.iter().flat_map(|stretch| middles(*stretch, cell_m)).collect();
        let cells = points_at(path, &middles).into_iter().filter_map(|at| self.setting.frame().cell_at((at.x, at.y)));
        let mut lands = Vec::new();
        for party in cells.map(|cell| self.setting.parties.of(cell)) {
            if !lands.contains(&party) {
                lands.push(party);
            }
        }
        lands
    }
}

/// The middles of the pieces of a stretch, none longer than a length.
fn middles(stretch: Stretch, longest_m: f64) -> impl Iterator<Item = f64> {
    let pieces = (stretch.length_m() / longest_m).ceil().max(1.0);
    let piece_m = stretch.length_m() / pieces;
    (0..pieces as u64).map(move |piece| stretch.from_m + piece_m * (piece as f64 + 0.5))
}

fn metres(value: f64) -> Metres {
    Metres::from_metres(value).expect("lengths of finite geometry are finite")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stretch_is_looked_at_in_pieces_of_a_cell() {
        let check = |from_m, to_m, expected: &[f64]| {
            assert_eq!(middles(Stretch { from_m, to_m }, 2.0).collect::<Vec<_>>(), expected);
        };
        check(10.0, 11.0, &[10.5]);
        check(10.0, 12.0, &[11.0]);
        check(10.0, 16.0, &[11.0, 13.0, 15.0]);
    }
}
