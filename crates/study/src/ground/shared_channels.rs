//! One channel mapped twice, as where a natural watercourse was improved as a municipal drain: the water keeps to one chain
//! of cells, and both waterways are known to run there.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_land::DrawnLines;
use fallwright_network::Waterway;
use fallwright_units::{Cell, Frame, WaterwayIx};
use geo::{Coord, Euclidean, Length, LineString};

use fallwright_case::{Inputs, MappedWaterway};

/// The waterways put on cells so far, those of the stronger classes first.
#[derive(Default)]
pub(super) struct SharedChannels {
    courses: DrawnLines,
    chains: BTreeMap<WaterwayIx, BTreeSet<Cell>>,
}

/// Where one line runs in a channel of its own, and where in that of a waterway put on cells before.
#[derive(Default)]
pub(super) struct Course {
    /// They reach into the other's channel where they come in or leave.
    pub own: Vec<LineString<f64>>,
    /// Cells of the others' channels, each with the other.
    pub shares: Vec<(WaterwayIx, Cell)>,
    /// Metres along each of the others.
    pub along_m: BTreeMap<WaterwayIx, f64>,
}

impl SharedChannels {
    pub(super) fn add(&mut self, position: WaterwayIx, mapped: &MappedWaterway, waterway: &Waterway) {
        self.courses.add(position, &mapped.lines, mapped.width_m);
        self.chains.insert(position, waterway.chains.iter().flatten().copied().collect());
    }

    /// Lines nearer than half a cell cannot be distinguished on the cells, nor those within the abut tolerance on the map.
    pub(super) fn course(&self, inputs: &Inputs, mapped: &MappedWaterway, line: &LineString<f64>) -> Course {
        let frame = inputs.ground.frame;
        let near_m = inputs.case.rules.abut_tolerance_m.max(frame.cell_width().max(frame.cell_height()) / 2.0);
        let reach_m = |other: WaterwayIx| {
            let half_width_m = inputs.waterways[other].width_m.max(mapped.width_m) / 2.0;
            near_m.max(half_width_m) + frame.cell_width().hypot(frame.cell_height())
        };
        let stretches = self.courses.stretches(line, mapped.width_m, near_m);
        let mut course = Course::default();
        for (position, stretch) in stretches.iter().enumerate() {
            if let Some(other) = stretch.along {
                let beside = self.cells_beside(&frame, other, &stretch.line, reach_m(other));
                course.shares.extend(beside.into_iter().map(|cell| (other, cell)));
                *course.along_m.entry(other).or_default() += Euclidean.length(&stretch.line);
            } else {
                let before = position.checked_sub(1).and_then(|before| stretches[before].along);
                let after = stretches.get(position + 1).and_then(|after| after.along);
                let ends = [before, after].map(|other| other.map(|other| (other, reach_m(other))));
                course.own.push(self.led_in(&frame, stretch.line.clone(), ends));
            }
        }
        course
    }

    /// The cells of a waterway's chains within a distance of a line.
    fn cells_beside(
        &self,
        frame: &Frame,
        waterway: WaterwayIx,
        line: &LineString<f64>,
        reach_m: f64,
    ) -> BTreeSet<Cell> {
        let cells = (reach_m / frame.cell_width().min(frame.cell_height())).ceil() as i32;
        let window = || (-cells..=cells).flat_map(|dr| (-cells..=cells).map(move |dc| (dc, dr)));
        let mut beside = BTreeSet::new();
        for from in line.0.iter().filter_map(|point| frame.cell_at((point.x, point.y))) {
            let near = window().filter_map(|step| frame.step(from, step));
            beside.extend(
                near.filter(|cell| self.chains[&waterway].contains(cell) && frame.distance(from, *cell) <= reach_m),
            );
        }
        beside
    }

    /// The line with the nearest cells of the channels that it leaves and comes into added at its ends, each within a distance:
    /// what lies farther off is not where the lines come together.
    fn led_in(
        &self,
        frame: &Frame,
        mut line: LineString<f64>,
        [before, after]: [Option<(WaterwayIx, f64)>; 2],
    ) -> LineString<f64> {
        let nearest = |((waterway, reach_m), point): ((WaterwayIx, f64), Coord<f64>)| {
            let distance = |centre: &(f64, f64)| (centre.0 - point.x).hypot(centre.1 - point.y);
            let centres = self.chains[&waterway].iter().map(|&cell| frame.centre(cell));
            let near = centres.filter(|centre| distance(centre) <= reach_m);
            near.min_by(|a, b| distance(a).total_cmp(&distance(b))).map(Coord::from)
        };
        let first = before.zip(line.0.first().copied()).and_then(nearest);
        let last = after.zip(line.0.last().copied()).and_then(nearest);
        line.0.splice(0..0, first);
        line.0.extend(last);
        line
    }
}
