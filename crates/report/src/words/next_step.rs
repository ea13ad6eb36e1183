//! The sentence that says what to do next about a parcel, whom to ask and what to bring.

use fallwright_law::{AcquireStep, Action, Ask, DataStep, NextStep, Otherwise, RightStep, Step};
use fallwright_units::{Hectares, ParcelId};

use super::names::{hectares, list_parcels, outlet_name};

/// More open parts than these are summed up.
const NAMED: usize = 3;

/// One sentence about what settles the most land, and a short one that names what else is open; `ask` names the offices as
/// the rule profile does.
pub fn next_step_sentence(step: &NextStep, parcel: &ParcelId, ask: &Ask) -> String {
    let first = sentence(&step.first, parcel, ask);
    if step.then.is_empty() {
        return first;
    }
    let parts = open_parts(&step.then);
    let mut open: Vec<String> =
        parts.iter().take(NAMED).map(|(words, area)| format!("{} {words}", hectares(*area))).collect();
    let rest = parts.iter().skip(NAMED).map(|(_, area)| *area).reduce(|sum, area| sum + area);
    open.extend(rest.map(|rest| format!("{} more", hectares(rest))));
    format!("{first} Also open: {}.", open.join("; "))
}

/// What else is open, each once with its hectares, the most first.
fn open_parts(steps: &[Step]) -> Vec<(String, Hectares)> {
    let mut parts: Vec<(String, Hectares)> = Vec::new();
    for step in steps {
        let words = open_part(step);
        match parts.iter_mut().find(|(known, _)| *known == words) {
            Some((_, area)) => *area = *area + step.hectares,
            None => parts.push((words, step.hectares)),
        }
    }
    parts.sort_by(|a, b| b.1.hectares().total_cmp(&a.1.hectares()));
    parts
}

fn sentence(step: &Step, parcel: &ParcelId, ask: &Ask) -> String {
    let (area, outlet) = (area(step), outlet_name(step.outlet.as_ref()));
    match &step.action {
        Action::CompleteData(step) => complete_data(*step, &area, &outlet, parcel, ask),
        Action::KeepRight(step) => keep_right(step, &area, &outlet, parcel, ask),
        Action::Acquire(step) => acquire(step, &area, &outlet, parcel, ask),
    }
}

/// `5.00 ha`, `5.00 ha (drained by pipe T-1)`
fn area(step: &Step) -> String {
    let area = hectares(step.hectares);
    step.pipe.as_ref().map_or_else(|| area.clone(), |pipe| format!("{area} (drained by pipe {pipe})"))
}

fn complete_data(step: DataStep, area: &str, outlet: &str, parcel: &ParcelId, ask: &Ask) -> String {
    let Ask { drains, records, .. } = ask;
    match step {
        DataStep::CoverParcel => {
            format!("Supply elevation data that covers parcel {parcel}; it lies outside what is supplied.")
        }
        DataStep::FillGaps { missing } => format!(
            "Supply elevation data without gaps for parcel {parcel}; {} of it has no elevation.",
            hectares(missing)
        ),
        DataStep::RefineElevation => {
            format!("Supply finer elevation data for parcel {parcel}; it holds no cell of what is supplied.")
        }
        DataStep::ExtendDownstream => format!(
            "Supply elevation data farther downstream of parcel {parcel}: the water of {area} leaves the data before it meets a lawful outlet."
        ),
        DataStep::FillGapDownstream => format!(
            "Supply elevation data without the gap, or survey it: the water of {area} of parcel {parcel} runs into a gap in the data before it meets a lawful outlet."
        ),
        DataStep::LookAtChannel => format!(
            "Have the channel by which {area} of parcel {parcel} drain looked at on the ground, and ask {drains} what it is; map it if it is a watercourse or a drain."
        ),
        DataStep::GetSchedule => format!(
            "Ask {records} for the current by-law and schedule of {outlet}, and bring a map of the {area} of parcel {parcel} that drain to it: whether they are assessed decides."
        ),
        DataStep::AskWhetherOutlet => format!(
            "Ask {records} whether the assessment of parcel {parcel} into {outlet}, which names benefit alone, carries outlet too; bring the schedule and a map of the {area} that drain there."
        ),
    }
}

