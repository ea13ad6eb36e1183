//! The mapped waterways: what a township's layers would hold of the channels.

use geo::MultiLineString;

use crate::channel::{Channel, WaterwayClass, mapped};
use crate::geometry::line;
use crate::lot_part::{LotPart, roll};

/// A mapped open channel, drawn downstream and interrupted at its culverts.
#[derive(Clone, Debug, PartialEq)]
pub struct Waterway {
    pub id: String,
    pub name: String,
    pub class: WaterwayClass,
    /// Top of bank to top of bank, in metres.
    pub width_m: f64,
    /// Number and date of the by-law of a municipal drain.
    pub bylaw: Option<&'static str>,
    /// Roll numbers named in the agreement or the written permission.
    pub members: Vec<String>,
    /// Whether an agreement is registered on title.
    pub on_title: Option<bool>,
    pub lines: MultiLineString,
}

/// The road ditch that one parcel may use by written permission of the road authority.
const PERMITTED_DITCH: &str = "RD-12";

pub(crate) fn waterways(channels: &[Channel]) -> Vec<Waterway> {
    mapped(channels).map(|(channel, class)| waterway(channel, class)).collect()
}

fn waterway(channel: &Channel, class: WaterwayClass) -> Waterway {
    Waterway {
        id: channel.id.clone(),
        name: channel.name.clone(),
        class,
        width_m: (channel.section.top_width() * 10.0).round() / 10.0,
        bylaw: bylaw(&channel.id),
        members: members(&channel.id),
        on_title: (class == WaterwayClass::MutualAgreementDrain).then(|| channel.id == "A-1"),
        lines: MultiLineString::new(channel.open_parts().iter().map(|part| line(&part.points)).collect()),
    }
}

fn bylaw(id: &str) -> Option<&'static str> {
    match id {
        "D-07" => Some("By-law 41-1987, 14 September 1987"),
        "D-11" => Some("By-law 12-1969, 3 March 1969"),
        _ => None,
    }
}

fn members(id: &str) -> Vec<String> {
    match id {
        "A-1" => vec![roll(3, 8, LotPart::N), roll(3, 8, LotPart::S), roll(3, 9, LotPart::SW), roll(2, 8, LotPart::N)],
        "A-2" => vec![roll(2, 7, LotPart::NW), roll(2, 7, LotPart::NE), roll(2, 7, LotPart::S)],
        PERMITTED_DITCH => vec![roll(1, 9, LotPart::N)],
        _ => Vec::new(),
    }
}
