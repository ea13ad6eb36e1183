//! Vector layers in.

use std::collections::BTreeMap;
use std::path::Path;

use crate::{Attribute, Crs, Problem};

/// One layer of a vector file, in the target reference system.
#[derive(Clone, Debug, PartialEq)]
pub struct VectorLayer {
    pub file: String,
    pub layer: String,
    pub fields: Vec<String>,
    pub features: Vec<VectorFeature>,
}

/// One feature as the file holds it, judged by nobody yet.
#[derive(Clone, Debug, PartialEq)]
pub struct VectorFeature {
    /// Place in the file, from 1.
    pub position: usize,
    /// In the target reference system, without heights.
    pub geometry: Option<geo::Geometry<f64>>,
    pub attributes: BTreeMap<String, Attribute>,
}

pub fn read_vector(_path: &Path, _layer: Option<&str>, _to: &Crs) -> Result<VectorLayer, Vec<Problem>> {
    todo!()
}
