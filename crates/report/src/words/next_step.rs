//! The sentence that says what to do next about a parcel, whom to ask and what to bring.

use fallwright_law::{
    AcquireStep, Action, Ask, DataStep, Finding, Land, LandToAsk, NextStep, RightStep, Step, UnusedAssessment,
};
use fallwright_study::Study;
use fallwright_units::{Hectares, ParcelId, ParcelIx};

use super::lands::{AskedLand, whom};
use super::names::{hectares, outlet_name};

/// Of open parts of fewer hectares it is not said whose land lies on the way; the ways list everybody (our choice).
const OTHERS_NAMED_HA: f64 = 1.0;
/// Land that less than this part of the hectares crosses is named with its hectares (our choice).
const ALMOST_ALL: f64 = 0.9;
/// More open parts than these are summed up.
const NAMED: usize = 3;

/// What a sentence about one parcel names.
#[derive(Clone, Copy)]
pub(super) struct Wording<'a> {
    pub(super) parcel: &'a ParcelId,
    /// The offices, as the rule profile names them.
    pub(super) ask: &'a Ask,
    /// Whom to ask about some lands, as `Ann Field (012) and the County of Thrumbleby for Mill Road`.
    pub(super) whom: &'a dyn Fn(&[AskedLand]) -> String,
}

/// Assessments that are not used, which ask for nothing new; one sentence about what settles the most land; then what else is
/// open: each pipe with a sentence of its own, the rest with a few words each.
fn next_step_sentence(step: &NextStep, wording: Wording) -> String {
    let (piped, then): (Vec<Step>, Vec<Step>) = step.then.iter().cloned().partition(|step| step.pipe.is_some());
    let mut sentences: Vec<String> = step.unused.iter().map(|unused| unused_assessment(unused, wording)).collect();
    sentences.push(sentence(&step.first, wording));
    sentences.extend(piped.iter().map(|step| sentence(step, wording)));
    sentences.extend(also_open(&then, wording));
    sentences.join(" ")
}

/// The sentence about a parcel of a study.
pub(crate) fn next_step_words(study: &Study, parcel: ParcelIx, finding: &Finding) -> String {
    let (given, ask) = (&study.inputs.parcels[parcel], &study.inputs.profile.ask);
    let wording = Wording { parcel: &given.id, ask, whom: &|lands| whom(study, lands) };
    next_step_sentence(&finding.next_step, wording)
}

fn also_open(then: &[Step], wording: Wording) -> Option<String> {
    let parts = open_parts(then, wording);
    let mut open: Vec<String> =
        parts.iter().take(NAMED).map(|(words, area)| format!("{} {words}", hectares(*area))).collect();
    let rest = parts.iter().skip(NAMED).map(|(_, area)| *area).reduce(|sum, area| sum + area);
    open.extend(rest.map(|rest| format!("{} more", hectares(rest))));
    (!open.is_empty()).then(|| format!("Also open: {}.", open.join("; ")))
}

/// What else is open, each once with its hectares, the most first.
fn open_parts(steps: &[Step], wording: Wording) -> Vec<(String, Hectares)> {
    let mut parts: Vec<(String, Hectares)> = Vec::new();
    for step in steps {
        let words = open_part(step, wording);
        match parts.iter_mut().find(|(known, _)| *known == words) {
            Some((_, area)) => *area = *area + step.hectares,
            None => parts.push((words, step.hectares)),
        }
    }
    parts.sort_by(|a, b| b.1.hectares().total_cmp(&a.1.hectares()));
    parts
}

fn unused_assessment(UnusedAssessment { drain, assessed, draining }: &UnusedAssessment, wording: Wording) -> String {
    format!(
        "The schedule of {} assesses {} of the parcel, and {} drain there: have levels surveyed and ask {} whether more may be led to it.",
        outlet_name(Some(drain)),
        hectares(*assessed),
        hectares(*draining),
        wording.ask.drains
    )
}

fn sentence(step: &Step, wording: Wording) -> String {
    let (area, outlet) = (area(step), outlet_name(step.outlet.as_ref()));
    let told = match &step.action {
        Action::CompleteData(data) => complete_data(*data, step, (&area, &outlet), wording),
        Action::KeepRight(right) => keep_right(*right, step, (&area, &outlet), wording),
        Action::Acquire(acquiring) => acquire(acquiring, step, (&area, &outlet), wording),
    };
    let leaving = (step.leaving_watershed > Hectares::ZERO).then(|| {
        let part =
            if step.leaving_watershed == step.hectares { "It".to_owned() } else { hectares(step.leaving_watershed) };
        format!("{part} would drain elsewhere over the ground, and needs a right to be taken there.")
    });
    let culvert = (step.over_suspected_culvert > Hectares::ZERO).then(|| {
        format!(
            "First look for the culvert that is only suspected on the way of {}, among the places to check: the finding rests on it.",
            hectares(step.over_suspected_culvert)
        )
    });
    [culvert, Some(told), leaving].into_iter().flatten().collect::<Vec<_>>().join(" ")
}

