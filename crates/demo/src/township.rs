//! What the township holds: plain data in map coordinates (EPSG:26917, metres).

use fallwright_units::Raster;
use geo::Polygon;

use crate::channels::channels;
use crate::constraints::{ConstraintArea, Utility, regulated_areas, utilities, wetlands};
use crate::ground::ground;
use crate::levels::{LevelRow, levels};
use crate::parcels::{Field, Parcel, parcels};
use crate::road_ditches::road_ditches;
use crate::roads::{Road, roads};
use crate::schedule::{ScheduleRow, schedule};
use crate::sections::{SectionRow, low_water, sections};
use crate::structures::{Culvert, Pipe, TiledArea, culverts, pipes, potholes, tiled_areas};
use crate::till_plain::TillPlain;
use crate::waterways::{Waterway, waterways};

/// The demonstration township. Every value is invented, and the same on every run.
#[derive(Clone, Debug, PartialEq)]
pub struct Township {
    /// Metres above an invented datum, to the millimetre; NaN where the survey has a hole.
    pub elevation: Raster<f32>,
    pub parcels: Vec<Parcel>,
    pub fields: Vec<Field>,
    pub waterways: Vec<Waterway>,
    pub pipes: Vec<Pipe>,
    pub culverts: Vec<Culvert>,
    pub tiled_areas: Vec<TiledArea>,
    /// Closed depressions that hold water.
    pub potholes: Vec<Polygon>,
    pub roads: Vec<Road>,
    pub wetlands: Vec<ConstraintArea>,
    /// Along the creek.
    pub regulated_areas: Vec<ConstraintArea>,
    pub utilities: Vec<Utility>,
    /// The current by-law schedule of the Quernstone Drain.
    pub schedule: Vec<ScheduleRow>,
    pub levels: Vec<LevelRow>,
    /// The low water in the tile main's outlet.
    pub low_water: Vec<LevelRow>,
    /// Of the municipal drains and the creek.
    pub sections: Vec<SectionRow>,
}

/// Makes the township from its seed and its plan: values only, no files.
pub fn township() -> Township {
    let mut channels = channels();
    let land = TillPlain::shaped_by(&channels);
    channels.extend(road_ditches(&channels, &land));
    let (parcels, fields) = parcels();
    let culverts = culverts(&channels);
    Township {
        elevation: ground(&channels, &land),
        waterways: waterways(&channels),
        levels: levels(&channels, &culverts),
        low_water: low_water(&channels),
        sections: sections(&channels),
        culverts,
        pipes: pipes(&channels, &land),
        tiled_areas: tiled_areas(),
        potholes: potholes(),
        roads: roads(),
        wetlands: wetlands(),
        regulated_areas: regulated_areas(),
        utilities: utilities(),
        schedule: schedule(),
        parcels,
        fields,
    }
}

