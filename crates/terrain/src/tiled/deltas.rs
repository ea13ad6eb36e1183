//! Positions as they are sent: each by how far it lies from the one before, which takes fewer bytes.

use serde::{Deserialize, Deserializer, Serializer};

use super::steps::Run;

pub(crate) fn serialize<S: Serializer>(positions: &[u32], serializer: S) -> Result<S::Ok, S::Error> {
    let mut before = 0;
    serializer.collect_seq(positions.iter().map(|&position| {
        let delta = position.wrapping_sub(before) as i32;
        before = position;
        delta
    }))
}

pub(crate) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Vec<u32>, D::Error> {
    let mut position = 0_u32;
    let next = |delta: i32| {
        position = position.wrapping_add(delta as u32);
        position
    };
    Ok(Vec::deserialize(deserializer)?.into_iter().map(next).collect())
}

/// The same for runs: where each begins and ends, by turns.
pub(crate) mod of_runs {
    use super::{Deserializer, Run, Serializer};

    pub(crate) fn serialize<S: Serializer>(runs: &[Run], serializer: S) -> Result<S::Ok, S::Error> {
        let bounds: Vec<u32> = runs.iter().flat_map(|run| [run.start, run.end]).collect();
        super::serialize(&bounds, serializer)
    }

    pub(crate) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Vec<Run>, D::Error> {
        let bounds = super::deserialize(deserializer)?;
        Ok(bounds.chunks_exact(2).map(|bounds| Run { start: bounds[0], end: bounds[1] }).collect())
    }
}
