//! Where the water of any place goes: followed at full resolution for the points of a grid.

use fallwright_network::{Destination, FlowLines, LandsCrossed, Onward, Party};
use fallwright_study::Study;
use fallwright_units::Cell;
use rayon::prelude::*;

use super::page_parcels::land;
use crate::overview::{ClickGrid, Texts};
use crate::picture::deflated_base64;
use crate::words::destination_words;

/// Most points of the grid (our choice: it keeps the page small).
const MOST_POINTS: usize = 400_000;

/// What an entry of the grid is where it is no land: an outlet, or another end of the path.
const OUTLET: i64 = -2;
const END: i64 = -3;

/// Cells from one point of the grid to the next.
pub(crate) fn spacing(study: &Study) -> usize {
    (study.setting.frame().len() as f64 / MOST_POINTS as f64).sqrt().ceil().max(1.0) as usize
}

/// Metres along every line, cell by cell, and from its first cell to where its water meets an outlet or ends.
pub(crate) struct Lengths {
    along: Vec<Vec<f64>>,
    to_end: Vec<f64>,
}

impl Lengths {
    pub(crate) fn new(study: &Study, lines: &FlowLines) -> Self {
        let frame = study.setting.frame();
        let along: Vec<Vec<f64>> = lines
            .list
            .iter()
            .map(|line| {
                let mut metres = vec![0.0];
                for pair in line.cells.windows(2) {
                    metres.push(metres[metres.len() - 1] + frame.distance(pair[0], pair[1]));
                }
                metres
            })
            .collect();
        let own: Vec<f64> = along.iter().map(|metres| metres[metres.len() - 1]).collect();
        let mut to_end = vec![f64::NAN; own.len()];
        for start in 0..own.len() {
            let mut chain = Vec::new();
            let mut line = Some(start);
            while let Some(position) = line.filter(|&position| to_end[position].is_nan()) {
                chain.push(position);
                line = lines.list[position].next;
            }
            let mut rest = line.map_or(0.0, |position| to_end[position]);
            for position in chain.into_iter().rev() {
                rest += own[position];
                to_end[position] = rest;
            }
        }
        Self { along, to_end }
    }

    pub(crate) fn line_m(&self, line: usize) -> f64 {
        self.along[line][self.along[line].len() - 1]
    }
}

pub(crate) fn click_grid(
    study: &Study,
    lands: &LandsCrossed,
    lines: &FlowLines,
    lengths: &Lengths,
    texts: &mut Texts,
) -> ClickGrid {
    let frame = study.setting.frame();
    let side = spacing(study);
    let middle = side / 2;
    let count = |cells: usize| (cells - middle).div_ceil(side);
    let (cols, rows) = (count(frame.cols()), count(frame.rows()));
    let points: Vec<[u32; 5]> = (0..cols * rows)
        .into_par_iter()
        .map(|index| frame.cell(middle + index % cols * side, middle + index / cols * side))
        .map(|cell| at_point(study, lands, lines, lengths, cell))
        .collect();
    let planes: Vec<u32> = (0..5).flat_map(|plane| points.iter().map(move |point| point[plane])).collect();
    let (width, height) = (frame.cell_width(), frame.cell_height());
    ClickGrid {
        cols,
        rows,
        step_m: [width * side as f64, height * side as f64],
        first_m: [width * (middle as f64 + 0.5), height * (middle as f64 + 0.5)],
        entries: lands.list.iter().map(|onward| entry(study, *onward, texts)).collect(),
        planes: deflated_base64(&planes),
    }
}

fn entry(study: &Study, onward: Onward, texts: &mut Texts) -> (i64, usize) {
    match onward {
        Onward::Crosses { land: party, then } => (land(party), then),
        Onward::Meets(destination) => {
            let kind = if matches!(destination, Destination::Outlet(_)) { OUTLET } else { END };
            (kind, texts.add(&destination_words(study, destination)))
        }
    }
}

/// Element and 1, land, line and 1, how far along it, metres to the end.
fn at_point(study: &Study, lands: &LandsCrossed, lines: &FlowLines, lengths: &Lengths, cell: Cell) -> [u32; 5] {
    let Some(element) = lands.of(cell) else { return [0; 5] };
    let own = match study.setting.parties.of(cell) {
        Party::Unowned => 1,
        Party::Parcel(parcel) => parcel.number() + 1,
        Party::Road(road) => study.inputs.parcels.len() as u32 + road.number() + 1,
    };
    let (mut metres, mut on) = (0.0, cell);
    let mut path = study.setting.flow().path(cell);
    let place = loop {
        let Some(next) = path.next() else { break None };
        metres += study.setting.frame().distance(on, next);
        on = next;
        if study.setting.lawful_at(on).is_some() {
            break None;
        }
        if let Some(place) = lines.at(on) {
            break Some(place);
        }
    };
    let (mut line, mut along) = (0, 0);
    if let Some((position, step)) = place {
        let (at, length) = (lengths.along[position][step], lengths.line_m(position));
        metres += lengths.to_end[position] - at;
        line = position as u32 + 1;
        along = if length > 0.0 { (at / length * 65535.0).round() as u32 } else { 0 };
    }
    [element as u32 + 1, own, line, along, metres.round() as u32]
}

#[cfg(test)]
#[path = "click_tests.rs"]
mod tests;
