//! Profiles drawn: ground line over grey, grade line, stations, lot lines and structures.

use super::canvas::{Area, Canvas, Letters, fitted, path_data};
use crate::palette::PALETTE;
use crate::profile::{MarkKind, Profile, station};

/// Room left of the drawing for levels and below it for stations, millimetres.
const LEFT_MM: f64 = 15.0;
const BELOW_MM: f64 = 9.0;
const ABOVE_MM: f64 = 9.0;

/// What the drawn scales are, computed from the drawing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct ProfileScale {
    /// Metres in plan and in height that a millimetre stands for.
    pub along_m_per_mm: f64,
    pub height_m_per_mm: f64,
}

impl ProfileScale {
    pub(crate) fn exaggeration(self) -> f64 {
        self.along_m_per_mm / self.height_m_per_mm
    }
}

/// The stretch of a profile between two stations that is drawn, and how heights are.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Shown {
    pub(crate) from_m: f64,
    pub(crate) to_m: f64,
    /// Heights this many times as large as lengths, as far as the room allows; as large as the room where `None`.
    pub(crate) exaggeration: Option<f64>,
}

/// Draws a stretch into an area, lot lines with the numbers of their order.
pub(crate) fn draw(canvas: &mut Canvas, area: Area, profile: &Profile, stretch: Shown) -> ProfileScale {
    let inner = Area {
        x: area.x + LEFT_MM,
        y: area.y + ABOVE_MM,
        width: area.width - LEFT_MM - 4.0,
        height: area.height - BELOW_MM - ABOVE_MM,
    };
    let levels = levels(profile, stretch);
    let (low, high) = (levels.0, levels.1.max(levels.0 + 0.2));
    let along_m_per_mm = (stretch.to_m - stretch.from_m).max(1.0) / inner.width;
    let full = (high - low) / inner.height;
    let height_m_per_mm = stretch.exaggeration.map_or(full, |times| full.max(along_m_per_mm / times));
    let plot = Plot { inner, stretch, low, along_m_per_mm, height_m_per_mm };
    plot.ground(canvas, profile);
    plot.levels(canvas, high);
    plot.stations(canvas);
    plot.grades(canvas, profile);
    plot.marks(canvas, profile);
    ProfileScale { along_m_per_mm, height_m_per_mm }
}

/// Lowest and highest level of a stretch, metres.
fn levels(profile: &Profile, stretch: Shown) -> (f64, f64) {
    let within = |station_m: f64| station_m >= stretch.from_m && station_m <= stretch.to_m;
    let ground = profile.points.iter().filter(|point| within(point.station_m)).filter_map(|point| point.ground_m);
    let grades = profile.grades.iter().filter(|grade| within(grade.from_m) || within(grade.to_m));
    let all = ground.chain(grades.flat_map(|grade| [grade.from_level_m, grade.to_level_m]));
    all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), level| (low.min(level), high.max(level)))
}

struct Plot {
    inner: Area,
    stretch: Shown,
    low: f64,
    along_m_per_mm: f64,
    height_m_per_mm: f64,
}

impl Plot {
    fn x(&self, station_m: f64) -> f64 {
        self.inner.x + (station_m - self.stretch.from_m) / self.along_m_per_mm
    }

    fn y(&self, level_m: f64) -> f64 {
        self.inner.bottom() - (level_m - self.low) / self.height_m_per_mm
    }

    fn shows(&self, station_m: f64) -> bool {
        station_m >= self.stretch.from_m - 1e-9 && station_m <= self.stretch.to_m + 1e-9
    }

    fn ground(&self, canvas: &mut Canvas, profile: &Profile) {
        let points: Vec<(f64, f64)> = profile
            .points
            .iter()
            .filter(|point| self.shows(point.station_m))
            .filter_map(|point| Some((self.x(point.station_m), self.y(point.ground_m?))))
            .collect();
        let (Some(first), Some(last)) = (points.first(), points.last()) else { return };
        let below = path_data([(first.0, self.inner.bottom())].into_iter().chain(points.iter().copied()));
        canvas.add(format_args!(
            "<path d=\"{below}L{:.2} {:.2}Z\" fill=\"{}\"/>\n<path d=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"0.35\"/>\n",
            last.0,
            self.inner.bottom(),
            PALETTE.ground.under,
            path_data(points.iter().copied()),
            PALETTE.ground.line
        ));
    }

