//! One plain sentence: what to do, whom to ask.

use crate::profile::Ask;
use crate::provisions::touches;
use crate::share::{Claim, Piece};
use crate::wording::{feature_name, hectares, list_parcels};
use crate::{OutletOnPath, ParcelFacts, Profile, Provision, Reason, ShareStanding, Standing};

/// `pieces` are those that the standing rests on.
pub(crate) fn next_step(
    standing: Standing,
    whole_parcel: Option<Reason>,
    pieces: &[&Piece],
    facts: &ParcelFacts,
    profile: &Profile,
) -> String {
    if let Some(reason) = whole_parcel {
        return supply_elevation(reason, facts);
    }
    match standing {
        Standing::Right => keep_right(pieces, facts, profile),
        Standing::Undecided => largest(pieces, ShareStanding::Undecided)
            .map_or_else(|| supply_elevation(Reason::SmallerThanACell, facts), |piece| find_out(piece, facts, profile)),
        Standing::RightInPart | Standing::Acquire => match largest(pieces, ShareStanding::Acquire) {
            Some(piece) => acquire(piece, facts, profile),
            None => largest(pieces, ShareStanding::Undecided)
                .map_or_else(|| keep_right(pieces, facts, profile), |piece| find_out(piece, facts, profile)),
        },
    }
}

/// The largest piece of that standing, the first of equals.
fn largest<'p, 'a>(pieces: &[&'p Piece<'a>], standing: ShareStanding) -> Option<&'p Piece<'a>> {
    let of_standing = pieces.iter().copied().filter(|piece| piece.standing == standing);
    of_standing.reduce(|best, piece| if piece.hectares > best.hectares { piece } else { best })
}

fn supply_elevation(reason: Reason, facts: &ParcelFacts) -> String {
    let parcel = &facts.parcel;
    match reason {
        Reason::OutsideElevationData => {
            format!("Supply elevation data that covers parcel {parcel}; it lies outside what is supplied.")
        }
        Reason::ElevationMissing => format!(
            "Supply elevation data without gaps for parcel {parcel}; {} of it has no elevation.",
            hectares(facts.missing_ha)
        ),
        _ => format!("Supply finer elevation data for parcel {parcel}; it holds no cell of what is supplied."),
    }
}

fn keep_right(pieces: &[&Piece], facts: &ParcelFacts, profile: &Profile) -> String {
    const IN_ORDER: [Reason; 9] = [
        Reason::WaterLeavesOverNeighbour,
        Reason::NaturalFlowOverNeighbour,
        Reason::ScheduleNotSupplied,
        Reason::AgreementNotRegistered,
        Reason::FrontageWithinBoundaryAccuracy,
        Reason::AgreementDrainWithoutOutlet,
        Reason::FallWithinElevationAccuracy,
        Reason::DivideWithinElevationAccuracy,
        Reason::PathCrossesFilledGround,
    ];
    let with =
        |reason: Reason| pieces.iter().find(|piece| piece.reasons.contains(&reason)).map(|piece| (reason, piece));
    let Some((reason, piece)) = IN_ORDER.into_iter().find_map(with) else {
        let outlets = pieces.first().map_or_else(String::new, |piece| outlet_name(piece));
        return format!(
            "Nothing has to be acquired: before any work, confirm the outlet to {outlets} with {}.",
            profile.ask.drains
        );
    };
    settle(reason, piece, facts, &profile.ask)
}

