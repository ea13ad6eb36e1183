//! The sentence that says what to do next about a parcel, and whom to ask.

use fallwright_law::{AcquireStep, Ask, DataStep, NamedOutlet, NextStep, Otherwise, RightStep};
use fallwright_units::{Hectares, ParcelId};

use super::names::{hectares, list_parcels, outlet_name};

/// One sentence about the parcel; `ask` names the offices as the rule profile does.
pub fn next_step_sentence(step: &NextStep, parcel: &ParcelId, ask: &Ask) -> String {
    match step {
        NextStep::CompleteData(step) => complete_data(*step, parcel, ask),
        NextStep::KeepRight { outlet, step } => keep_right(step, outlet.as_ref(), parcel, ask),
        NextStep::Acquire { outlet, hectares, step } => acquire(step, outlet.as_ref(), *hectares, parcel, ask),
    }
}

fn complete_data(step: DataStep, parcel: &ParcelId, ask: &Ask) -> String {
    let downstream = |area, problem| {
        let area = hectares(area);
        format!(
            "Supply elevation data farther downstream of parcel {parcel}: the water of {area} {problem} the data before it meets a lawful outlet."
        )
    };
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
        DataStep::ExtendDownstream { hectares } => downstream(hectares, "leaves"),
        DataStep::FillGapDownstream { hectares } => downstream(hectares, "runs into a gap in"),
        DataStep::LookAtChannel => format!(
            "Have the channel on parcel {parcel} looked at on the ground, and ask {} what it is; map it if it is a watercourse or a drain.",
            ask.drains
        ),
    }
}

fn keep_right(step: &RightStep, outlet: Option<&NamedOutlet>, parcel: &ParcelId, ask: &Ask) -> String {
    let outlet = outlet_name(outlet);
    let Ask { drains, records, titles } = ask;
    match step {
        RightStep::ConfirmOutlet => {
            format!("Nothing has to be acquired: before any work, confirm the outlet to {outlet} with {drains}.")
        }
        RightStep::LeadToOwnFrontage { crossed } => format!(
            "Lead the water on your own land to your own frontage on {outlet}, since it now crosses {} first; ask {drains} before any work.",
            list_parcels(crossed)
        ),
        RightStep::CheckWayAcross { crossed } => format!(
            "Check that the agreement, award or approval for {outlet} gives the way across {}, which the water crosses first.",
            list_parcels(crossed)
        ),
        RightStep::LeaveNaturalCourse { crossed } => format!(
            "Leave the water its natural course over {} to {outlet}, and ask {drains} before any work that would add to it.",
            list_parcels(crossed)
        ),
        RightStep::GetSchedule => {
            format!("Ask {records} for the current schedule of {outlet} and check that it assesses parcel {parcel}.")
        }
        RightStep::CheckRegistration => format!(
            "Check with {titles} whether the agreement or award for {outlet} is registered on title of parcel {parcel}."
        ),
        RightStep::SurveyFrontage => format!(
            "Have a surveyor confirm that parcel {parcel} touches {outlet}, since the lot lines leave that in doubt."
        ),
        RightStep::AskWhereDrainEnds => {
            format!("Ask {drains} where {outlet} ends, since it is not seen to reach a lawful outlet of its own.")
        }
        RightStep::SurveyLevels => format!(
            "Have the levels from parcel {parcel} to {outlet} surveyed, since the elevation data leave the path in doubt."
        ),
    }
}

