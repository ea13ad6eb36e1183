//! Spread accumulation against published definitions, and what must hold on every terrain.

use std::f64::consts::TAU;

use fallwright_units::{Cell, Frame, Raster};
use proptest::prelude::*;

use super::properties::{cases, run};
use super::{bare, grid};
use crate::{Facet, UNITS_PER_CELL, accumulation, direction, facet_direction, spread_accumulation};

/// Ground as a function of metres east and north of the middle of the grid.
fn ground(side: usize, cell: (f64, f64), z: impl Fn(f64, f64) -> f64) -> Raster<f32> {
    let half = side as f64 / 2.0;
    let frame = Frame::new(side, side, (-half * cell.0, half * cell.1), cell).unwrap();
    let values = (0..frame.len()).map(Cell).map(|cell| frame.centre(cell)).map(|(x, y)| z(x, y) as f32).collect();
    Raster { frame, values }
}

fn middle_facet(ground: &Raster<f32>) -> Option<Facet> {
    facet_direction(ground, Cell(ground.frame.len() / 2))
}

fn near(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "found {found}, expected {expected}");
}

/// Angle and slope are the plane's own gradient; shares are the definition of Tarboton (1997, Water Resources Research
/// 33(2), 309–319) worked by hand, for example (45 − 26.565) / 45 = 0.409666. Tolerances are half of the last digit.
#[test]
#[expect(clippy::approx_constant, reason = "the digits as printed, with their tolerance")]
fn planes_that_fall_between_east_and_north_east() {
    let check = |(a, b): (f64, f64), degrees, slope, east, north_east| {
        let ground = ground(3, (1.0, 1.0), |x, y| -(a * x + b * y));
        let facet = middle_facet(&ground).unwrap();
        near(facet.angle_radians.to_degrees(), degrees, 5e-4);
        near(facet.slope, slope, 5e-7);
        assert_eq!((facet.first, facet.second), (ground.frame.cell(2, 1), ground.frame.cell(2, 0)));
        near(facet.first_share, east, 5e-7);
        near(1.0 - facet.first_share, north_east, 5e-7);
    };
    check((1.0, 0.0), 0.0, 1.0, 1.0, 0.0);
    check((2.0, 1.0), 26.565, 2.236_068, 0.409_666, 0.590_334);
    check((1.0, 1.0), 45.0, 1.414_214, 0.0, 1.0);
    check((3.0, 1.0), 18.435, 3.162_278, 0.590_334, 0.409_666);
}

/// A facet lies in a plane, so on planes angle and slope are those of the gradient, whatever the shape of the cells; the
/// two neighbours are those on either side of it.
#[test]
fn planes_in_every_direction_on_square_and_oblong_cells() {
    for cell in [(1.0, 1.0), (2.0, 1.0), (1.0, 3.0), (0.5, 2.0)] {
        for degrees in 0..360 {
            let angle = f64::from(degrees).to_radians();
            let ground = ground(3, cell, |x, y| -(angle.cos() * x + angle.sin() * y));
            let facet = middle_facet(&ground).unwrap();
            assert!((0.0..=TAU).contains(&facet.angle_radians));
            // Rounding elevations to f32 may turn due east into a hair south of east, nearly a full turn.
            let off = (facet.angle_radians - angle).abs();
            near(off.min(TAU - off), 0.0, 1e-6);
            near(facet.slope, 1.0, 1e-6);
            let towards = |to: Cell| {
                let ((x, y), (x0, y0)) = (ground.frame.centre(to), ground.frame.centre(Cell(4)));
                (y - y0).atan2(x - x0)
            };
            let between = |to: Cell| (facet.angle_radians - towards(to)).sin().abs().asin();
            let (first, second) = (between(facet.first), between(facet.second));
            near(facet.first_share, second / (first + second), 1e-5);
        }
    }
}

#[test]
fn a_facet_needs_lower_ground_and_all_eight_neighbours() {
    let check = |rows: &str| assert_eq!(middle_facet(&grid(rows)), None);
    check("3 3 3\n 3 3 3\n 3 3 3");
    check("5 4 5\n 4 3 4\n 5 4 5");
    check("3 3 3\n 3 3 1\n 3 3 .");
    check("3 3 3\n 3 . 1\n 3 3 1");
    let plane = grid("3 2 1\n 3 2 1\n 3 2 1");
    for index in [0, 1, 2, 3, 5, 6, 7, 8] {
        assert_eq!(facet_direction(&plane, Cell(index)), None);
    }
}

/// Two or more facets may fall equally; the first counter-clockwise from east is taken.
#[test]
fn ties_go_to_the_first_facet_counter_clockwise_from_east() {
    let check =
        |rows: &str, degrees: f64| near(middle_facet(&grid(rows)).unwrap().angle_radians.to_degrees(), degrees, 1e-9);
    check("4 4 4\n 3 4 3\n 4 4 4", 0.0);
    check("4 4 4\n 3 4 4\n 4 3 4", 180.0);
    check("4 3 4\n 4 4 4\n 4 3 4", 90.0);
    check("4 4 4\n 4 4 4\n 4 3 4", 270.0);
}