fn keep_right(step: &RightStep, area: &str, outlet: &str, parcel: &ParcelId, ask: &Ask) -> String {
    let Ask { drains, records, titles } = ask;
    match step {
        RightStep::ConfirmOutlet => format!(
            "Nothing has to be acquired for {area}: before any work, confirm the outlet to {outlet} with {drains}, and bring a plan of the work."
        ),
        RightStep::ConfirmWithParties => format!(
            "Nothing has to be acquired for {area}: before any work, confirm the outlet with the other parties of {outlet}, and bring the agreement or award and a plan of the work."
        ),
        RightStep::AskRoadAuthority => format!(
            "Ask the road authority in writing before water collected on {area} of parcel {parcel} is led in its ditch to {outlet}, and bring a plan and levels, or lead it over your own land where that reaches {outlet}."
        ),
        RightStep::LeadToOwnFrontage { crossed } => format!(
            "Before any work bring surveyed levels to {drains}; if they allow, lead what is collected on {area} over your own land to your own frontage on {outlet}, not across {} as the ground does.",
            list_parcels(crossed)
        ),
        RightStep::AgreeOnWay { crossed } => format!(
            "Agree in writing with the owners of {} before water collected on {area} is led across to {outlet}, and bring a plan and levels; what runs there by itself needs no agreement.",
            list_parcels(crossed)
        ),
        RightStep::CheckWayAcross { crossed } => format!(
            "Check that the agreement, award or approval for {outlet} gives the way across {} for the water of {area}.",
            list_parcels(crossed)
        ),
        RightStep::LeaveNaturalCourse { crossed } => format!(
            "Leave the water of {area} its natural course over {} to {outlet}, and ask {drains} before any work that would add to it.",
            list_parcels(crossed)
        ),
        RightStep::GetSchedule => format!(
            "Ask {records} for the current by-law and schedule of {outlet}, and check that it assesses the {area} of parcel {parcel} that drain there; until then the right is presumed."
        ),
        RightStep::CheckRegistration => format!(
            "Check with {titles} whether the agreement or award for {outlet}, to which {area} drain, is registered on title of parcel {parcel}, and bring the document."
        ),
        RightStep::SurveyFrontage => format!(
            "Have a surveyor confirm that parcel {parcel} touches {outlet}, to which {area} drain, since the lot lines leave that in doubt."
        ),
        RightStep::AskWhereDrainEnds => format!(
            "Ask {drains} where {outlet} ends, to which {area} drain, since it is not seen to reach a lawful outlet of its own."
        ),
        RightStep::SurveyLevels => format!(
            "Have the levels from parcel {parcel} to {outlet} surveyed, since the elevation data leave the path of {area} in doubt."
        ),
    }
}

fn acquire(step: &AcquireStep, area: &str, outlet: &str, parcel: &ParcelId, ask: &Ask) -> String {
    let Ask { drains, records, titles } = ask;
    match step {
        AcquireStep::AskHowToReach => format!(
            "Ask {drains} how the water of {area} of parcel {parcel} may reach {outlet}, into which it is assessed, and bring the schedule."
        ),
        AcquireStep::AgreeOnWayToDrain { crossed } => format!(
            "Agree in writing with the owners of {} on a way for {area} to {outlet}, into which parcel {parcel} is assessed, or ask {drains} about a branch; bring the schedule.",
            list_parcels(crossed)
        ),
        AcquireStep::AssessMore => format!(
            "Ask {drains} to assess {area} more of parcel {parcel} into {outlet}, and bring the schedule and the watershed map; that much drains there beyond what is assessed."
        ),
        AcquireStep::Connect => format!(
            "Ask {drains} whether {area} of parcel {parcel} can be connected to {outlet}, whose schedule does not list it, or the schedule varied, and bring the watershed map."
        ),
        AcquireStep::MeasureDistance => format!(
            "Have a surveyor measure whether parcel {parcel} touches {outlet}, to which {area} drain; on the map it lies just too far away."
        ),
        AcquireStep::GetPermissions { crossed } => format!(
            "Get the written permission of the owners of {} and the approval of {drains} for the way of {area} from parcel {parcel} to {outlet}.",
            list_parcels(crossed)
        ),
        AcquireStep::FindApproval => format!(
            "Ask {records} whether an approval for works from parcel {parcel} to {outlet}, to which {area} drain, is on record, and apply for one if not."
        ),
        AcquireStep::RenewAgreement => format!(
            "Ask {titles} whether the agreement for {outlet}, to which {area} drain, is registered on title of parcel {parcel}; if not, ask the parties to make and register a new one."
        ),
        AcquireStep::AskWhetherNamed => format!(
            "Ask {records} or the neighbours whether parcel {parcel}, of which {area} drain there, is named in the agreement or award for {outlet}."
        ),
        AcquireStep::KeepRoadPermission => format!(
            "Keep the road authority's written permission, which can be withdrawn, and ask {drains} about a lasting outlet for {area} of parcel {parcel}."
        ),
        AcquireStep::DrainDepression => format!(
            "Ask {drains} how an outlet could be cut or piped for {area} of parcel {parcel}, whose water ends in a depression, and bring levels."
        ),
        AcquireStep::JoinAgreement { otherwise } => format!(
            "Ask the parties of {outlet} to take {area} of parcel {parcel} into their agreement{}.",
            instead(*otherwise, drains)
        ),
        AcquireStep::AskHowToDrain => {
            format!(
                "Ask {drains} how {area} of parcel {parcel} may lawfully drain to {outlet}, and bring a plan of the way."
            )
        }
        AcquireStep::AgreeOnDrain { crossed, otherwise } => format!(
            "Agree in writing with the owners of {} on a drain for {area} from parcel {parcel} to {outlet}, and bring a plan of the way{}.",
            list_parcels(crossed),
            instead(*otherwise, drains)
        ),
    }
}

