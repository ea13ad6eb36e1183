//! Positions as they are sent: each by how far it lies from the one before, which takes fewer bytes.

use serde::{Deserialize, Deserializer, Serializer};

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