fn acquire(step: &AcquireStep, outlet: Option<&NamedOutlet>, area: Hectares, parcel: &ParcelId, ask: &Ask) -> String {
    let (outlet, area) = (outlet_name(outlet), hectares(area));
    let Ask { drains, records, titles } = ask;
    match step {
        AcquireStep::AskHowToReach => {
            format!("Ask {drains} how the water of parcel {parcel} may reach {outlet}, into which it is assessed.")
        }
        AcquireStep::AgreeOnWayToDrain { crossed } => format!(
            "Agree in writing with the owners of {} on a way to {outlet}, into which parcel {parcel} is assessed, or ask {drains} about a branch.",
            list_parcels(crossed)
        ),
        AcquireStep::AssessMore => format!(
            "Ask {drains} to assess {area} more of parcel {parcel} into {outlet}; that much drains there beyond what is assessed."
        ),
        AcquireStep::Connect => format!(
            "Ask {drains} to connect {area} of parcel {parcel} to {outlet} and to assess it; the schedule does not list it."
        ),
        AcquireStep::MeasureDistance => format!(
            "Have a surveyor measure whether parcel {parcel} touches {outlet}; on the map it lies just too far away."
        ),
        AcquireStep::GetPermissions { crossed } => format!(
            "Get the written permission of the owners of {} and the approval of {drains} for the way from parcel {parcel} to {outlet}.",
            list_parcels(crossed)
        ),
        AcquireStep::FindApproval => format!(
            "Ask {records} whether an approval for works from parcel {parcel} to {outlet} is on record, and apply for one if not."
        ),
        AcquireStep::RenewAgreement => format!(
            "Ask {titles} whether the agreement for {outlet} is registered on title of parcel {parcel}; if not, ask the parties to make and register a new one."
        ),
        AcquireStep::AskWhetherNamed => format!(
            "Ask {records} or the neighbours whether parcel {parcel} is named in the agreement or award for {outlet}."
        ),
        AcquireStep::KeepRoadPermission => format!(
            "Keep the road authority's written permission, which can be withdrawn, and ask {drains} about a lasting outlet for {area} of parcel {parcel}."
        ),
        AcquireStep::DrainDepression => format!(
            "Ask {drains} how an outlet could be cut or piped for {area} of parcel {parcel}, whose water ends in a depression."
        ),
        AcquireStep::JoinAgreement { otherwise } => format!(
            "Ask the parties of {outlet} to take {area} of parcel {parcel} into their agreement, or {}.",
            instead(*otherwise, drains)
        ),
        AcquireStep::AskHowToDrain => {
            format!("Ask {drains} how {area} of parcel {parcel} may lawfully drain to {outlet}.")
        }
        AcquireStep::AgreeOnDrain { crossed, otherwise } => format!(
            "Agree in writing with the owners of {} on a drain from parcel {parcel} to {outlet}, or {}.",
            list_parcels(crossed),
            instead(*otherwise, drains)
        ),
    }
}