/// `5.00 ha`, `5.00 ha that pipe T-1 drains`
fn area(step: &Step) -> String {
    let area = hectares(step.hectares);
    step.pipe.as_ref().map_or_else(|| area.clone(), |pipe| format!("{area} that pipe {pipe} drains"))
}

/// What follows a request where others' land lies on the way: `; Ann Field (012) must agree to the way in writing`.
fn and_owners(step: &Step, wording: Wording) -> String {
    if step.lands.is_empty() {
        return String::new();
    }
    format!("; for water led there, agree in writing with {}", owners(step, wording))
}

/// Those whose land lies on the way, with the hectares where that is a part of them.
fn owners(step: &Step, wording: Wording) -> String {
    let is_part = |on: &LandToAsk| on.hectares.hectares() < ALMOST_ALL * step.hectares.hectares();
    let asked: Vec<AskedLand> = step.lands.iter().map(|on| (&on.land, is_part(on).then_some(on.hectares))).collect();
    (wording.whom)(&asked)
}

fn owners_of(parcels: &[ParcelId], wording: Wording) -> String {
    let lands: Vec<Land> = parcels.iter().cloned().map(Land::Parcel).collect();
    (wording.whom)(&lands.iter().map(|land| (land, None)).collect::<Vec<_>>())
}

fn complete_data(data: DataStep, step: &Step, (area, outlet): (&str, &str), wording: Wording) -> String {
    let Wording { parcel, ask: Ask { drains, records, .. }, .. } = wording;
    match data {
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
        DataStep::LookAtFilledGround => format!(
            "Have the low ground looked at over which the water of {area} of parcel {parcel} would run on: if it is a lake or a real depression, give it to `keep_depressions` in the case file; if it is not, survey how the water leaves it."
        ),
        DataStep::LookAtChannel => format!(
            "Have the channel by which {area} of parcel {parcel} drain looked at on the ground, and ask {drains} what it is; map it if it is a watercourse or a drain."
        ),
        DataStep::GetSchedule => format!(
            "Ask {records} for the current by-law and schedule of {outlet}, and bring a map of the {area} of parcel {parcel} that go to it, to see whether they are assessed{}.",
            and_owners(step, wording)
        ),
        DataStep::AskWhetherOutlet => format!(
            "Ask {records} whether the assessment of parcel {parcel} into {outlet}, which names benefit alone, carries outlet too, and bring the schedule and a map of the {area} that go there{}.",
            and_owners(step, wording)
        ),
    }
}

