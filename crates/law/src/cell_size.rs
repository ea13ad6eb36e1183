//! What the finding leaves in doubt where the cells of the elevation data are large beside the parcel or a channel.

use crate::judge::standing;
use crate::share::Piece;
use crate::{ParcelFacts, Profile, ShareFacts, Standing};

/// Whether smaller cells could change the standing of a parcel few cells across: it turns on shares within one cell of the lot
/// line, or all has a right while land beside it drains elsewhere, or something has to be acquired while the parcel has
/// frontage on another watercourse and such land lies beside it.
pub(crate) fn rests_on_cells_at_line(pieces: &[&Piece], facts: &ParcelFacts, profile: &Profile) -> bool {
    if !profile.minimums.is_few_cells_across(facts.own_ha, facts.cell) {
        return false;
    }
    let inner: Vec<_> = pieces.iter().copied().filter(|piece| !piece.share.within_a_cell_of_line).collect();
    let found = standing(pieces);
    let may_miss_a_part = match found {
        Standing::Right => true,
        Standing::Acquire => facts.frontage_without_flow(profile).next().is_some(),
        Standing::RightInPart | Standing::Undecided => false,
    };
    standing(&inner) != found || may_miss_a_part && facts.other_destination_beside
}

/// Whether as much land drains by where a share leaves as makes a channel matter, and the cells are too large to show one.
pub(crate) fn cells_may_hide_channel(share: &ShareFacts, facts: &ParcelFacts, profile: &Profile) -> bool {
    let test = &profile.unmapped_channel;
    share.marked_channel.is_none()
        && share.leaving_area.hectares() >= test.contributing_ha.value
        && facts.cell.metres() * test.cells_to_bank.value > test.bank_distance_m.value
}

#[cfg(test)]
mod tests {
    use crate::example::{at, hectares, meets, metres, ontario, parcel, share};
    use crate::{Confidence, Frontage, Observation, ParcelFacts, Reason, Rule, ShareFacts, judge};

    const CREEK: &str = "natural_watercourse";

    fn on_creek(shares: Vec<ShareFacts>) -> ParcelFacts {
        ParcelFacts { frontage: vec![at(0.0, "MC", CREEK)], ..parcel(shares) }
    }

    /// Whether the reason is found on a parcel in cells of this many metres, and the confidence with it.
    fn check(facts: &ParcelFacts, cell_m: f64, reason: Reason, expected: bool) {
        let finding = judge(&ParcelFacts { cell: metres(cell_m), ..facts.clone() }, &ontario());
        assert_eq!(finding.reasons.contains(&reason), expected, "{cell_m} m: {:?}", finding.reasons);
        let size = finding.evidence.iter().any(|item| item.observation == Observation::CellSize(metres(cell_m)));
        assert_eq!(size, expected, "{:?}", finding.evidence);
        assert!(!expected || finding.confidence <= Confidence::Medium);
    }

    /// By hand: 16 ha are 400 m square, 50 cells of 8 m.
    #[test]
    fn a_parcel_few_cells_across_with_another_destination_beside_it() {
        let right = on_creek(vec![meets(share(1, 16.0), "MC", CREEK, &[])]);
        let beside = ParcelFacts { other_destination_beside: true, ..right.clone() };
        check(&beside, 8.0, Reason::CellsLargeAtLotLine, false);
        check(&beside, 8.1, Reason::CellsLargeAtLotLine, true);
        check(&right, 50.0, Reason::CellsLargeAtLotLine, false);
    }

    #[test]
    fn acquiring_is_in_doubt_where_there_is_frontage_on_another_watercourse() {
        let beside = |frontage: Vec<Frontage>| {
            let shares = vec![meets(share(1, 16.0), "MC", CREEK, &["101"])];
            ParcelFacts { other_destination_beside: true, frontage, ..parcel(shares) }
        };
        check(&beside(vec![]), 50.0, Reason::CellsLargeAtLotLine, false);
        check(&beside(vec![at(0.0, "TC", CREEK)]), 50.0, Reason::CellsLargeAtLotLine, true);
    }

    #[test]
    fn a_standing_that_turns_on_a_part_along_the_lot_line() {
        let part = |ha, at_line| {
            let other = ShareFacts { within_a_cell_of_line: at_line, ..meets(share(2, ha), "TC", CREEK, &["101"]) };
            on_creek(vec![meets(share(1, 16.0 - ha), "MC", CREEK, &[]), other])
        };
        check(&part(1.0, true), 50.0, Reason::CellsLargeAtLotLine, true);
        check(&part(1.0, false), 50.0, Reason::CellsLargeAtLotLine, false);
        check(&part(1.0, true), 2.0, Reason::CellsLargeAtLotLine, false);
    }

    /// By hand: a quarter of the 10 m to a bank is 2.5 m; from 25 ha a channel matters.
    #[test]
    fn cells_too_large_to_show_a_channel() {
        let leaves = |ha| parcel(vec![ShareFacts { leaving_area: hectares(ha), ..share(1, 20.0) }]);
        check(&leaves(25.0), 2.5, Reason::CellsMayHideChannel, false);
        check(&leaves(25.0), 2.6, Reason::CellsMayHideChannel, true);
        check(&leaves(24.9), 2.6, Reason::CellsMayHideChannel, false);
        let right = ShareFacts { leaving_area: hectares(60.0), ..meets(share(1, 20.0), "MC", CREEK, &[]) };
        check(&on_creek(vec![right]), 5.0, Reason::CellsMayHideChannel, false);
        let finding = judge(&ParcelFacts { cell: metres(5.0), ..leaves(30.0) }, &ontario());
        assert!(finding.evidence.iter().any(|item| {
            matches!(item.rule, Rule::UnmappedChannel { .. })
                && item.observation == Observation::ContributingArea(hectares(30.0))
        }));
    }
}
