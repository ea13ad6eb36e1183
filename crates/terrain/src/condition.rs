//! The steps from ground to flow, in their order.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_units::{Cell, Raster};
use thiserror::Error;

use crate::flow::flow_along_channels;
use crate::{Cut, CutLimits, Filled, Flow, Links, channel_bed, cut_beds, cuts, fill};

/// What is known of the ground besides its elevation.
#[derive(Clone, Debug, Default)]
pub struct Conditioning {
    /// Mapped open channels as consecutive cells, drawn downstream.
    pub channels: Vec<Vec<Cell>>,
    /// Surveyed bed level of cells of the channels, metres.
    pub surveyed_beds: BTreeMap<Cell, f32>,
    pub links: Links,
    /// The lowest cell of each kept depression.
    pub sinks: Vec<Cell>,
    /// How large a cut may be; without it nothing is cut.
    pub cuts: Option<CutLimits>,
    /// Pits that are not to be cut open.
    pub uncut: BTreeSet<Cell>,
}

/// The conditioned surface and the flow over it.
#[derive(Clone, Debug)]
pub struct Conditioned {
    /// Ground with channel beds and cuts, before filling; metres.
    pub enforced: Raster<f32>,
    /// The same with depressions filled; metres.
    pub surface: Raster<f32>,
    /// Bed level given to each channel cell, metres.
    pub bed: BTreeMap<Cell, f32>,
    /// Barriers lowered, in the order of their pits.
    pub cuts: Vec<Cut>,
    pub flow: Flow,
    /// Inlets of links that could carry no water anywhere and were left out.
    pub blocked: Vec<Cell>,
}

#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum ConditionError {
    #[error("the raster has no cell with an elevation")]
    NoData,
}

/// Enforces channels, cuts barriers where cuts are allowed, fills what remains with the links taking part, and finds flow
/// directions.
///
/// # Errors
/// A raster without any elevation.
pub fn condition(ground: &Raster<f32>, known: Conditioning) -> Result<Conditioned, ConditionError> {
    if ground.values.iter().all(|z| z.is_nan()) {
        return Err(ConditionError::NoData);
    }
    let bed = channel_bed(ground, &known.channels, &known.surveyed_beds);
    let mut enforced = ground.clone();
    lower(&mut enforced, &bed);
    let mut drained = Drained { links: known.links, blocked: Vec::new() };
    let mut surface = drained.fill(&enforced, &known.sinks);
    let limits = known.cuts.filter(CutLimits::allow_any);
    let mut cuts = limits.map_or_else(Vec::new, |limits| cuts(&enforced, &surface, &drained.links, limits));
    cuts.retain(|cut| !known.uncut.contains(&cut.way.path[0]));
    if !cuts.is_empty() {
        lower(&mut enforced, &cut_beds(&cuts));
        drop(surface);
        surface = drained.fill(&enforced, &known.sinks);
    }
    let flow = flow_along_channels(&surface, drained.links, &known.sinks, &known.channels);
    Ok(Conditioned { enforced, surface, bed, cuts, flow, blocked: drained.blocked })
}

fn lower(surface: &mut Raster<f32>, beds: &BTreeMap<Cell, f32>) {
    for (&cell, &level) in beds {
        surface[cell] = level.min(surface[cell]);
    }
}

/// Links that carry water somewhere, and the inlets of those that do not.
struct Drained {
    links: Links,
    blocked: Vec<Cell>,
}

impl Drained {
    /// Fills a surface; links that can discharge nowhere are dropped.
    fn fill(&mut self, surface: &Raster<f32>, sinks: &[Cell]) -> Raster<f32> {
        loop {
            let Filled { surface, blocked } = fill(surface, &self.links, sinks);
            if blocked.is_empty() {
                return surface;
            }
            self.links = self.links.without(&blocked);
            self.blocked.extend(blocked);
        }
    }
}
