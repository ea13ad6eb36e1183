//! Heights of the water's surface in polygons of lakes and rivers, where lidar often has none.

use std::collections::BTreeSet;

use fallwright_land::cover;
use fallwright_law::{ClassKind, Profile};
use fallwright_units::{Cell, Raster, WaterwayIx};
use geo::MultiPolygon;
use typed_index_collections::TiSlice;

use super::note::Note;
use super::waterways::MappedWaterway;

/// Sets the heights in polygons, which must not be taken for holes. A lake is level: every cell of it has the height of the
/// lowest ground on its shore, whatever the elevation says in it, a bottom or ripples. A river falls: its cells keep their
/// heights, and those without one take the lowest beside them that is known, from the banks, lakes and other rivers inward.
/// Where waters overlap, the strongest class has the cells.
///
/// *Units*: metres. *Complexity*: O(c log c) for c cells in polygons, once over the raster.
pub(super) fn set(
    ground: &mut Raster<f32>,
    waterways: &TiSlice<WaterwayIx, MappedWaterway>,
    profile: &Profile,
) -> Vec<Note> {
    let mut strongest_first: Vec<&MappedWaterway> = waterways.iter().collect();
    strongest_first.sort_by_key(|waterway| profile.strength(&waterway.class));
    let parts: Vec<(&MappedWaterway, MultiPolygon<f64>)> = strongest_first
        .into_iter()
        .flat_map(|waterway| waterway.shape.iter().map(move |part| (waterway, part.clone().into())))
        .collect();
    if parts.is_empty() {
        return Vec::new();
    }
    let shapes: Vec<MultiPolygon<f64>> = parts.iter().map(|(_, shape)| shape.clone()).collect();
    let labels = cover(&ground.frame, &shapes);
    let mut cells: Vec<Vec<Cell>> = vec![Vec::new(); parts.len()];
    for (index, label) in labels.values.iter().enumerate().filter(|(_, label)| **label != 0) {
        cells[*label as usize - 1].push(Cell(index));
    }
    let is_land = |cell: Cell| labels[cell] == 0;
    let is_lake =
        |waterway: &MappedWaterway| profile.class(&waterway.class).is_some_and(|class| class.kind == ClassKind::Lake);
    let (lakes, rivers): (Vec<_>, Vec<_>) = cells.iter().zip(&parts).partition(|(_, (waterway, _))| is_lake(waterway));
    let note = |cells: &[Cell], waterway: &MappedWaterway, surface: &str| {
        let missing = cells.iter().filter(|&&cell| ground[cell].is_nan()).count();
        let found = format!("{} cells in it, {missing} of them without elevation", cells.len());
        (missing > 0 || is_lake(waterway)).then(|| Note::new(format!("waterway {}", waterway.id), found, surface))
    };
    let (mut notes, mut levels) = (Vec::new(), Vec::new());
    for (cells, (waterway, _)) in lakes {
        let Some(level_m) = level(ground, cells, is_land) else { continue };
        let surface = format!("its surface was taken to lie at {level_m:.2} m, the lowest ground on its shore");
        notes.extend(note(cells, waterway, &surface));
        levels.extend(cells.iter().map(|&cell| (cell, level_m)));
    }
    let surface = "they were taken to lie as low as the lowest ground or water beside them";
    notes.extend(rivers.iter().filter_map(|(cells, (waterway, _))| note(cells, waterway, surface)));
    for (cell, level_m) in levels {
        ground[cell] = level_m;
    }
    fill(ground, rivers.into_iter().flat_map(|(cells, _)| cells).copied());
    notes
}

/// The lowest ground on the shore, or in the water where no ground beside it is known; `None` where neither is.
fn level(ground: &Raster<f32>, cells: &[Cell], is_land: impl Fn(Cell) -> bool) -> Option<f32> {
    let lowest = |cells: &mut dyn Iterator<Item = Cell>| {
        cells.map(|cell| ground[cell]).filter(|height| !height.is_nan()).min_by(f32::total_cmp)
    };
    let beside = |&cell: &Cell| ground.frame.neighbours(cell).map(|(_, next)| next).collect::<Vec<_>>();
    let shore = lowest(&mut cells.iter().flat_map(beside).filter(|&next| is_land(next)));
    shore.or_else(|| lowest(&mut cells.iter().copied()))
}

/// Sets the cells without a height, each to the lowest of those beside it that are known one step before.
fn fill(ground: &mut Raster<f32>, cells: impl Iterator<Item = Cell>) {
    let mut open: BTreeSet<Cell> = cells.filter(|&cell| ground[cell].is_nan()).collect();
    loop {
        let lowest = |cell: Cell| {
            let beside = ground.frame.neighbours(cell).map(|(_, next)| ground[next]);
            beside.filter(|height| !height.is_nan()).min_by(f32::total_cmp)
        };
        let reached: Vec<(Cell, f32)> = open.iter().filter_map(|&cell| Some((cell, lowest(cell)?))).collect();
        if reached.is_empty() {
            return;
        }
        for (cell, height) in reached {
            open.remove(&cell);
            ground[cell] = height;
        }
    }
}