fn instead(otherwise: Otherwise, drains: &str) -> String {
    match otherwise {
        Otherwise::AskRoadAuthority => {
            "ask the road authority in writing for the use of its ditch, which is no right and can be withdrawn"
                .to_owned()
        }
        Otherwise::AskOtherWays => format!("ask {drains} about other ways"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::words::example::{elm_drain, parcels};

    fn sentence(step: &NextStep) -> String {
        let ask = Ask { drains: "DRAINS".to_owned(), records: "RECORDS".to_owned(), titles: "TITLES".to_owned() };
        next_step_sentence(step, &ParcelId::new("100"), &ask)
    }

    fn five() -> Hectares {
        Hectares::from_hectares(5.0).unwrap()
    }

    fn check_data(step: DataStep, expected: &str) {
        assert_eq!(sentence(&NextStep::CompleteData(step)), expected);
    }

    fn check_right(step: RightStep, expected: &str) {
        assert_eq!(sentence(&NextStep::KeepRight { outlet: Some(elm_drain()), step }), expected);
    }

    fn check_acquire(step: AcquireStep, expected: &str) {
        let step = NextStep::Acquire { outlet: Some(elm_drain()), hectares: five(), step };
        assert_eq!(sentence(&step), expected);
    }

    #[test]
    fn data_to_complete() {
        check_data(
            DataStep::CoverParcel,
            "Supply elevation data that covers parcel 100; it lies outside what is supplied.",
        );
        check_data(
            DataStep::FillGaps { missing: five() },
            "Supply elevation data without gaps for parcel 100; 5.00 ha of it has no elevation.",
        );
        check_data(
            DataStep::RefineElevation,
            "Supply finer elevation data for parcel 100; it holds no cell of what is supplied.",
        );
        check_data(
            DataStep::ExtendDownstream { hectares: five() },
            "Supply elevation data farther downstream of parcel 100: the water of 5.00 ha leaves the data before it meets a lawful outlet.",
        );
        check_data(
            DataStep::FillGapDownstream { hectares: five() },
            "Supply elevation data farther downstream of parcel 100: the water of 5.00 ha runs into a gap in the data before it meets a lawful outlet.",
        );
        check_data(
            DataStep::LookAtChannel,
            "Have the channel on parcel 100 looked at on the ground, and ask DRAINS what it is; map it if it is a watercourse or a drain.",
        );
    }

    #[test]
    fn a_right_over_neighbours() {
        let crossed = || parcels(&["101", "102"]);
        check_right(
            RightStep::LeadToOwnFrontage { crossed: crossed() },
            "Lead the water on your own land to your own frontage on Elm Drain (D-07), since it now crosses parcels 101 and 102 first; ask DRAINS before any work.",
        );
        check_right(
            RightStep::CheckWayAcross { crossed: crossed() },
            "Check that the agreement, award or approval for Elm Drain (D-07) gives the way across parcels 101 and 102, which the water crosses first.",
        );
        check_right(
            RightStep::LeaveNaturalCourse { crossed: crossed() },
            "Leave the water its natural course over parcels 101 and 102 to Elm Drain (D-07), and ask DRAINS before any work that would add to it.",
        );
    }

    #[test]
    fn a_right_to_confirm() {
        check_right(
            RightStep::ConfirmOutlet,
            "Nothing has to be acquired: before any work, confirm the outlet to Elm Drain (D-07) with DRAINS.",
        );
        check_right(
            RightStep::GetSchedule,
            "Ask RECORDS for the current schedule of Elm Drain (D-07) and check that it assesses parcel 100.",
        );
        check_right(
            RightStep::CheckRegistration,
            "Check with TITLES whether the agreement or award for Elm Drain (D-07) is registered on title of parcel 100.",
        );
        check_right(
            RightStep::SurveyFrontage,
            "Have a surveyor confirm that parcel 100 touches Elm Drain (D-07), since the lot lines leave that in doubt.",
        );
        check_right(
            RightStep::AskWhereDrainEnds,
            "Ask DRAINS where Elm Drain (D-07) ends, since it is not seen to reach a lawful outlet of its own.",
        );
        check_right(
            RightStep::SurveyLevels,
            "Have the levels from parcel 100 to Elm Drain (D-07) surveyed, since the elevation data leave the path in doubt.",
        );
    }

    #[test]
    fn a_drain_with_a_schedule() {
        check_acquire(
            AcquireStep::AskHowToReach,
            "Ask DRAINS how the water of parcel 100 may reach Elm Drain (D-07), into which it is assessed.",
        );
        check_acquire(
            AcquireStep::AgreeOnWayToDrain { crossed: parcels(&["101"]) },
            "Agree in writing with the owners of parcel 101 on a way to Elm Drain (D-07), into which parcel 100 is assessed, or ask DRAINS about a branch.",
        );
        check_acquire(
            AcquireStep::AssessMore,
            "Ask DRAINS to assess 5.00 ha more of parcel 100 into Elm Drain (D-07); that much drains there beyond what is assessed.",
        );
        check_acquire(
            AcquireStep::Connect,
            "Ask DRAINS to connect 5.00 ha of parcel 100 to Elm Drain (D-07) and to assess it; the schedule does not list it.",
        );
        check_acquire(
            AcquireStep::MeasureDistance,
            "Have a surveyor measure whether parcel 100 touches Elm Drain (D-07); on the map it lies just too far away.",
        );
    }

    #[test]
    fn documents_to_get() {
        check_acquire(
            AcquireStep::GetPermissions { crossed: parcels(&["101", "102", "103"]) },
            "Get the written permission of the owners of parcels 101, 102 and 103 and the approval of DRAINS for the way from parcel 100 to Elm Drain (D-07).",
        );
        check_acquire(
            AcquireStep::FindApproval,
            "Ask RECORDS whether an approval for works from parcel 100 to Elm Drain (D-07) is on record, and apply for one if not.",
        );
        check_acquire(
            AcquireStep::RenewAgreement,
            "Ask TITLES whether the agreement for Elm Drain (D-07) is registered on title of parcel 100; if not, ask the parties to make and register a new one.",
        );
        check_acquire(
            AcquireStep::AskWhetherNamed,
            "Ask RECORDS or the neighbours whether parcel 100 is named in the agreement or award for Elm Drain (D-07).",
        );
        check_acquire(
            AcquireStep::KeepRoadPermission,
            "Keep the road authority's written permission, which can be withdrawn, and ask DRAINS about a lasting outlet for 5.00 ha of parcel 100.",
        );
    }

    #[test]
    fn an_outlet_to_agree_on() {
        check_acquire(
            AcquireStep::DrainDepression,
            "Ask DRAINS how an outlet could be cut or piped for 5.00 ha of parcel 100, whose water ends in a depression.",
        );
        check_acquire(
            AcquireStep::JoinAgreement { otherwise: Otherwise::AskOtherWays },
            "Ask the parties of Elm Drain (D-07) to take 5.00 ha of parcel 100 into their agreement, or ask DRAINS about other ways.",
        );
        check_acquire(
            AcquireStep::AskHowToDrain,
            "Ask DRAINS how 5.00 ha of parcel 100 may lawfully drain to Elm Drain (D-07).",
        );
        check_acquire(
            AcquireStep::AgreeOnDrain { crossed: parcels(&["101"]), otherwise: Otherwise::AskRoadAuthority },
            "Agree in writing with the owners of parcel 101 on a drain from parcel 100 to Elm Drain (D-07), or ask the road authority in writing for the use of its ditch, which is no right and can be withdrawn.",
        );
    }

    #[test]
    fn without_an_outlet_any_lawful_one_is_meant() {
        let step = NextStep::Acquire { outlet: None, hectares: five(), step: AcquireStep::AskHowToDrain };
        assert_eq!(sentence(&step), "Ask DRAINS how 5.00 ha of parcel 100 may lawfully drain to a lawful outlet.");
    }
}
