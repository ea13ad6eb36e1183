//! Why a finding is what it is.

use std::borrow::Cow;
use std::collections::BTreeSet;

use fallwright_law::{Evidence, Excess, Finding, Observation, Reason, Rule};

use super::names::{hectares, outlet_name};

/// One sentence without a full stop, with the numbers of the finding where the reason is one of hectares.
pub fn reason_of(reason: Reason, finding: &Finding) -> Cow<'static, str> {
    match reason {
        Reason::ExceedsAssessedHectares => excess_words(reason, true, finding),
        Reason::ExceedsWithinAccuracy => excess_words(reason, false, finding),
        Reason::PathCrossesFilledGround => filled_words(finding),
        Reason::RuleNotConfirmed => unconfirmed_words(finding),
        _ => Cow::Borrowed(reason_words(reason)),
    }
}

/// How large and deep the filled ground is, and what to do if it holds water.
fn filled_words(finding: &Finding) -> Cow<'static, str> {
    let areas = finding.evidence.iter().filter_map(|item| match item.observation {
        Observation::FilledArea(area) => Some(area),
        _ => None,
    });
    let depths = finding.evidence.iter().filter_map(|item| match item.observation {
        Observation::FilledDepth(depth) => Some(depth),
        _ => None,
    });
    let largest = areas.max_by(|a, b| a.hectares().total_cmp(&b.hectares()));
    let deepest = depths.max_by(|a, b| a.metres().total_cmp(&b.metres()));
    let words = reason_words(Reason::PathCrossesFilledGround);
    let (Some(largest), Some(deepest)) = (largest, deepest) else { return Cow::Borrowed(words) };
    Cow::Owned(format!(
        "{words}: a hollow of up to {}, up to {:.2} m deep; if it is a lake or a real depression, give it to `keep_depressions` in the case file",
        hectares(largest),
        deepest.metres()
    ))
}

/// Which class's rule is not confirmed.
fn unconfirmed_words(finding: &Finding) -> Cow<'static, str> {
    let classes: BTreeSet<&str> = finding.evidence.iter().filter_map(unconfirmed_class).collect();
    let rests_on = |feature: &str| {
        let mut of_feature = finding.evidence.iter().filter(|item| item.feature.as_deref() == Some(feature));
        of_feature.find_map(unconfirmed_class)
    };
    let shares = finding.shares.iter().filter(|share| share.reasons.contains(&Reason::RuleNotConfirmed));
    let decisive: BTreeSet<&str> =
        shares.filter_map(|share| rests_on(share.basis_feature.as_ref().or(share.outlet.as_ref())?)).collect();
    let named: Vec<String> =
        if decisive.is_empty() { classes } else { decisive }.into_iter().map(|class| class.replace('_', " ")).collect();
    if named.is_empty() {
        return Cow::Borrowed(reason_words(Reason::RuleNotConfirmed));
    }
    let rules = if let [only] = named.as_slice() {
        format!("the rule about the class {only}")
    } else {
        format!("the rules about the classes {}", named.join(", "))
    };
    Cow::Owned(format!(
        "the finding rests on {rules}, whose source is not confirmed; a lawyer would have to confirm it"
    ))
}

fn unconfirmed_class(item: &Evidence) -> Option<&str> {
    match &item.rule {
        Rule::Class { id, confirmed: false, .. } => Some(id),
        _ => None,
    }
}

/// How many hectares exceed which assessment; `counts` where by more than the accuracy of watershed areas.
fn excess_words(reason: Reason, counts: bool, finding: &Finding) -> Cow<'static, str> {
    let of_drain = |excess: &Excess| {
        format!(
            "{} drain to {}, which assesses {}: {} more, where watershed areas are accurate to {}",
            hectares(excess.draining),
            outlet_name(Some(&excess.drain)),
            hectares(excess.assessed),
            hectares(excess.hectares()),
            hectares(excess.accuracy)
        )
    };
    let drains = finding.excesses.iter().filter(|excess| excess.counts() == counts).map(of_drain);
    let numbers = drains.collect::<Vec<_>>().join("; ");
    if numbers.is_empty() { Cow::Borrowed(reason_words(reason)) } else { Cow::Owned(numbers) }
}

