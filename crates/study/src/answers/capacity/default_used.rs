//! Defaults that a check rests on, with their values and sources.

use std::collections::BTreeMap;

use fallwright_hydraulics::{RainfallDistribution, StormMethod};

/// Which default.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum DefaultName {
    /// A key of the table of defaults.
    Key(&'static str),
    /// Of pipes of a material, by diameter.
    PipeRoughness { material: String },
    /// How a culvert of a material takes in water.
    CulvertInlet { material: String },
}

/// The value of a default.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DefaultValue {
    /// In the unit of the key.
    Number(f64),
    StormMethod(StormMethod),
    RainfallDistribution(RainfallDistribution),
    /// Of a material, listed in the table: more than a number.
    OfMaterial,
}

/// A default that was used.
#[derive(Clone, Debug, PartialEq)]
pub struct DefaultUsed {
    pub value: DefaultValue,
    /// As the table of defaults gives it.
    pub source: String,
    pub confirmed: bool,
}

/// Every default that a result rests on.
pub type DefaultsUsed = BTreeMap<DefaultName, DefaultUsed>;

/// Names of the defaults that one result rests on, in the order of their use.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Assumed(pub Vec<DefaultName>);

impl Assumed {
    pub(super) fn add(&mut self, name: DefaultName) {
        if !self.0.contains(&name) {
            self.0.push(name);
        }
    }
}

impl From<f64> for DefaultValue {
    fn from(value: f64) -> Self {
        Self::Number(value)
    }
}

impl From<StormMethod> for DefaultValue {
    fn from(value: StormMethod) -> Self {
        Self::StormMethod(value)
    }
}

impl From<RainfallDistribution> for DefaultValue {
    fn from(value: RainfallDistribution) -> Self {
        Self::RainfallDistribution(value)
    }
}
