//! The shape of the ground around a place: how far it stands up as a bank, and how rough the ground is.

use fallwright_units::{Cell, Raster};

/// A bank is looked for this far to both sides (our choice).
const HALF_WIDTH_M: f64 = 15.0;
/// It has its height over this length to both sides of the place (our choice): no mound of a fallen tree is as long.
const HALF_LENGTH_M: f64 = 20.0;
/// Its crest is no farther from the place (our choice).
const CREST_WITHIN_M: f64 = 3.0;
/// Directions in which it may run (our choice).
const DIRECTIONS: u32 = 16;
/// Steps of the profiles across and along (our choice: a cell of most surveys).
const STEP_M: f64 = 1.0;
/// Roughness is that of the ground within this distance (our choice).
const ROUGH_WITHIN_M: f64 = 30.0;
/// It is taken at places this far from each other (our choice).
const ROUGH_STEP_M: f64 = 2.0;
/// And is the departure from the mean of two places this far to both sides (our choice: about the width of a mound or a pit).
const ROUGH_REACH_M: f64 = 4.0;

/// The ground around a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bank {
    /// How far its crest stands above the lower ground on both sides, in the direction in which that is most; metres.
    pub height_m: f64,
    /// Of the ground around, metres.
    pub roughness_m: f64,
}

impl Bank {
    /// At a place. A height is the median over the bank's length, so that a ditch that meets it counts for little; roughness is
    /// the median departure from an even slope, so that banks and ditches that are there count for little.
    ///
    /// *Units*: metres, `NaN` = no data. *Complexity*: O(1): some 10,000 heights.
    pub fn at(ground: &Raster<f32>, place: Cell) -> Self {
        let heights = Heights { ground, place: ground.frame.centre(place) };
        let angle = |number: u32| f64::from(number) * std::f64::consts::PI / f64::from(DIRECTIONS);
        let height_m = (0..DIRECTIONS).filter_map(|number| heights.bank_along(angle(number))).fold(0.0, f64::max);
        Self { height_m, roughness_m: heights.roughness_m() }
    }
}

/// Lower ground beyond a bank.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Beyond {
    /// The highest cell between.
    pub crest: Cell,
    pub distance_m: f64,
}

/// Ground no higher than `low_m` beyond a bank that stands above `level_m`, seen from a place: in the direction in which it is
/// nearest, the crest and the ground each within the half width of a bank.
///
/// *Units*: metres. *Complexity*: O(1): some 1,000 heights.
pub(crate) fn low_ground_beyond_bank(
    ground: &Raster<f32>,
    place: Cell,
    (level_m, low_m): (f64, f64),
) -> Option<Beyond> {
    let frame = ground.frame;
    let heights = Heights { ground, place: frame.centre(place) };
    let beyond = |number: u32| {
        let (sin, cos) = (f64::from(number) * std::f64::consts::PI / f64::from(DIRECTIONS)).sin_cos();
        let out = (1..=(2.0 * HALF_WIDTH_M / STEP_M) as u32).map(|step| f64::from(step) * STEP_M);
        let profile: Vec<(f64, f64)> = out.map_while(|out| Some((out, heights.at((out * cos, out * sin))?))).collect();
        let near = profile.iter().copied().take_while(|&(out, _)| out <= HALF_WIDTH_M);
        let crest = near.max_by(|a, b| a.1.total_cmp(&b.1)).filter(|&(_, height)| height > level_m)?;
        let low = profile.iter().find(|&&(out, height)| out > crest.0 && height <= low_m)?;
        let (x, y) = frame.centre(place);
        let crest = frame.cell_at((x + crest.0 * cos, y + crest.0 * sin))?;
        Some(Beyond { crest, distance_m: low.0 })
    };
    (0..2 * DIRECTIONS).filter_map(beyond).min_by(|a, b| a.distance_m.total_cmp(&b.distance_m))
}

/// Heights by metres east and north of a place.
struct Heights<'a> {
    ground: &'a Raster<f32>,
    place: (f64, f64),
}

impl Heights<'_> {
    fn at(&self, (east, north): (f64, f64)) -> Option<f64> {
        let cell = self.ground.frame.cell_at((self.place.0 + east, self.place.1 + north))?;
        let height = f64::from(self.ground[cell]);
        (!height.is_nan()).then_some(height)
    }

    /// The height of a bank that runs in a direction; `None` where the data end on one side.
    fn bank_along(&self, angle: f64) -> Option<f64> {
        let (sin, cos) = angle.sin_cos();
        let level = |across: f64| {
            let along = steps(HALF_LENGTH_M, STEP_M);
            median(
                along.filter_map(|along| self.at((along * cos - across * sin, along * sin + across * cos))).collect(),
            )
        };
        let profile: Vec<(f64, f64)> =
            steps(HALF_WIDTH_M, STEP_M).filter_map(|across| Some((across, level(across)?))).collect();
        let near = profile.iter().filter(|(across, _)| across.abs() <= CREST_WITHIN_M);
        let &(crest_at, crest) = near.max_by(|a, b| a.1.total_cmp(&b.1))?;
        let foot = |is_beside: &dyn Fn(f64) -> bool| {
            profile.iter().filter(|(across, _)| is_beside(*across)).map(|&(_, level)| level).min_by(f64::total_cmp)
        };
        Some(crest - foot(&|across| across < crest_at)?.max(foot(&|across| across > crest_at)?))
    }

    fn roughness_m(&self) -> f64 {
        let frame = &self.ground.frame;
        let reach = ROUGH_REACH_M.max(frame.cell_width()).max(frame.cell_height());
        let places = steps(ROUGH_WITHIN_M, ROUGH_STEP_M)
            .flat_map(|east| steps(ROUGH_WITHIN_M, ROUGH_STEP_M).map(move |north| (east, north)));
        let departure = |(east, north): (f64, f64), (dx, dy): (f64, f64)| {
            let (one, other) = (self.at((east + dx, north + dy))?, self.at((east - dx, north - dy))?);
            Some((self.at((east, north))? - f64::midpoint(one, other)).abs())
        };
        let both = |place| [departure(place, (reach, 0.0)), departure(place, (0.0, reach))];
        median(places.flat_map(both).flatten().collect()).unwrap_or(0.0)
    }
}

