//! How far a run has come, by the cells that it has read and written.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, PoisonError};

use fallwright_terrain::ConditioningStep;
use fallwright_units::{TileSink, TileSource, Window};

use super::Run;
use crate::Watch;

/// Where the rasters of a run lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum StoreKind {
    Memory,
    Files,
}

/// The steps of a run, in their order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Step {
    Reading,
    FillingToCut,
    Cutting,
    Filling,
    Directions,
    Counting,
    Writing,
}

impl From<ConditioningStep> for Step {
    fn from(step: ConditioningStep) -> Self {
        match step {
            ConditioningStep::FillingToCut => Self::FillingToCut,
            ConditioningStep::Cutting => Self::Cutting,
            ConditioningStep::Filling => Self::Filling,
            ConditioningStep::Directions => Self::Directions,
        }
    }
}

impl Step {
    const ALL: [Self; 7] = [
        Self::Reading,
        Self::FillingToCut,
        Self::Cutting,
        Self::Filling,
        Self::Directions,
        Self::Counting,
        Self::Writing,
    ];

    fn words(self, place: StoreKind) -> &'static str {
        match self {
            Self::Reading if place == StoreKind::Files => "reading the elevation into working files",
            Self::Reading => "reading the elevation",
            Self::FillingToCut => "finding depressions",
            Self::Filling => "filling depressions",
            Self::Cutting => "cutting barriers",
            Self::Directions => "finding flow directions",
            Self::Counting => "counting the cells that drain through each cell",
            Self::Writing => "writing the results",
        }
    }

    /// Nanoseconds a cell on two cores, as measured on a terrain of 10⁸ cells; the search for cuts follows the ground.
    fn cost(self) -> f64 {
        match self {
            Self::Reading => 15.0,
            Self::FillingToCut | Self::Filling => 19.0,
            Self::Cutting => 150.0,
            Self::Directions => 11.0,
            Self::Counting => 5.0,
            Self::Writing => 95.0,
        }
    }

    /// How often each cell is read or written, about.
    fn visits(self) -> f64 {
        match self {
            Self::Reading => 2.0,
            Self::FillingToCut | Self::Filling | Self::Counting => 3.0,
            Self::Cutting => 5.0,
            Self::Directions => 4.0,
            Self::Writing => 6.0,
        }
    }
}

/// Counts the cells that pass, and reports the part of the run that is done.
pub(super) struct Meter<'a> {
    watch: &'a dyn Watch,
    place: StoreKind,
    cells: f64,
    steps: Vec<Step>,
    step: Mutex<Option<Step>>,
    passed: AtomicU64,
}

impl<'a> Meter<'a> {
    pub(super) fn new(run: &Run, place: StoreKind, watch: &'a dyn Watch) -> Self {
        let cuts = run.options.limits().is_some();
        let is_due = |step: &Step| cuts || !matches!(step, Step::FillingToCut | Step::Cutting);
        Self {
            watch,
            place,
            cells: run.description.frame.len() as f64,
            steps: Step::ALL.into_iter().filter(is_due).collect(),
            step: Mutex::default(),
            passed: AtomicU64::new(0),
        }
    }

    pub(super) fn begin(&self, step: Step) {
        *self.step.lock().unwrap_or_else(PoisonError::into_inner) = Some(step);
        self.passed.store(0, Ordering::Relaxed);
        self.watch.step(step.words(self.place));
        self.pass(0);
    }

    fn pass(&self, cells: usize) {
        let passed = self.passed.fetch_add(cells as u64, Ordering::Relaxed) + cells as u64;
        if let Some(step) = *self.step.lock().unwrap_or_else(PoisonError::into_inner) {
            self.watch.part_done(part_done(&self.steps, step, passed as f64 / self.cells));
        }
    }
}

/// The part of all steps that is done once each cell was visited so often in one of them.
fn part_done(steps: &[Step], step: Step, visits: f64) -> f64 {
    let cost = |steps: &[Step]| steps.iter().map(|step| step.cost()).sum::<f64>();
    let before = steps.iter().take_while(|&&other| other != step).count();
    (cost(&steps[..before]) + step.cost() * (visits / step.visits()).min(1.0)) / cost(steps)
}

/// A raster whose cells are counted as they pass.
pub(super) struct Metered<'a, R> {
    pub(super) raster: R,
    pub(super) meter: &'a Meter<'a>,
}

impl<T, R: TileSource<T>> TileSource<T> for Metered<'_, R> {
    type Error = R::Error;

    fn frame(&self) -> fallwright_units::Frame {
        self.raster.frame()
    }

    fn read(&self, window: Window, into: &mut [T], stride: usize) -> Result<(), R::Error> {
        self.meter.pass(window.len());
        self.raster.read(window, into, stride)
    }
}

impl<T, R: TileSink<T>> TileSink<T> for Metered<'_, R> {
    fn write(&self, window: Window, from: &[T], stride: usize) -> Result<(), R::Error> {
        self.meter.pass(window.len());
        self.raster.write(window, from, stride)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_add_up_to_the_whole() {
        let check = |steps: &[Step]| {
            let mut ended = 0.0;
            for &step in steps {
                assert!((part_done(steps, step, 0.0) - ended).abs() < 1e-12, "{step:?}");
                let half = part_done(steps, step, step.visits() / 2.0);
                ended = part_done(steps, step, step.visits());
                assert!(part_done(steps, step, 0.0) < half && half < ended, "{step:?}");
                // More visits than were expected.
                assert!((part_done(steps, step, 9.0 * step.visits()) - ended).abs() < 1e-12, "{step:?}");
            }
            assert!((ended - 1.0).abs() < 1e-12);
        };
        check(&Step::ALL);
        check(&[Step::Reading, Step::Filling, Step::Directions, Step::Counting, Step::Writing]);
    }
}
