//! The lands of a watershed, measured, and as the drain's schedule has them.

use std::collections::BTreeSet;

use fallwright_case::{AssessedFor, AssessedLand};
use fallwright_network::Party;

use super::parts::WatershedParts;
use super::tally::{Tally, sum_on};
use crate::facts::missing_hectares;
use crate::study::Study;

/// What comes of comparing one land with the schedule.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Comparison {
    InBoth,
    /// The schedule lists it for benefit alone, which is no outlet.
    BenefitOnly,
    NotInSchedule,
    NotInWatershed,
    NotInParcelLayer,
    /// Unowned land; a road that the schedule does not list by its id, since it may name it in another way; every land where
    /// no schedule is supplied.
    NotMade,
}

impl Comparison {
    pub fn code(self) -> &'static str {
        match self {
            Self::InBoth => "in_both",
            Self::BenefitOnly => "benefit_only",
            Self::NotInSchedule => "not_in_schedule",
            Self::NotInWatershed => "not_in_watershed",
            Self::NotInParcelLayer => "not_in_parcel_layer",
            Self::NotMade => "not_compared",
        }
    }
}

/// A land of a watershed or of a schedule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WatershedLand {
    Party(Party),
    /// An id of the schedule that no parcel and no road has.
    OnlyInSchedule(String),
}

/// One land; hectares.
pub struct LandInWatershed {
    pub land: WatershedLand,
    pub surface_ha: f64,
    pub piped_ha: f64,
    /// By surface or by pipe, each piece of land once.
    pub drains_ha: f64,
    /// Whether the watershed meets the edge of the elevation on it.
    pub meets_edge: bool,
    /// Of the parcel, without elevation: unknown where it drains.
    pub unknown_ha: f64,
    /// For outlet.
    pub assessed_ha: Option<f64>,
    pub compared: Comparison,
}

/// Every land with water in the watershed and every land of the schedule, roads and then parcels in the order of their ids.
pub(super) fn lands(study: &Study, parts: &WatershedParts, tally: &Tally) -> Vec<LandInWatershed> {
    let schedule = study.inputs.schedules.iter().find(|schedule| Some(&schedule.drain) == parts.outlet.as_ref());
    let missing = missing_hectares(study);
    let of_id = |id: &str| schedule?.assessed.get(id).map(AssessedLand::assessed);
    let assessed = |party: Party| {
        let id = match party {
            Party::Parcel(parcel) => study.inputs.parcels[parcel].id.as_str(),
            Party::Road(road) => study.inputs.roads[road].id.as_str(),
            Party::Unowned => return None,
        };
        of_id(id).filter(|_| study.scheduled_party(id) == Some(party))
    };
    let scheduled = schedule.into_iter().flat_map(|schedule| schedule.assessed.keys());
    let mut parties: BTreeSet<Party> = tally.either.keys().copied().collect();
    parties.extend(scheduled.clone().filter_map(|id| study.scheduled_party(id)));
    let land = |party: Party| {
        let is_inside = |label: u32| parts.is_inside(label);
        let drains = tally.either.get(&party).copied().unwrap_or(0);
        let assessed = assessed(party);
        LandInWatershed {
            land: WatershedLand::Party(party),
            surface_ha: study.hectares(sum_on(party, &tally.surface, is_inside)),
            piped_ha: study.hectares(sum_on(party, &tally.piped, is_inside)),
            drains_ha: study.hectares(drains),
            meets_edge: tally.meets_edge.range((party, 0)..=(party, u32::MAX)).any(|&(_, label)| is_inside(label)),
            unknown_ha: match party {
                Party::Parcel(parcel) => fallwright_units::rounded_hectares(missing[parcel]),
                Party::Road(_) | Party::Unowned => 0.0,
            },
            assessed_ha: assessed.and_then(for_outlet),
            compared: match (schedule, party, assessed) {
                (None, ..) | (_, Party::Unowned, _) | (_, Party::Road(_), None) => Comparison::NotMade,
                (_, Party::Parcel(_), None) => Comparison::NotInSchedule,
                (_, _, Some(AssessedFor::BenefitOnly(_))) => Comparison::BenefitOnly,
                (_, _, Some(AssessedFor::Outlet(_))) if drains == 0 => Comparison::NotInWatershed,
                (_, _, Some(AssessedFor::Outlet(_))) => Comparison::InBoth,
            },
        }
    };
    let not_in_layer = scheduled.filter(|id| study.scheduled_party(id).is_none()).map(|id| LandInWatershed {
        land: WatershedLand::OnlyInSchedule(id.clone()),
        surface_ha: 0.0,
        piped_ha: 0.0,
        drains_ha: 0.0,
        meets_edge: false,
        unknown_ha: 0.0,
        assessed_ha: of_id(id).and_then(for_outlet),
        compared: Comparison::NotInParcelLayer,
    });
    parties.into_iter().map(land).chain(not_in_layer).collect()
}

/// Hectares for which land is assessed as an outlet.
const fn for_outlet(assessed: AssessedFor) -> Option<f64> {
    match assessed {
        AssessedFor::Outlet(hectares) => Some(hectares),
        AssessedFor::BenefitOnly(_) => None,
    }
}
