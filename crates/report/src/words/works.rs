//! What carries water over somebody's land, who may do maintenance on it and who is notified first.

use fallwright_network::{Carrier, Feature, Party, Trace};
use fallwright_units::StructureKind;

use fallwright_study::Study;

use super::lands::authority_words;
use super::sources::marked;

/// Common practice, no source; what a class of the profile says comes before.
fn notified_on(study: &Study, land: Party) -> String {
    match land {
        Party::Road(road) => authority_words(&study.inputs.roads[road]),
        Party::Parcel(_) | Party::Unowned => "the owner of the land".to_owned(),
    }
}

#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Works {
    /// `overland`, `culvert`, `pipe` or the class of the waterway.
    pub carried_by: String,
    pub carrier_id: Option<String>,
    /// What carries the water, with its id, in plain words.
    pub label: String,
    pub maintained_by: String,
    pub notified: String,
}

/// What carries the water on a land.
pub fn works(study: &Study, carrier: Carrier, land: Party) -> Works {
    let notified = || notified_on(study, land);
    let Carrier::Mapped(feature) = carrier else {
        return Works {
            carried_by: "overland".to_owned(),
            carrier_id: None,
            label: "overland".to_owned(),
            maintained_by: "nobody; there are no works".to_owned(),
            notified: notified(),
        };
    };
    let class = study.setting.feature_class(feature).and_then(|class| study.inputs.profile.class(class));
    let without_class = || match land {
        Party::Road(road) => authority_words(&study.inputs.roads[road]),
        Party::Parcel(_) | Party::Unowned => "whoever owns it; ask the owner of the land".to_owned(),
    };
    let id = study.setting.feature_id(feature);
    Works {
        carried_by: carried_by(study, feature).to_owned(),
        carrier_id: Some(id.to_owned()),
        label: format!("{} {id}", class.map_or(carried_by(study, feature), |class| class.label.as_str())),
        maintained_by: class.map_or_else(without_class, |class| class.maintained_by.clone()),
        notified: class.map_or_else(notified, |class| marked(&class.notified.who, class.notified.confirmed)),
    }
}

fn carried_by(study: &Study, feature: Feature) -> &str {
    match feature {
        Feature::Waterway(position) => &study.setting.waterways[position].class,
        Feature::Structure(position) => match study.setting.structures[position].kind {
            StructureKind::Culvert => "culvert",
            StructureKind::Pipe => "pipe",
        },
    }
}

/// What the outlet of a path is, and who maintains it.
pub fn outlet_works(study: &Study, trace: &Trace) -> Option<Works> {
    let land = study.setting.parties.of(trace.last.cell);
    trace.outlet.map(|outlet| works(study, Carrier::Mapped(outlet), land))
}
