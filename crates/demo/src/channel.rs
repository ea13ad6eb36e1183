//! A channel of the block: its class, cross-section, bed line and culverts.

use crate::bed_line::BedLine;
use crate::plan::{CULVERT_OFFSET, DITCH_OFFSET, ROADS};

#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum WaterwayClass {
    NaturalWatercourse,
    MunicipalDrain,
    MutualAgreementDrain,
    PrivateDitch,
    RoadDitch,
}

impl WaterwayClass {
    /// The word used in case files and layers.
    pub const fn name(self) -> &'static str {
        match self {
            Self::NaturalWatercourse => "natural_watercourse",
            Self::MunicipalDrain => "municipal_drain",
            Self::MutualAgreementDrain => "mutual_agreement_drain",
            Self::PrivateDitch => "private_ditch",
            Self::RoadDitch => "road_ditch",
        }
    }
}

/// The cross-section of a channel, in metres; our choice throughout.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Section {
    /// Bank above bed.
    pub depth: f64,
    /// Half the width of the level bed.
    pub bottom_half: f64,
    /// Rise over run of the sides.
    pub side_slope: f64,
}

impl Section {
    /// Height of the channel's side above its bed at a distance from its middle.
    pub(crate) fn height(self, distance: f64) -> f64 {
        let in_bottom = distance.min(self.bottom_half);
        BOTTOM_SLOPE * in_bottom + self.side_slope * (distance - in_bottom)
    }

    /// Width from top of bank to top of bank.
    pub(crate) fn top_width(self) -> f64 {
        2.0 * (self.bottom_half + self.depth / self.side_slope)
    }
}

/// Fall of a channel's bottom towards its middle.
const BOTTOM_SLOPE: f64 = 0.02;

/// A culvert under a road: the channel's vertices at its ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Crossing {
    pub inlet: (f64, f64),
    pub outlet: (f64, f64),
    /// The road's id.
    pub road: &'static str,
}

#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Channel {
    pub id: String,
    pub name: String,
    /// `None` for the swale that no layer maps.
    pub class: Option<WaterwayClass>,
    pub section: Section,
    pub line: BedLine,
    pub crossings: Vec<Crossing>,
}

impl Channel {
    pub(crate) fn new((id, name): (&str, &str), class: Option<WaterwayClass>, section: Section, line: BedLine) -> Self {
        let mut channel = Self { id: id.into(), name: name.into(), class, section, line, crossings: Vec::new() };
        channel.cross_roads();
        channel
    }

    /// Adds vertices at the roads' side ditches and at both ends of every culvert.
    fn cross_roads(&mut self) {
        for (road, _, centre) in ROADS {
            for offset in [-DITCH_OFFSET, DITCH_OFFSET] {
                self.line.cut_at(centre.moved(offset));
            }
            let below = self.line.cut_at(centre.moved(-CULVERT_OFFSET));
            let above = self.line.cut_at(centre.moved(CULVERT_OFFSET));
            for (a, b) in below.into_iter().zip(above) {
                let downstream_first = self.line.bed_at(a) > self.line.bed_at(b);
                let (inlet, outlet) = if downstream_first { (a, b) } else { (b, a) };
                self.crossings.push(Crossing { inlet, outlet, road });
            }
        }
    }

    /// The parts of the line that lie in the open.
    pub(crate) fn open_parts(&self) -> Vec<BedLine> {
        let stretches: Vec<_> = self.crossings.iter().map(|crossing| [crossing.inlet, crossing.outlet]).collect();
        self.line.without(&stretches)
    }
}

/// The channels that the township's layers hold, with their class.
pub(crate) fn mapped(channels: &[Channel]) -> impl Iterator<Item = (&Channel, WaterwayClass)> {
    channels.iter().filter_map(|channel| channel.class.map(|class| (channel, class)))
}

/// The channel with an id of the plan.
pub(crate) fn with_id<'a>(channels: &'a [Channel], id: &str) -> &'a Channel {
    channels.iter().find(|channel| channel.id == id).expect("the plan has the channel")
}
