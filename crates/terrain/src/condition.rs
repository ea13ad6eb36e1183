//! The steps from ground to flow, in their order.

use std::collections::BTreeMap;

use fallwright_units::{Cell, Raster};
use thiserror::Error;

use crate::{Filled, Flow, Links, channel_bed, fill, flow_direction};

/// What is known of the ground besides its elevation.
#[derive(Clone, Debug, Default)]
pub struct Conditioning {
    /// Mapped open channels as consecutive cells, drawn downstream.
    pub channels: Vec<Vec<Cell>>,
    pub links: Links,
    /// The lowest cell of each kept depression.
    pub sinks: Vec<Cell>,
}

/// The conditioned surface and the flow over it.
#[derive(Clone, Debug)]
pub struct Conditioned {
    /// Ground with channel beds, before filling; metres.
    pub enforced: Raster<f32>,
    /// Ground with channel beds, depressions filled; metres.
    pub surface: Raster<f32>,
    /// Bed level given to each channel cell, metres.
    pub bed: BTreeMap<Cell, f32>,
    pub flow: Flow,
    /// Inlets of links that could carry no water anywhere and were left out.
    pub blocked: Vec<Cell>,
}

#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum ConditionError {
    #[error("the raster has no cell with an elevation")]
    NoData,
}

/// Enforces channels, fills depressions with the links taking part, and finds flow directions.
///
/// # Errors
/// A raster without any elevation.
pub fn condition(ground: &Raster<f32>, known: Conditioning) -> Result<Conditioned, ConditionError> {
    if ground.values.iter().all(|z| z.is_nan()) {
        return Err(ConditionError::NoData);
    }
    let bed = channel_bed(ground, &known.channels);
    let mut enforced = ground.clone();
    for (&cell, &level) in &bed {
        enforced[cell] = level;
    }
    let mut links = known.links;
    let mut blocked = Vec::new();
    let surface = loop {
        let Filled { surface, blocked: cannot_discharge } = fill(&enforced, &links, &known.sinks);
        if cannot_discharge.is_empty() {
            break surface;
        }
        links = links.without(&cannot_discharge);
        blocked.extend(cannot_discharge);
    };
    let flow = flow_direction(&surface, links, &known.sinks);
    Ok(Conditioned { enforced, surface, bed, flow, blocked })
}
