//! The whole of conditioning against the textbook's steps one after the other, whatever surfaces are kept.

use std::collections::BTreeMap;

use fallwright_units::{Cell, Raster, SharedRaster};
use proptest::prelude::*;

use super::cut_beds;
use super::properties::{Case, cases};
use crate::{
    Conditioning, Cut, CutLimits, Flow, Keep, Links, Memory, channel_bed, condition, condition_in, direction, textbook,
};

/// Channels of the cases run east.
const EAST: u8 = 2;

/// What conditioning leaves; surfaces as bits, so that missing data is equal to itself.
#[derive(Debug, PartialEq)]
struct Answer {
    enforced: Vec<u32>,
    surface: Vec<u32>,
    direction: Vec<u8>,
    cut_at: Vec<Cell>,
    blocked: Vec<Cell>,
}

fn bits(surface: &Raster<f32>) -> Vec<u32> {
    surface.values.iter().map(|z| z.to_bits()).collect()
}

fn pits(cuts: &[Cut]) -> Vec<Cell> {
    cuts.iter().map(|cut| cut.way.path[0]).collect()
}

fn lower(surface: &mut Raster<f32>, beds: BTreeMap<Cell, f32>) {
    for (cell, level) in beds {
        surface[cell] = surface[cell].min(level);
    }
}

/// Fills without the links that can discharge nowhere.
fn filled(ground: &Raster<f32>, links: &mut Links, blocked: &mut Vec<Cell>, sinks: &[Cell]) -> Raster<f32> {
    loop {
        let filled = textbook::fill(ground, links, sinks);
        if filled.blocked.is_empty() {
            return filled.surface;
        }
        *links = links.without(&filled.blocked);
        blocked.extend(filled.blocked);
    }
}

fn expected(ground: &Raster<f32>, known: &Conditioning) -> Answer {
    let (mut links, mut blocked) = (known.links.clone(), Vec::new());
    let mut enforced = ground.clone();
    let Ok(bed) = channel_bed(ground, &known.channels, &known.surveyed_beds);
    lower(&mut enforced, bed);
    let mut surface = filled(&enforced, &mut links, &mut blocked, &known.sinks);
    let mut cuts = Vec::new();
    if let Some(limits) = known.cuts.filter(CutLimits::allow_any) {
        cuts = textbook::cuts(&enforced, &surface, &links, limits);
        cuts.retain(|cut| !known.uncut.contains(&cut.way.path[0]));
        lower(&mut enforced, cut_beds(&cuts));
        surface = filled(&enforced, &mut links, &mut blocked, &known.sinks);
    }
    let mut flow = textbook::flow_along_channels(&surface, links, &known.sinks, &known.channels);
    follow_channels(&surface, &mut flow, known);
    Answer {
        enforced: bits(&enforced),
        surface: bits(&surface),
        direction: flow.direction.values,
        cut_at: pits(&cuts),
        blocked,
    }
}

/// By the definition of `ChannelCourses::directions`, for channels that do not meet: a cell drains to the next one of its line where
/// that does not stand higher, if the line from there comes to a lower cell, or stops in one whose water leaves the level.
fn follow_channels(surface: &Raster<f32>, flow: &mut Flow, known: &Conditioning) {
    let given = flow.clone();
    let is_bound = |cell: Cell| given.direction[cell] == direction::CARRIED || known.sinks.contains(&cell);
    for channel in &known.channels {
        let goes_on = |at: usize| {
            let here = channel[at];
            channel.get(at + 1).is_some_and(|&next| !is_bound(here) && surface[next] <= surface[here])
        };
        for at in (0..channel.len()).filter(|&at| goes_on(at)) {
            let level = surface[channel[at]];
            let stops = (at..channel.len()).find(|&at| !goes_on(at) || surface[channel[at]] < level).unwrap();
            let leaves = || given.receiver(channel[stops]).is_none_or(|next| surface[next] < level);
            if surface[channel[stops]] < level || leaves() {
                flow.direction[channel[at]] = EAST;
            }
        }
    }
}

fn in_memory(ground: &Raster<f32>, known: Conditioning) -> Answer {
    let done = condition(ground, known).unwrap();
    Answer {
        enforced: bits(&done.enforced),
        surface: bits(&done.surface),
        direction: done.flow.direction.values,
        cut_at: pits(&done.cuts),
        blocked: done.blocked,
    }
}

/// In place, with the cuts handed on: the enforced ground is not kept.
fn in_place(ground: &Raster<f32>, known: Conditioning, enforced: Vec<u32>) -> Answer {
    let elevation = SharedRaster::new(ground.clone());
    let Ok(done) = condition_in(&Memory, elevation, known, Keep::Surface, |cuts| pits(&cuts));
    assert!(done.enforced.is_none());
    Answer {
        enforced,
        surface: bits(&done.surface.into_raster()),
        direction: done.direction.into_raster().values,
        cut_at: done.cuts.concat(),
        blocked: done.blocked,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    #[test]
    fn conditioning_is_the_textbooks_steps(case in cases(), uncut in 0_usize..144, surveyed in -2_i8..6) {
        let Case { ground, links, sinks, cuts } = case;
        prop_assume!(ground.values.iter().any(|z| !z.is_nan()));
        let frame = ground.frame;
        let row = |row: usize| (0..frame.cols()).map(|col| frame.cell(col, row)).collect::<Vec<_>>();
        let channels = vec![row(0), row(frame.rows() / 2)];
        let surveyed_beds = BTreeMap::from([(channels[1][frame.cols() / 2], f32::from(surveyed))]);
        let (links, uncut) = (Links::new(&links).unwrap(), [Cell(uncut)].into());
        let known = Conditioning { channels, surveyed_beds, links, sinks, cuts, uncut };
        let expected = expected(&ground, &known);
        prop_assert_eq!(&in_place(&ground, known.clone(), expected.enforced.clone()), &expected);
        prop_assert_eq!(&in_memory(&ground, known), &expected);
    }
}
