//! The provisions under which a class of features confers a right, one a file.

mod approval;
mod assessed_by_schedule;
mod frontage;
mod named_in_award;
mod named_party;
mod natural_flow;
mod no_right;
mod permission_of_every_parcel;
mod touch;
mod written_permission;

use fallwright_units::Hectares;

use crate::{Class, Evidence, Observation, OutletOnPath, ParcelFacts, ParcelId, Profile, Provision, Reason, Rule};
pub(crate) use touch::{Contact, contact, touches};

/// What a provision says about a parcel and one feature that its water meets.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Outcome {
    pub(crate) right: Right,
    pub(crate) reasons: Vec<Reason>,
    pub(crate) evidence: Vec<Evidence>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Right {
    No,
    Whole,
    /// For no more than these hectares of all the shares together.
    UpTo(Hectares),
    /// A document that is not supplied, or not clear, would decide.
    Open,
}

/// A feature that a path meets.
#[derive(Clone, Copy)]
pub(crate) struct Met<'a> {
    pub(crate) feature: &'a str,
    /// Parcels crossed before.
    pub(crate) crossed: &'a [ParcelId],
    /// The lawful outlets that the path meets after that.
    pub(crate) further: &'a [OutletOnPath],
}

/// Tests a feature of `class` that a path meets.
pub(crate) fn test(
    class: &Class,
    Met { feature, crossed, further }: Met,
    facts: &ParcelFacts,
    profile: &Profile,
) -> Outcome {
    match class.provision {
        Provision::Frontage => frontage::test(class, feature, facts),
        Provision::AssessedBySchedule => assessed_by_schedule::test(class, feature, facts),
        Provision::NamedParty => named_party::test(class, feature, leads_on(further, profile), facts),
        Provision::NamedInAward => named_in_award::test(class, feature, leads_on(further, profile), facts),
        Provision::NaturalFlow => natural_flow::test(class, feature, crossed),
        Provision::Approval => approval::test(class, feature, facts),
        Provision::PermissionOfEveryParcel => permission_of_every_parcel::test(class, feature, crossed, facts),
        Provision::WrittenPermission => written_permission::test(class, feature, facts),
        Provision::None => no_right::test(class, feature),
    }
}

/// Whether the path goes on to a lawful outlet that does not itself rest on an agreement or award.
fn leads_on(further: &[OutletOnPath], profile: &Profile) -> bool {
    let mut classes = further.iter().filter_map(|outlet| profile.class(&outlet.class));
    let rests_on_one = |class: &Class| matches!(class.provision, Provision::NamedParty | Provision::NamedInAward);
    classes.any(|class| class.lawful_outlet && !rests_on_one(class))
}

impl Class {
    /// What was observed about a feature of the class.
    pub(crate) fn evidence(&self, feature: &str, observation: Observation) -> Evidence {
        let Self { id, source, confirmed, .. } = self;
        Evidence {
            rule: Rule::Class { id: id.clone(), source: source.clone(), confirmed: *confirmed },
            feature: Some(feature.to_owned()),
            observation,
        }
    }
}