fn instead(otherwise: Otherwise, drains: &str) -> String {
    match otherwise {
        Otherwise::AskRoadAuthority => {
            "; the road authority must agree in writing too, and its ditch alone, by its permission, is no right and can be withdrawn"
                .to_owned()
        }
        Otherwise::AskOtherWays => format!(", or ask {drains} about other ways"),
    }
}

/// As it follows the hectares: `to Elm Drain (D-07), whose schedule does not list the parcel`.
fn open_part(step: &Step) -> String {
    let outlet = outlet_name(step.outlet.as_ref());
    let piped = step.pipe.as_ref().map_or_else(String::new, |pipe| format!("(drained by pipe {pipe}) "));
    match &step.action {
        Action::CompleteData(step) => format!("{piped}{}", open_data(*step, &outlet)),
        Action::KeepRight(step) => format!("{piped}{}", open_right(step, &outlet)),
        Action::Acquire(step) => format!("{piped}{}", open_acquisition(step, &outlet)),
    }
}

fn open_data(step: DataStep, outlet: &str) -> String {
    match step {
        DataStep::CoverParcel | DataStep::FillGaps { .. } | DataStep::RefineElevation => "without elevation".to_owned(),
        DataStep::ExtendDownstream => "whose water leaves the data".to_owned(),
        DataStep::FillGapDownstream => "whose water runs into a gap in the data".to_owned(),
        DataStep::LookAtChannel => "by a channel that no layer maps".to_owned(),
        DataStep::GetSchedule => format!("to {outlet}, whose schedule is not supplied"),
        DataStep::AskWhetherOutlet => format!("to {outlet}, assessed for benefit alone"),
    }
}

fn open_right(step: &RightStep, outlet: &str) -> String {
    match step {
        RightStep::LeadToOwnFrontage { .. } => format!("to be led to own frontage on {outlet} where it is collected"),
        RightStep::AgreeOnWay { .. } | RightStep::CheckWayAcross { .. } => format!("over neighbours to {outlet}"),
        RightStep::GetSchedule => format!("to {outlet}, whose schedule is not supplied"),
        RightStep::CheckRegistration => format!("to {outlet}, not shown to be registered on title"),
        RightStep::SurveyFrontage => format!("to {outlet}, which the parcel may not touch"),
        RightStep::AskWhereDrainEnds => format!("to {outlet}, not seen to reach a lawful outlet"),
        RightStep::AskRoadAuthority => format!("by a road ditch to {outlet}"),
        RightStep::ConfirmOutlet
        | RightStep::ConfirmWithParties
        | RightStep::LeaveNaturalCourse { .. }
        | RightStep::SurveyLevels => {
            format!("to {outlet}, to be confirmed")
        }
    }
}

fn open_acquisition(step: &AcquireStep, outlet: &str) -> String {
    match step {
        AcquireStep::AssessMore => format!("to {outlet} beyond what is assessed"),
        AcquireStep::Connect => format!("to {outlet}, whose schedule does not list the parcel"),
        AcquireStep::DrainDepression => "whose water ends in a depression".to_owned(),
        AcquireStep::GetPermissions { .. } | AcquireStep::FindApproval => {
            format!("to {outlet} without the approval or permissions that it needs")
        }
        AcquireStep::AskHowToReach | AcquireStep::AgreeOnWayToDrain { .. } => {
            format!("to {outlet}, which assesses the parcel and does not touch it")
        }
        _ => format!("to {outlet} without a right shown"),
    }
}

#[cfg(test)]
#[path = "next_step_tests.rs"]
mod tests;