fn keep_right(right: RightStep, step: &Step, (area, outlet): (&str, &str), wording: Wording) -> String {
    let Wording { parcel, ask: Ask { drains, records, titles, waters }, .. } = wording;
    let others = || owners(step, wording);
    match right {
        RightStep::ConfirmOutlet if step.is_natural => format!(
            "Nothing has to be acquired for {area}, which drain to {outlet}: before any work there ask {waters} which permits it needs, and bring a plan of the work."
        ),
        RightStep::ConfirmOutlet => format!(
            "Nothing has to be acquired for {area}: before any work, confirm the outlet to {outlet} with {drains}, and bring a plan of the work."
        ),
        RightStep::ConfirmWithParties => format!(
            "Nothing has to be acquired for {area}: before any work, confirm the outlet to {outlet} with {}, and bring the agreement or award and a plan of the work.",
            parties(step, wording)
        ),
        RightStep::AskRoadAuthority { can_be_led } => {
            let or_lead = if can_be_led { ", or lead it over your own land to your own frontage" } else { "" };
            format!(
                "Before water collected on {area} of parcel {parcel} is led by a road ditch to {outlet}, ask {} in writing and bring a plan and levels{or_lead}.",
                others()
            )
        }
        RightStep::LeadToOwnFrontage => format!(
            "Before any work have levels surveyed: what is collected on {area} is to be led over your own land to your own frontage on {outlet}, not across {} as it runs now; ask {} which permits that needs.",
            others(),
            if step.is_natural { waters } else { drains }
        ),
        RightStep::AgreeOnWay => format!(
            "Agree in writing with {} before water collected on {area} is led across to {outlet}, and bring a plan and levels; what runs there by itself needs no agreement.",
            others()
        ),
        RightStep::CheckWayAcross => format!(
            "Check that the agreement, award or approval for {outlet} gives the way over the land of {} for the water of {area}.",
            others()
        ),
        RightStep::LeaveNaturalCourse => format!(
            "Leave the water of {area} its natural course to {outlet}; before you ditch or tile, ask {drains}, and agree in writing with {}.",
            others()
        ),
        RightStep::GetSchedule => format!(
            "Ask {records} for the current by-law and schedule of {outlet}, and check that it assesses the {area} of parcel {parcel} that go there; until then the right is presumed."
        ),
        RightStep::CheckRegistration => format!(
            "Check with {titles} whether the agreement or award for {outlet}, to which {area} drain, is registered on the titles of its parties, and bring the document."
        ),
        RightStep::Register => format!(
            "Have the agreement or award for {outlet}, to which {area} drain, registered on the titles of its parties, so that it binds later owners: ask {titles}, and bring the document."
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

/// The other parties of an agreement or award.
fn parties(step: &Step, wording: Wording) -> String {
    if step.parties.is_empty() {
        return "its other parties".to_owned();
    }
    format!("its other parties, {}", owners_of(&step.parties, wording))
}

/// The parties of an agreement that the parcel is not part of.
fn all_parties(step: &Step, wording: Wording) -> String {
    if step.parties.is_empty() { String::new() } else { format!(": {}", owners_of(&step.parties, wording)) }
}

/// Those on whose land an agreement drain runs, although they are no parties.
fn no_parties(step: &Step, outlet: &str, wording: Wording) -> String {
    if step.runs_over.is_empty() {
        return String::new();
    }
    let owners = owners_of(&step.runs_over, wording);
    format!(
        "; {outlet} also runs over land of {owners}, no party to it: ask whether there is an agreement for that too"
    )
}

fn acquire(acquiring: &AcquireStep, step: &Step, (area, outlet): (&str, &str), wording: Wording) -> String {
    let Wording { parcel, ask: Ask { drains, records, titles, waters }, .. } = wording;
    let others = || owners(step, wording);
    let and_owners = || and_owners(step, wording);
    match acquiring {
        AcquireStep::AskHowToReach => format!(
            "Ask {drains} how the water of {area} of parcel {parcel} may reach {outlet}, into which it is assessed, and bring the schedule."
        ),
        AcquireStep::AgreeOnWayToDrain => format!(
            "Agree in writing with {} on a way for {area} to {outlet}, into which parcel {parcel} is assessed, or ask {drains} about a branch; bring the schedule.",
            others()
        ),
        AcquireStep::AssessMore => format!(
            "Ask {drains} how {area} more of parcel {parcel} can be assessed into {outlet}, and bring the schedule and the watershed map; that much drains there beyond what is assessed{}.",
            and_owners()
        ),
        AcquireStep::LeadToOwnFrontage { past } => format!(
            "Have levels surveyed: the water of {area} may be led over your own land to your own frontage on {outlet}{}; ask {} which permits that needs.",
            past.as_ref()
                .map_or_else(String::new, |past| format!(", past {}, which takes it now", outlet_name(Some(past)))),
            if step.is_natural { waters } else { drains }
        ),
        AcquireStep::Connect => format!(
            "Ask {drains} whether {area} of parcel {parcel} can be connected to {outlet}, whose schedule does not list it, or the schedule varied, and bring the watershed map{}.",
            and_owners()
        ),
        AcquireStep::MeasureDistance => format!(
            "Have a surveyor measure whether parcel {parcel} touches {outlet}, to which {area} drain; on the map it lies just too far away."
        ),
        AcquireStep::GetPermissions => format!(
            "Get the written permission of {} and the approval of {drains} for the way of {area} from parcel {parcel} to {outlet}.",
            others()
        ),
        AcquireStep::FindApproval => format!(
            "Ask {records} whether an approval for works from parcel {parcel} to {outlet}, to which {area} drain, is on record, and apply for one if not{}.",
            and_owners()
        ),
        AcquireStep::RenewAgreement => format!(
            "Ask {titles} whether the agreement for {outlet}, to which {area} drain, is registered on the titles of its parties; if not, ask {} to make and register a new one.",
            parties(step, wording)
        ),
        AcquireStep::AskWhetherNamed => format!(
            "Ask {records} or the neighbours whether parcel {parcel}, of which {area} drain there, is named in the agreement or award for {outlet}{}.",
            and_owners()
        ),
        AcquireStep::KeepRoadPermission => format!(
            "Keep the road authority's written permission, which can be withdrawn, and ask {drains} about a lasting outlet for {area} of parcel {parcel}."
        ),
        AcquireStep::DrainDepression => format!(
            "Ask {drains} how an outlet could be cut or piped for {area} of parcel {parcel}, whose water ends in a depression, and bring levels."
        ),
        AcquireStep::JoinAgreement => format!(
            "Ask the parties of {outlet} to take {area} of parcel {parcel} into their agreement{}{}{}.",
            all_parties(step, wording),
            no_parties(step, outlet, wording),
            and_owners()
        ),
        AcquireStep::AskHowToDrain => {
            format!(
                "Ask {drains} how {area} of parcel {parcel} may lawfully drain to {outlet}, and bring a plan of the way."
            )
        }
        AcquireStep::AgreeOnDrain => format!(
            "Agree in writing with {} on a drain for {area} from parcel {parcel} to {outlet}, and bring a plan of the way, or ask {drains} about other ways{}.",
            others(),
            road_remark(step)
        ),
    }
}

fn road_remark(step: &Step) -> &'static str {
    if step.lands.iter().any(|on| matches!(on.land, Land::Road(_))) {
        "; a road authority's permission alone is no right and can be withdrawn"
    } else {
        ""
    }
}

/// As it follows the hectares: `to Elm Drain (D-07), whose schedule does not list the parcel`.
fn open_part(step: &Step, wording: Wording) -> String {
    let outlet = outlet_name(step.outlet.as_ref());
    let words = match &step.action {
        Action::CompleteData(data) => open_data(*data, &outlet),
        Action::KeepRight(right) => open_right(*right, &outlet),
        Action::Acquire(acquiring) => open_acquisition(acquiring, &outlet),
    };
    let is_named = asks_others(&step.action) && !step.lands.is_empty() && step.hectares.hectares() >= OTHERS_NAMED_HA;
    let over = match (is_named, &step.action) {
        (false, _) => String::new(),
        (true, Action::KeepRight(RightStep::LeadToOwnFrontage)) => format!(", not across {}", owners(step, wording)),
        (true, _) => format!(" (over land of {})", owners(step, wording)),
    };
    let culvert = if step.over_suspected_culvert > Hectares::ZERO {
        format!(" ({} over a culvert that is only suspected)", hectares(step.over_suspected_culvert))
    } else {
        String::new()
    };
    format!("{words}{over}{culvert}")
}

/// Whether others' land on the way matters to what is open.
const fn asks_others(action: &Action) -> bool {
    match action {
        Action::CompleteData(data) => matches!(data, DataStep::GetSchedule | DataStep::AskWhetherOutlet),
        Action::KeepRight(_) => true,
        Action::Acquire(acquiring) => !matches!(acquiring, AcquireStep::LeadToOwnFrontage { .. }),
    }
}

fn open_data(step: DataStep, outlet: &str) -> String {
    match step {
        DataStep::CoverParcel | DataStep::FillGaps { .. } | DataStep::RefineElevation => "without elevation".to_owned(),
        DataStep::ExtendDownstream => "whose water leaves the data".to_owned(),
        DataStep::FillGapDownstream => "whose water runs into a gap in the data".to_owned(),
        DataStep::LookAtFilledGround => "over ground that was filled".to_owned(),
        DataStep::LookAtChannel => "by a channel that no layer maps".to_owned(),
        DataStep::GetSchedule => format!("to {outlet}, whose schedule is not supplied"),
        DataStep::AskWhetherOutlet => format!("to {outlet}, assessed for benefit alone"),
    }
}

fn open_right(step: RightStep, outlet: &str) -> String {
    match step {
        RightStep::LeadToOwnFrontage => format!("to be led to own frontage on {outlet} where it is collected"),
        RightStep::AgreeOnWay | RightStep::CheckWayAcross => format!("to {outlet} by a way that others must allow"),
        RightStep::GetSchedule => format!("to {outlet}, whose schedule is not supplied"),
        RightStep::CheckRegistration | RightStep::Register => {
            format!("to {outlet}, not shown to be registered on title")
        }
        RightStep::SurveyFrontage => format!("to {outlet}, which the parcel may not touch"),
        RightStep::AskWhereDrainEnds => format!("to {outlet}, not seen to reach a lawful outlet"),
        RightStep::AskRoadAuthority { .. } => format!("by a road ditch without permission to {outlet}"),
        RightStep::ConfirmOutlet
        | RightStep::ConfirmWithParties
        | RightStep::LeaveNaturalCourse
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
        AcquireStep::LeadToOwnFrontage { past: Some(past) } => format!(
            "to {} without a right shown, which may be led past it to own frontage on {outlet}",
            outlet_name(Some(past))
        ),
        AcquireStep::LeadToOwnFrontage { past: None } => format!("that may be led to own frontage on {outlet}"),
        AcquireStep::GetPermissions | AcquireStep::FindApproval => {
            format!("to {outlet} without the approval or permissions that it needs")
        }
        AcquireStep::AskHowToReach | AcquireStep::AgreeOnWayToDrain => {
            format!("to {outlet}, which assesses the parcel and does not touch it")
        }
        _ => format!("to {outlet} without a right shown"),
    }
}

#[cfg(test)]
#[path = "next_step_tests.rs"]
mod tests;