#[cfg(test)]
mod tests {
    use fallwright_units::{Frame, WaterwayId};
    use geo::{MultiLineString, Rect};
    use typed_index_collections::TiVec;

    use super::*;

    const NAN: f32 = f32::NAN;

    fn mapped(id: &str, class: &str) -> MappedWaterway {
        MappedWaterway {
            id: WaterwayId::new(id),
            name: None,
            class: class.to_owned(),
            width_m: 0.0,
            members: None,
            registered: None,
            agreed: None,
            bylaw: None,
            lines: MultiLineString::new(Vec::new()),
            shape: MultiPolygon::new(Vec::new()),
        }
    }

    /// Five cells by three of 1 m; the polygon holds the three in the middle of the middle row. Expected are their heights.
    fn check(class: &str, rows: [[f32; 5]; 3], expected: [f32; 3]) {
        let frame = Frame::new(5, 3, (0.0, 3.0), (1.0, 1.0)).unwrap();
        let mut ground = Raster { frame, values: rows.concat() };
        let shape = Rect::new((1.0, 1.0), (4.0, 2.0)).to_polygon().into();
        let water = MappedWaterway { shape, ..mapped("W", class) };
        let waterways: TiVec<WaterwayIx, MappedWaterway> = TiVec::from(vec![water]);
        set(&mut ground, &waterways, &Profile::shipped("ontario").unwrap());
        assert_eq!(ground.values[6..9], expected, "{class}");
        let around = |values: &[f32]| [&values[..6], &values[9..]].concat();
        assert_eq!(around(&ground.values), around(&rows.concat()));
    }

    /// By the definition of a level surface at the lowest shore.
    #[test]
    fn a_lake_is_level_with_the_lowest_ground_on_its_shore() {
        check("lake", [[9.0; 5], [8.0, NAN, NAN, NAN, 7.0], [9.0; 5]], [7.0; 3]);
        check("lake", [[9.0; 5], [8.0, 2.0, 1.0, 6.0, 7.0], [9.0; 5]], [7.0; 3]);
        check("lake", [[9.0; 5], [8.0, 8.5, NAN, 8.5, 9.0], [9.0, 9.0, 9.0, 9.0, 6.5]], [6.5; 3]);
    }

    /// A river through a lake: the lake's cells are those that the weaker class leaves.
    #[test]
    fn where_waters_overlap_the_strongest_class_has_the_heights() {
        let frame = Frame::new(5, 3, (0.0, 3.0), (1.0, 1.0)).unwrap();
        let mut ground = Raster { frame, values: [[9.0; 5], [8.0, 7.0, 6.0, 5.0, 4.0], [9.0_f32; 5]].concat() };
        let water = |id: &str, class: &str, west: f64, east: f64| MappedWaterway {
            shape: Rect::new((west, 1.0), (east, 2.0)).to_polygon().into(),
            ..mapped(id, class)
        };
        let waters = vec![water("A", "lake", 1.0, 4.0), water("B", "natural_watercourse", 2.0, 5.0)];
        set(&mut ground, &TiVec::from(waters), &Profile::shipped("ontario").unwrap());
        // The river's cells keep their heights; the lowest ground on the shore of what is left of the lake is 8 m.
        assert_eq!(ground.values[5..10], [8.0, 8.0, 6.0, 5.0, 4.0]);
    }

    /// The river's cells are beside no ground with a height.
    #[test]
    fn a_river_in_a_hole_takes_the_level_of_the_lake_beside_it() {
        let frame = Frame::new(5, 3, (0.0, 3.0), (1.0, 1.0)).unwrap();
        let hole = [9.0, 9.0, NAN, NAN, NAN];
        let mut ground = Raster { frame, values: [hole, [9.0, 8.0, NAN, NAN, NAN], hole].concat() };
        let water = |id: &str, class: &str, west: f64, east: f64| MappedWaterway {
            shape: Rect::new((west, 1.0), (east, 2.0)).to_polygon().into(),
            ..mapped(id, class)
        };
        let waters = vec![water("A", "natural_watercourse", 3.0, 5.0), water("B", "lake", 2.0, 3.0)];
        set(&mut ground, &TiVec::from(waters), &Profile::shipped("ontario").unwrap());
        assert_eq!(ground.values[5..10], [9.0, 8.0, 8.0, 8.0, 8.0]);
    }

    #[test]
    fn a_river_keeps_its_heights_and_takes_those_beside_it_in_holes() {
        check("natural_watercourse", [[9.0; 5], [8.0, 7.0, 6.0, 5.0, 4.0], [9.0; 5]], [7.0, 6.0, 5.0]);
        check("natural_watercourse", [[9.0; 5], [8.0, 7.0, NAN, 5.0, 4.0], [9.0; 5]], [7.0, 5.0, 5.0]);
        check("natural_watercourse", [[9.0; 5], [8.0, NAN, NAN, NAN, 4.0], [9.0; 5]], [8.0, 9.0, 4.0]);
    }
}