/// From -`most` to `most`.
fn steps(most: f64, step: f64) -> impl Iterator<Item = f64> {
    let count = (most / step) as i32;
    (-count..=count).map(move |number| f64::from(number) * step)
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    let middle = values.len() / 2;
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

#[cfg(test)]
mod tests {
    use fallwright_units::Frame;

    use super::*;

    /// Ground of 80 m by 80 m, cells of one metre, by metres east and south of the middle.
    fn bank(height: impl Fn(f64, f64) -> f64) -> Bank {
        let frame = Frame::new(80, 80, (0.0, 80.0), (1.0, 1.0)).unwrap();
        let (col, row) = (|cell: usize| (cell % 80) as f64 - 40.0, |cell: usize| (cell / 80) as f64 - 40.0);
        let values = (0..frame.len()).map(|cell| height(col(cell), row(cell)) as f32).collect();
        Bank::at(&Raster { frame, values }, frame.cell(40, 40))
    }

    fn check(height: impl Fn(f64, f64) -> f64, height_m: f64, roughness_m: f64) {
        let found = bank(height);
        assert!(
            (found.height_m - height_m).abs() < 0.02 && (found.roughness_m - roughness_m).abs() < 0.02,
            "{found:?}"
        );
    }

    /// By definition: a bank has its height, in whatever direction it runs; a plane has neither height nor roughness.
    #[test]
    fn a_bank_has_its_height() {
        check(|_, _| 100.0, 0.0, 0.0);
        check(|x, _| 100.0 + f64::from(x.abs() <= 3.0), 1.0, 0.0);
        check(|x, y| 100.0 + f64::from((x + y).abs() <= 4.0), 1.0, 0.0);
        // A ditch runs up to it on both sides.
        check(|x, y| 100.0 + f64::from(x.abs() <= 3.0) - 0.6 * f64::from(x.abs() > 3.0 && y.abs() <= 1.0), 1.0, 0.0);
    }

    /// By hand: a bank of 1 m at 5 to 8 m east of the place, on ground of 100 m; ground beyond.
    #[test]
    fn lower_ground_beyond_a_bank() {
        let find = |beyond_m: f64, level_m: f64, low_m: f64| {
            let frame = Frame::new(80, 80, (0.0, 80.0), (1.0, 1.0)).unwrap();
            let height = |x: f64| match x {
                x if x < 5.0 => 100.0,
                x if x <= 8.0 => 101.0,
                _ => beyond_m,
            };
            let values = (0..frame.len()).map(|cell| height((cell % 80) as f64 - 40.0) as f32).collect();
            let found = low_ground_beyond_bank(&Raster { frame, values }, frame.cell(40, 40), (level_m, low_m))?;
            assert!((45..=48).contains(&frame.col_row(found.crest).0), "{found:?}");
            Some(found.distance_m)
        };
        assert_eq!(find(99.5, 100.4, 100.0), Some(9.0));
        assert_eq!(find(100.1, 100.4, 100.0), None);
        assert_eq!(find(100.1, 100.4, 100.2), Some(9.0));
        assert_eq!(find(99.5, 101.0, 100.0), None);
    }

    /// Heights are those of whole cells, so that a plane is even to its fall over one of them.
    #[test]
    fn a_slope_is_no_bank() {
        let found = bank(|x, y| 100.0 + 0.05 * x + 0.02 * y);
        assert!(found.height_m <= 0.05 + 0.02 && found.roughness_m < 1e-4, "{found:?}");
    }

    #[test]
    fn a_step_or_a_mound_is_no_bank() {
        check(|x, _| 100.0 + f64::from(x >= 0.0), 0.0, 0.0);
        check(|x, y| 100.0 + f64::from(x.hypot(y) <= 2.0), 0.0, 0.0);
    }

    /// Of a chequered pattern each cell departs by its whole step from those beside it.
    #[test]
    fn pits_and_mounds_are_rough() {
        let side = |at: f64| (at / 4.0).floor() as i64;
        let found = bank(|x, y| 100.0 + 0.5 * ((side(x) + side(y)).rem_euclid(2)) as f64);
        assert!((found.roughness_m - 0.5).abs() < 1e-6, "{found:?}");
    }
}