    fn levels(&self, canvas: &mut Canvas, high: f64) {
        let Area { x, .. } = self.inner;
        canvas.line((x, self.y(high).min(self.inner.bottom() - 1.0)), (x, self.inner.bottom()), 0.3);
        let step = round_step((high - self.low) / 4.0);
        let mut level = (self.low / step).ceil() * step;
        while level <= high + 1e-9 {
            let y = self.y(level);
            canvas.line((x - 1.2, y), (x, y), 0.25);
            canvas.text(
                (x - 1.8, y + 0.9),
                &format!("{level:.places$}", places = decimals(step)),
                Letters::plain(2.5).end(),
            );
            level += step;
        }
        canvas.text((x - LEFT_MM, self.inner.y - 4.5), "level, m", Letters::plain(2.5));
    }

    fn stations(&self, canvas: &mut Canvas) {
        let bottom = self.inner.bottom();
        canvas.line((self.inner.x, bottom), (self.x(self.stretch.to_m), bottom), 0.3);
        let step = round_step(22.0 * self.along_m_per_mm).max(1.0);
        let mut at = (self.stretch.from_m / step).ceil() * step;
        while at <= self.stretch.to_m + 1e-9 {
            canvas.line((self.x(at), bottom), (self.x(at), bottom + 1.2), 0.25);
            canvas.text((self.x(at), bottom + 4.2), &station(at), Letters::plain(2.5).middle());
            at += step;
        }
        canvas.text((self.inner.x, bottom + 8.0), "station, hundreds and metres", Letters::plain(2.5));
    }

    fn grades(&self, canvas: &mut Canvas, profile: &Profile) {
        for grade in profile.grades.iter().filter(|grade| self.shows(grade.from_m) && self.shows(grade.to_m)) {
            let from = (self.x(grade.from_m), self.y(grade.from_level_m));
            let to = (self.x(grade.to_m), self.y(grade.to_level_m));
            canvas.add(format_args!(
                "<path d=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"0.9\"/>\n",
                path_data([from, to]),
                PALETTE.grade
            ));
            let letters = Letters::plain(2.3).halo();
            let is_left = from.0 < self.inner.x + self.inner.width / 2.0;
            let (x, letters) = if is_left { (from.0, letters) } else { (to.0, letters.end()) };
            canvas.text((x, from.1.min(to.1) - 1.2), &grade.label, letters);
        }
    }

    fn marks(&self, canvas: &mut Canvas, profile: &Profile) {
        let mut number = 0;
        let mut free = f64::NEG_INFINITY;
        for mark in &profile.marks {
            let is_lot_line = mark.kind == MarkKind::LotLine;
            number += usize::from(is_lot_line);
            if !self.shows(mark.station_m) {
                continue;
            }
            let x = self.x(mark.station_m);
            if is_lot_line {
                canvas.add(format_args!(
                    "<line x1=\"{x:.2}\" y1=\"{:.2}\" x2=\"{x:.2}\" y2=\"{:.2}\" stroke=\"#000\" stroke-width=\"0.25\" stroke-dasharray=\"1.4 0.9\"/>\n",
                    self.inner.y,
                    self.inner.bottom()
                ));
                canvas.number((x.max(free), self.inner.y - 2.4), &number.to_string());
                free = x.max(free) + 5.0;
            } else {
                canvas.line((x, self.inner.bottom() - 4.0), (x, self.inner.bottom()), 0.6);
                let is_left = x < self.inner.x + self.inner.width / 2.0;
                let letters = Letters::plain(2.3).halo();
                let (at, letters) = if is_left { (x + 0.6, letters) } else { (x - 0.6, letters.end()) };
                canvas.text((at, self.inner.bottom() - 1.0), &fitted(&mark.label, 30.0, letters), letters);
            }
        }
    }
}

/// The next of 1, 2 or 5 times a power of ten.
fn round_step(least: f64) -> f64 {
    let ten = 10_f64.powf(least.max(1e-3).log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|times| times * ten).find(|&step| step >= least).unwrap_or(10.0 * ten)
}

fn decimals(step: f64) -> usize {
    (-step.log10().floor()).clamp(0.0, 3.0) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round() {
        let check = |least: f64, expected: f64| assert!((round_step(least) - expected).abs() < 1e-9, "{least}");
        check(0.3, 0.5);
        check(1.0, 1.0);
        check(13.0, 20.0);
        check(60.0, 100.0);
        assert_eq!(decimals(0.5), 1);
        assert_eq!(decimals(20.0), 0);
    }

    /// By definition: metres in plan over metres in height that a millimetre stands for.
    #[test]
    fn the_exaggeration_is_that_of_the_drawn_scales() {
        let scale = ProfileScale { along_m_per_mm: 2.0, height_m_per_mm: 0.2 };
        assert_eq!(scale.exaggeration(), 10.0);
    }
}