/// One township for all tests.
#[cfg(test)]
pub(crate) fn shared() -> &'static Township {
    static TOWNSHIP: std::sync::OnceLock<Township> = std::sync::OnceLock::new();
    TOWNSHIP.get_or_init(township)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use geo::{Area, BoundingRect, LinesIter, MultiPolygon};

    use super::*;
    use crate::ground::cells_along;
    use crate::plan::on_plan;

    fn roll_numbers() -> BTreeSet<&'static str> {
        shared().parcels.iter().map(|parcel| parcel.roll.as_str()).collect()
    }

    #[test]
    fn the_same_township_twice() {
        let bits = |town: &Township| town.elevation.values.iter().map(|z| z.to_bits()).collect::<Vec<_>>();
        let again = township();
        assert!(bits(&again) == bits(shared()));
        assert_eq!(again.parcels, shared().parcels);
        assert_eq!(again.waterways, shared().waterways);
    }

    #[test]
    fn there_are_as_many_parcels_as_planned_and_no_id_twice() {
        let town = shared();
        assert!((60..=100).contains(&town.parcels.len()));
        assert_eq!(roll_numbers().len(), town.parcels.len());
        let waterways: BTreeSet<_> = town.waterways.iter().map(|waterway| &waterway.id).collect();
        assert_eq!(waterways.len(), town.waterways.len());
    }

    #[test]
    fn every_named_parcel_exists() {
        let town = shared();
        let members = town.waterways.iter().flat_map(|waterway| &waterway.members);
        let assessed = town.schedule.iter().map(|row| &row.roll);
        for roll in members.chain(assessed).chain(town.fields.iter().map(|field| &field.roll)) {
            assert!(roll_numbers().contains(roll.as_str()), "{roll}");
        }
    }

    #[test]
    fn parcels_and_roads_cover_the_block_but_for_slivers() {
        let town = shared();
        let parcels: f64 = town.parcels.iter().map(|parcel| parcel.outline.unsigned_area()).sum();
        let roads_in_block = 2.0 * 20.0 * 3_920.0 + 2.0 * 20.0 * (2_920.0 - 40.0);
        assert!((parcels + roads_in_block - 3_920.0 * 2_920.0).abs() < 1_000.0);
    }

    #[test]
    fn every_class_of_waterway_occurs_and_only_the_creek_leaves_the_frame() {
        let town = shared();
        let classes: BTreeSet<_> = town.waterways.iter().map(|waterway| waterway.class.name()).collect();
        assert_eq!(classes.len(), 5);
        for waterway in &town.waterways {
            let corners = waterway.lines.lines_iter().flat_map(|line| [line.start, line.end]);
            let inside = corners.into_iter().all(|corner| town.elevation.frame.cell_at(corner.x_y()).is_some());
            assert_eq!(inside, waterway.id != "WC-1", "{}", waterway.id);
        }
    }

    #[test]
    fn every_open_channel_falls_all_the_way() {
        let town = shared();
        for waterway in &town.waterways {
            for part in &waterway.lines {
                let points: Vec<_> = part.coords().map(|at| on_plan(at.x_y())).collect();
                let heights: Vec<f32> =
                    cells_along(&town.elevation.frame, &points).into_iter().map(|cell| town.elevation[cell]).collect();
                assert!(heights.windows(2).all(|pair| pair[0] >= pair[1]), "{}", waterway.id);
                assert!(heights[0] > heights[heights.len() - 1], "{}", waterway.id);
            }
        }
    }

    #[test]
    fn a_culvert_joins_both_sides_of_an_embankment() {
        let town = shared();
        assert_eq!(town.culverts.len(), 9);
        let height = |at: geo::Coord| town.elevation[town.elevation.frame.cell_at(at.x_y()).unwrap()];
        for culvert in &town.culverts {
            let (inlet, outlet) = (culvert.line.0[0], culvert.line.0[1]);
            let crown = height((inlet + outlet) / 2.0);
            assert!(height(inlet) + 0.8 < crown && height(outlet) + 0.8 < crown, "{}", culvert.id);
            assert!(height(inlet) >= height(outlet), "{}", culvert.id);
            assert!(culvert.invert_up_m > culvert.invert_down_m, "{}", culvert.id);
            let ends = town
                .waterways
                .iter()
                .flat_map(|waterway| &waterway.lines)
                .map(|part| (part.0[0], part.0[part.0.len() - 1]));
            assert!(ends.clone().any(|(_, last)| last == inlet) && ends.clone().any(|(first, _)| first == outlet));
        }
    }

    #[test]
    fn the_pothole_is_closed_and_the_survey_has_its_hole() {
        let town = shared();
        let pothole: MultiPolygon = town.potholes.clone().into();
        assert!((0.5..1.2).contains(&(pothole.unsigned_area() / 10_000.0)));
        let middle = pothole.bounding_rect().unwrap().center();
        let floor = town.elevation[town.elevation.frame.cell_at(middle.x_y()).unwrap()];
        for corner in pothole.lines_iter().map(|line| line.start) {
            assert!(town.elevation[town.elevation.frame.cell_at(corner.x_y()).unwrap()] - floor > 0.4);
        }
        assert!((50..400).contains(&town.elevation.values.iter().filter(|z| z.is_nan()).count()));
    }

    #[test]
    fn the_tile_main_falls_through_a_divide() {
        let town = shared();
        let main = &town.pipes[0];
        assert!(main.invert_up_m > main.invert_down_m && main.grade_percent > 0.1);
        let points: Vec<_> = main.line.coords().map(|at| on_plan(at.x_y())).collect();
        let ground: Vec<f32> =
            cells_along(&town.elevation.frame, &points).into_iter().map(|cell| town.elevation[cell]).collect();
        let highest = ground.iter().copied().fold(f32::NEG_INFINITY, f32::max);
        assert!(highest > ground[0] + 0.5);
        assert!(f64::from(ground[0]) > main.invert_up_m);
    }
}