/// What to do about a reason that clouds a right.
fn settle(reason: Reason, piece: &Piece, facts: &ParcelFacts, ask: &Ask) -> String {
    let (outlet, parcel) = (outlet_name(piece), &facts.parcel);
    match reason {
        Reason::WaterLeavesOverNeighbour => over_neighbour(piece, facts, ask),
        Reason::NaturalFlowOverNeighbour => {
            let crossed = piece.outlet().map_or_else(String::new, |outlet| list_parcels(&outlet.crossed_before));
            format!(
                "Leave the water its natural course over {crossed} to {outlet}, and ask {} before any work that would add to it.",
                ask.drains
            )
        }
        Reason::ScheduleNotSupplied => {
            format!(
                "Ask {} for the current schedule of {outlet} and check that it assesses parcel {parcel}.",
                ask.records
            )
        }
        Reason::AgreementNotRegistered => {
            format!(
                "Check with {} whether the agreement or award for {outlet} is registered on title of parcel {parcel}.",
                ask.titles
            )
        }
        Reason::FrontageWithinBoundaryAccuracy => {
            format!(
                "Have a surveyor confirm that parcel {parcel} touches {outlet}, since the lot lines leave that in doubt."
            )
        }
        Reason::AgreementDrainWithoutOutlet => {
            format!("Ask {} where {outlet} ends, since it is not seen to reach a lawful outlet of its own.", ask.drains)
        }
        _ => format!(
            "Have the levels from parcel {parcel} to {outlet} surveyed, since the elevation data leave the path in doubt."
        ),
    }
}

fn over_neighbour(piece: &Piece, facts: &ParcelFacts, ask: &Ask) -> String {
    let crossed = piece.outlet().map_or_else(String::new, |outlet| list_parcels(&outlet.crossed_before));
    let outlet = outlet_name(piece);
    if piece.outlet().is_some_and(|outlet| touches(&outlet.feature, facts)) {
        format!(
            "Lead the water on your own land to your own frontage on {outlet}, since it now crosses {crossed} first; ask {} before any work.",
            ask.drains
        )
    } else {
        format!(
            "Check that the agreement, award or approval for {outlet} gives the way across {crossed}, which the water crosses first."
        )
    }
}

fn acquire(piece: &Piece, facts: &ParcelFacts, profile: &Profile) -> String {
    const IN_ORDER: [Reason; 11] = [
        Reason::PermissionsMissing,
        Reason::ApprovalNotHeld,
        Reason::ApprovalNotSupplied,
        Reason::LaterOwnerNotBound,
        Reason::AssessedButNotTouching,
        Reason::ExceedsAssessedHectares,
        Reason::NotInSchedule,
        Reason::FrontageJustBeyondTolerance,
        Reason::PartiesNotSupplied,
        Reason::RoadPermissionIsRevocable,
        Reason::EndsInKeptDepression,
    ];
    let reason = IN_ORDER.into_iter().find(|reason| piece.reasons.contains(reason));
    reason.map_or_else(
        || agree_or_petition(piece, facts, profile),
        |reason| acquire_because(reason, piece, facts, profile),
    )
}

fn acquire_because(reason: Reason, piece: &Piece, facts: &ParcelFacts, profile: &Profile) -> String {
    let (parcel, ask) = (&facts.parcel, &profile.ask);
    let area = hectares(piece.hectares);
    let target = concerned(reason, piece);
    let outlet = target.map_or_else(|| "a lawful outlet".to_owned(), name);
    let crossed = target.map_or_else(String::new, |target| list_parcels(&target.crossed_before));
    match reason {
        Reason::AssessedButNotTouching if crossed.is_empty() => {
            format!(
                "Ask {} how the water of parcel {parcel} may reach {outlet}, into which it is assessed.",
                ask.drains
            )
        }
        Reason::AssessedButNotTouching => format!(
            "Agree in writing with the owners of {crossed} on a way to {outlet}, into which parcel {parcel} is assessed, or ask {} about a branch.",
            ask.drains
        ),
        Reason::ExceedsAssessedHectares => {
            format!(
                "Ask {} to assess {area} more of parcel {parcel} into {outlet}; that much drains there beyond what is assessed.",
                ask.drains
            )
        }
        Reason::NotInSchedule => {
            format!(
                "Ask {} to connect {area} of parcel {parcel} to {outlet} and to assess it; the schedule does not list it.",
                ask.drains
            )
        }
        Reason::FrontageJustBeyondTolerance => {
            format!(
                "Have a surveyor measure whether parcel {parcel} touches {outlet}; on the map it lies just too far away."
            )
        }
        Reason::PermissionsMissing => format!(
            "Get the written permission of the owners of {crossed} and the approval of {} for the way from parcel {parcel} to {outlet}.",
            ask.drains
        ),
        Reason::ApprovalNotHeld | Reason::ApprovalNotSupplied => {
            format!(
                "Ask {} whether an approval for works from parcel {parcel} to {outlet} is on record, and apply for one if not.",
                ask.records
            )
        }
        Reason::LaterOwnerNotBound => format!(
            "Ask {} whether the agreement for {outlet} is registered on title of parcel {parcel}; if not, ask the parties to make and register a new one.",
            ask.titles
        ),
        Reason::PartiesNotSupplied => {
            format!(
                "Ask {} or the neighbours whether parcel {parcel} is named in the agreement or award for {outlet}.",
                ask.records
            )
        }
        Reason::RoadPermissionIsRevocable => format!(
            "Keep the road authority's written permission, which can be withdrawn, and ask {} about a lasting outlet for {area} of parcel {parcel}.",
            ask.drains
        ),
        _ => format!(
            "Ask {} how an outlet could be cut or piped for {area} of parcel {parcel}, whose water ends in a depression.",
            ask.drains
        ),
    }
}