/// One sentence without a full stop.
#[expect(clippy::too_many_lines, reason = "one arm for each reason")]
pub const fn reason_words(reason: Reason) -> &'static str {
    match reason {
        Reason::OutsideElevationData => "the parcel lies outside the elevation data",
        Reason::ElevationMissing => "too much of the parcel has no elevation",
        Reason::SmallerThanACell => "the parcel holds no cell of the elevation data",
        Reason::PathLeavesData => "the water leaves the elevation data before it meets a lawful outlet",
        Reason::HoleInElevation => "the water runs into a hole of the elevation data before it meets a lawful outlet",
        Reason::UnmappedChannel => {
            "the ground shows a channel at the parcel that no layer maps, and the finding would turn on what it is"
        }
        Reason::CellsMayHideChannel => {
            "much land drains by where the water leaves, and the cells of the elevation data are too large to show whether a channel that no layer maps runs there; smaller cells, or a look in the field, would decide"
        }
        Reason::EndsInKeptDepression => {
            "the water ends in a real depression, which is no outlet unless one is cut or piped"
        }
        Reason::EndsInClosedLake => {
            "the water ends in a lake without an outlet: what is brought to it stays there, so its level may rise"
        }
        Reason::NoFrontage => "the water reaches a watercourse on which the parcel has no frontage",
        Reason::FrontageWithoutFlow => "the parcel has frontage on a watercourse to which this water does not go",
        Reason::FrontageWithinBoundaryAccuracy => {
            "whether the parcel touches the feature depends on the accuracy of the lot lines"
        }
        Reason::FrontageJustBeyondTolerance => "the feature lies just too far from the parcel to count as touching it",
        Reason::FrontageAtAPoint => {
            "the parcel touches the watercourse at a point only, or over too short a length to distinguish it from one, which is no frontage"
        }
        Reason::CutOffFromFeature => {
            "the feature is near the parcel, but a strip of another's land or a road lies between, so that the parcel does not touch it"
        }
        Reason::SameChannel => {
            "two mapped features run in the same channel, so it has both statuses; the finding rests on the stronger that gives a right"
        }
        Reason::WaterLeavesOverNeighbour => {
            "the water crosses a neighbour before it reaches the outlet to which there is a right: what runs there by itself may, what is collected needs the neighbour's agreement or a way on own land"
        }
        Reason::ScheduleNotSupplied => {
            "the drain's schedule is not supplied, so the assessment could not be checked: land on the drain is presumed assessed, other land stays undecided"
        }
        Reason::NotInSchedule => "the drain's schedule does not list the parcel",
        Reason::AssessedForBenefitOnly => {
            "the drain's schedule lists the parcel for benefit alone; whether that carries outlet is not clear"
        }
        Reason::ExceedsWithinAccuracy => {
            "more hectares drain to the drain than are assessed in its schedule, by no more than watershed areas are accurate"
        }
        Reason::RightBeyondDrain => {
            "the parcel would have a right to an outlet farther down, which does not cure what is missing at the drain that the water enters first"
        }
        Reason::DrainFartherDown => {
            "past a natural watercourse the water meets a drain whose schedule does not list the parcel; that takes no right away"
        }
        Reason::SharesChannelWithDrain => {
            "the watercourse to which there is a right is also a drain whose schedule does not list the parcel"
        }
        Reason::LedOnIntoDrain => {
            "the drain to which there is a right leads on into one whose schedule does not list the parcel"
        }
        Reason::NaturalSurfaceFlow => {
            "surface water that runs there over the ground by itself is no fault of the owner; a ditch or tile that leads it there needs a right"
        }
        Reason::RuleNotConfirmed => {
            "the finding rests on a rule whose source is not confirmed; a lawyer would have to confirm it"
        }
        Reason::ExceedsAssessedHectares => "more hectares drain to the drain than are assessed in its schedule",
        Reason::AssessedButNotTouching => {
            "the parcel is assessed into the drain, but the drain does not touch it: the assessment gives the outlet, not the way across neighbours"
        }
        Reason::AssessedButDrainingElsewhere => {
            "the parcel is assessed into a drain to which none of its water is seen to go"
        }
        Reason::PipedOutOfWatershed => {
            "a pipe takes water of the parcel out of the watershed to which its surface water goes; water must not be taken where it would not naturally go without a right to do so"
        }
        Reason::PipedWaterWithoutRight => {
            "piped water of the parcel goes where no right to an outlet is shown; collected water must be taken to a sufficient outlet"
        }
        Reason::PipedUnderNeighbour => {
            "the pipe carries the water under a neighbour's land, which needs the neighbour's written agreement, best registered on title"
        }
        Reason::CollectedWaterOnNeighbour => {
            "the pipe ends before the outlet and its water runs open on another's land: collected water may not be cast on a neighbour"
        }
        Reason::PipedWaterIsLed => "piped water is led and not natural flow, which alone neighbours must take",
        Reason::DrainNotTouching => "the water reaches a drain that does not touch the parcel",
        Reason::NotNamedParty => "the parcel is not named in the agreement or award of the drain",
        Reason::PartiesNotSupplied => {
            "the parties of the drain are not supplied, so a right under it could not be checked"
        }
        Reason::LaterOwnerNotBound => {
            "the agreement is not shown to be registered on title, and the parcel has changed hands since it was made: it does not bind later owners"
        }
        Reason::AgreementNotRegistered => {
            "the agreement is not shown to be registered on title, so it may bind only those who signed it"
        }
        Reason::AgreementDrainWithoutOutlet => {
            "the drain is not seen to reach a natural watercourse or a municipal drain"
        }
        Reason::ApprovalNotHeld => {
            "the outlet may be used only with an approval, and none that is supplied names the parcel"
        }
        Reason::ApprovalNotSupplied => {
            "the outlet may be used only with an approval, and no list of approvals for it is supplied"
        }
        Reason::PermissionsMissing => {
            "a written permission is needed from every parcel on the way to the outlet, and not all are held"
        }
        Reason::NaturalFlowOverNeighbour => {
            "the water crosses neighbours, who must take what comes to them by natural flow and no more"
        }
        Reason::RoadDitchIsNoOutlet => "a road ditch is no outlet without the road authority's written permission",
        Reason::RoadPermissionIsRevocable => {
            "a road authority's written permission is held; it can be withdrawn and is not a right"
        }
        Reason::RoadDitchOnTheWay => {
            "before it reaches the outlet to which there is a right, the water runs in a road ditch without the road authority's written permission"
        }
        Reason::ConfersNoRight => {
            "the water runs in a mapped ditch or pipe of a class that gives nobody a right of drainage"
        }
        Reason::FallWithinElevationAccuracy => {
            "the fall along the path is no larger than the accuracy of the elevation data"
        }
        Reason::DivideWithinElevationAccuracy => {
            "half or more of the divide toward land that drains elsewhere stands no higher above the place where the water leaves than the elevation data are accurate"
        }
        Reason::PathCrossesFilledGround => "the path crosses ground that had to be filled to carry the water on",
        Reason::PathEndsHigher => {
            "the path ends higher than it began, which water cannot do: the terrain was filled where the water may stay; this finding is not to be relied on before that ground is looked at"
        }
        Reason::PathOverSuspectedCulvert => {
            "the path passes a place where a road or bank holds water back and a culvert is only suspected; check it in the field"
        }
        Reason::CellsLargeAtLotLine => {
            "the cells of the elevation data are large beside the parcel: a difference of one cell along its lot line may change what is found here"
        }
        Reason::FindingRestsOnRemainder => "no share of the parcel's water is large enough for a finding of its own",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_reason_has_words_of_its_own_without_a_full_stop() {
        let words: BTreeSet<&str> = Reason::ALL.iter().copied().map(reason_words).collect();
        assert_eq!(words.len(), Reason::ALL.len());
        assert!(words.iter().all(|words| !words.is_empty() && !words.ends_with('.')));
    }
}
