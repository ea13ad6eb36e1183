//! Where the features of a layer come from.

use std::borrow::Cow;

use geojson::{Feature, FeatureCollection};

/// Features to write, one after the other. A file may need them several times.
pub trait FeatureSource {
    /// The features, in the same order each time.
    fn each(&self) -> Box<dyn Iterator<Item = Cow<'_, Feature>> + '_>;
}

impl FeatureSource for FeatureCollection {
    fn each(&self) -> Box<dyn Iterator<Item = Cow<'_, Feature>> + '_> {
        Box::new(self.features.iter().map(Cow::Borrowed))
    }
}

/// Features that are made when they are written, so that they need not all be in memory.
pub struct Streamed<'a> {
    begin: Box<dyn Fn() -> Features<'a> + 'a>,
}

type Features<'a> = Box<dyn Iterator<Item = Feature> + 'a>;

impl<'a> Streamed<'a> {
    /// `begin` makes them anew each time.
    pub fn new<I: Iterator<Item = Feature> + 'a>(begin: impl Fn() -> I + 'a) -> Self {
        Self { begin: Box::new(move || Box::new(begin())) }
    }
}

impl FeatureSource for Streamed<'_> {
    fn each(&self) -> Box<dyn Iterator<Item = Cow<'_, Feature>> + '_> {
        Box::new((self.begin)().map(Cow::Owned))
    }
}