/// The outlet a reason speaks of, where that need not be the first on the path.
fn concerned<'a>(reason: Reason, piece: &Piece<'a>) -> Option<&'a OutletOnPath> {
    let speaks = |claim: &&Claim| match reason {
        Reason::ExceedsAssessedHectares => claim.gives_right(),
        _ => claim.outcome.reasons.contains(&reason),
    };
    piece.claims.iter().find(speaks).map(|claim| claim.outlet).or_else(|| piece.outlet())
}

fn agree_or_petition(piece: &Piece, facts: &ParcelFacts, profile: &Profile) -> String {
    let (parcel, outlet, area) = (&facts.parcel, outlet_name(piece), hectares(piece.hectares));
    let (crossed, drains) = (list_parcels(&piece.share.crossed()), &profile.ask.drains);
    let otherwise = if piece.reasons.contains(&Reason::RoadDitchIsNoOutlet) {
        "ask the road authority in writing for the use of its ditch, which is no right and can be withdrawn".to_owned()
    } else {
        format!("ask {drains} about other ways")
    };
    let class = piece.outlet().and_then(|outlet| profile.class(&outlet.class));
    if class.is_some_and(|class| class.provision == Provision::NamedParty) {
        format!("Ask the parties of {outlet} to take {area} of parcel {parcel} into their agreement, or {otherwise}.")
    } else if crossed.is_empty() {
        format!("Ask {drains} how {area} of parcel {parcel} may lawfully drain to {outlet}.")
    } else {
        format!(
            "Agree in writing with the owners of {crossed} on a drain from parcel {parcel} to {outlet}, or {otherwise}."
        )
    }
}

fn find_out(piece: &Piece, facts: &ParcelFacts, profile: &Profile) -> String {
    let (parcel, area) = (&facts.parcel, hectares(piece.hectares));
    if piece.reasons.contains(&Reason::UnmappedChannel) {
        return format!(
            "Have the channel on parcel {parcel} looked at on the ground, and ask {} what it is; map it if it is a watercourse or a drain.",
            profile.ask.drains
        );
    }
    let problem = if piece.reasons.contains(&Reason::HoleInElevation) { "runs into a gap in" } else { "leaves" };
    format!(
        "Supply elevation data farther downstream of parcel {parcel}: the water of {area} {problem} the data before it meets a lawful outlet."
    )
}

fn outlet_name(piece: &Piece) -> String {
    piece.outlet().map_or_else(|| "a lawful outlet".to_owned(), name)
}

fn name(outlet: &OutletOnPath) -> String {
    feature_name(&outlet.feature, outlet.name.as_deref())
}