#[test]
fn on_a_plane_due_east_the_spread_is_the_single_direction() {
    let done = bare(&ground(9, (1.0, 1.0), |x, _| -x));
    let single: Vec<u64> = accumulation(&done.flow).values.iter().map(|cells| cells * UNITS_PER_CELL).collect();
    assert_eq!(spread_accumulation(&done.surface, &done.flow).values, single);
}

/// The plane (2, 1) by hand: the middle receives the south-west cell and divides two cells of water by the shares above;
/// the rim follows the single direction, so the east cell also holds itself, the south and the south-east.
#[test]
fn the_middle_of_a_plane_divides_what_it_receives() {
    let done = bare(&ground(3, (1.0, 1.0), |x, y| -(2.0 * x + y)));
    let units = spread_accumulation(&done.surface, &done.flow);
    let cells = |col, row| units[units.frame.cell(col, row)] as f64 / UNITS_PER_CELL as f64;
    near(cells(1, 1), 2.0, 0.0);
    near(cells(2, 1), 3.0 + 2.0 * 0.409_666, 2e-6);
    near(cells(2, 0), 9.0, 0.0);
}

/// The cells of a cone whose centres lie within half a cell of a circle of 40 cells, with what drains through them.
fn ring(area: &Raster<u64>) -> Vec<(f64, f64)> {
    let centres = (0..area.frame.len()).map(Cell).map(|cell| (area.frame.centre(cell), area[cell] as f64));
    centres.filter(|((x, y), _)| (x.hypot(*y) - 40.0).abs() < 0.5).map(|((x, y), area)| (y.atan2(x), area)).collect()
}

fn relative_spread(ring: &[(f64, f64)]) -> f64 {
    let mean = ring.iter().map(|(_, area)| area).sum::<f64>() / ring.len() as f64;
    (ring.iter().map(|(_, area)| (area / mean - 1.0).powi(2)).sum::<f64>() / ring.len() as f64).sqrt()
}

/// On a circular cone the same area drains through every equal arc of a circle, by symmetry. What remains of unevenness is
/// the ring's raggedness; the single direction gathers the water in eight spokes.
#[test]
fn a_cone_sheds_its_water_evenly() {
    let done = bare(&ground(101, (1.0, 1.0), |x, y| -x.hypot(y)));
    let spread = ring(&spread_accumulation(&done.surface, &done.flow));
    let single = ring(&accumulation(&done.flow));
    assert!(relative_spread(&spread) < 0.1);
    assert!(relative_spread(&single) > 0.5);
    let total: f64 = spread.iter().map(|(_, area)| area).sum();
    // Eighths about the compass points, so that no cell lies on a boundary.
    let eighth = |angle: f64| ((angle / TAU + 1.0 / 16.0).rem_euclid(1.0) * 8.0) as usize;
    for number in 0..8 {
        let part: f64 = spread.iter().filter(|&&(angle, _)| eighth(angle) == number).map(|(_, area)| area).sum();
        near(part / total, 1.0 / 8.0, 0.02 / 8.0);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    #[test]
    fn no_unit_is_lost(case in cases()) {
        let Some(done) = run(&case) else { return Ok(()) };
        let units = spread_accumulation(&done.surface, &done.flow);
        let cells = (0..units.frame.len()).map(Cell);
        let ended: u64 = cells.filter(|&c| done.flow.direction[c] == direction::ENDS).map(|c| units[c]).sum();
        let with_data = case.ground.values.iter().filter(|z| !z.is_nan()).count() as u64;
        prop_assert_eq!(ended, with_data * UNITS_PER_CELL);
        for (z, &units) in case.ground.values.iter().zip(&units.values) {
            prop_assert_eq!(units == 0, z.is_nan());
            prop_assert!(z.is_nan() || units >= UNITS_PER_CELL);
        }
    }

    #[test]
    fn all_water_at_an_inlet_comes_out_at_the_other_end(case in cases()) {
        let Some(done) = run(&case) else { return Ok(()) };
        let units = spread_accumulation(&done.surface, &done.flow);
        for link in done.flow.links.iter() {
            prop_assert!(units[link.outlet] >= units[link.inlet] + UNITS_PER_CELL);
        }
    }

    #[test]
    fn a_cell_with_a_share_is_strictly_lower(
        levels in prop::collection::vec(prop_oneof![-2.0_f32..2.0, (-2_i8..2).prop_map(f32::from)], 9),
        size in (0.1..10.0, 0.1..10.0),
    ) {
        let ground = Raster { frame: Frame::new(3, 3, (0.0, 0.0), size).unwrap(), values: levels };
        let lowest = ground.values.iter().copied().fold(f32::INFINITY, f32::min);
        match middle_facet(&ground) {
            None => prop_assert_eq!(ground[Cell(4)], lowest),
            Some(facet) => {
                prop_assert!((0.0..=1.0).contains(&facet.first_share) && facet.slope > 0.0);
                prop_assert!(facet.first_share == 0.0 || ground[facet.first] < ground[Cell(4)]);
                prop_assert!(facet.first_share == 1.0 || ground[facet.second] < ground[Cell(4)]);
            }
        }
    }
}
