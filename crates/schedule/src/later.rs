//! What comes after a schedule is adopted: its actual cost, and the cost of maintenance.

use std::collections::{BTreeMap, BTreeSet};

use crate::assess::{Assessment, own_costs};
use crate::costs::{Cost, CostKind};
use crate::lands::LandIx;
use crate::money::{Money, RoundingUnit};
use crate::sections::{SectionIx, Sections};
use crate::share_out::share_out;

/// An adopted schedule at its actual cost: `shared` is prorated over what was adopted for benefit, outlet and injuring liability, cell by
/// cell; special benefit and increased cost, with the engineering that names their land, come at their actual figures, which `own` are.
/// Allowances stay as adopted.
///
/// Rows, columns and the whole sum, since every cell is rounded once. `None` where nothing was adopted that a shared cost could go with.
///
/// *Complexity*: O(n log n) for n cells.
pub fn at_actual_cost(adopted: &Assessment, shared: Money, own: &[Cost], unit: RoundingUnit) -> Option<Assessment> {
    let cells: Vec<(LandIx, SectionIx, CostKind, Money)> = adopted
        .cells
        .iter()
        .flat_map(|(&(land, section), cell)| cell.by_kind().map(|(kind, amount)| (land, section, kind, amount)))
        .collect();
    let weights: Vec<u128> = cells.iter().map(|(.., amount)| amount.cents().unsigned_abs().into()).collect();
    let shares = share_out(shared, unit, &weights)?;
    let mut actual = Assessment { cells: BTreeMap::new(), allowances: adopted.allowances.clone() };
    for ((land, section, kind, _), share) in cells.into_iter().zip(shares) {
        actual.add(land, section, kind, share);
    }
    let is_own = |cost: &&Cost| {
        matches!(cost.kind, CostKind::SpecialBenefit | CostKind::IncreasedCost)
            || (cost.kind == CostKind::Engineering && cost.land.is_some())
    };
    let own: Vec<&Cost> = own.iter().filter(is_own).collect();
    for section in own.iter().map(|cost| cost.section).collect::<BTreeSet<_>>() {
        let of_section: Vec<&Cost> = own.iter().copied().filter(|cost| cost.section == section).collect();
        own_costs(&mut actual, section, &of_section);
    }
    Some(actual)
}

/// A repair in one section, shared among the lands that the by-law's maintenance schedule assesses there or upstream, in proportion to
/// what it assesses them in those sections. `None` where it assesses none.
///
/// Whether special benefit, private crossings and the roads' increases are part of the maintenance schedule is the by-law's: it is given as
/// an assessment of its own.
///
/// *Complexity*: O(n s) for n cells and s sections.
pub fn maintenance(
    sections: &Sections,
    schedule: &Assessment,
    at: SectionIx,
    amount: Money,
    unit: RoundingUnit,
) -> Option<BTreeMap<LandIx, Money>> {
    let mut adopted: BTreeMap<LandIx, Money> = BTreeMap::new();
    for (&(land, section), cell) in &schedule.cells {
        if sections.from(section).any(|passed| passed == at) {
            *adopted.entry(land).or_default() += cell.total();
        }
    }
    let weights: Vec<u128> = adopted.values().map(|amount| amount.cents().unsigned_abs().into()).collect();
    let shares = share_out(amount, unit, &weights)?;
    Some(adopted.into_keys().zip(shares).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assess::Assessed;
    use crate::sections::Section;

    fn money(text: &str) -> Money {
        Money::parse(text).unwrap()
    }

    /// Two lands on two sections, and a road that causes an increase.
    fn adopted() -> Assessment {
        let outlet = |text| Assessed { outlet: money(text), ..Assessed::default() };
        let cells = [
            ((LandIx(0), SectionIx(0)), outlet("100")),
            ((LandIx(0), SectionIx(1)), outlet("300")),
            ((LandIx(1), SectionIx(0)), Assessed { benefit: money("50"), ..outlet("50") }),
            ((LandIx(2), SectionIx(0)), Assessed { increased_cost: money("1000"), ..outlet("100") }),
        ];
        Assessment { cells: cells.into(), allowances: [(LandIx(1), money("20"))].into() }
    }

    /// By hand: 660 on 600 is a tenth more in every cell; the road pays what its increase has cost.
    #[test]
    fn the_actual_cost_is_prorated() {
        let increase =
            Cost { section: SectionIx(0), kind: CostKind::IncreasedCost, amount: money("950"), land: Some(LandIx(2)) };
        let engineering = Cost { kind: CostKind::Engineering, amount: money("12.34"), ..increase };
        let found = at_actual_cost(&adopted(), money("660"), &[increase, engineering], RoundingUnit::CENT).unwrap();
        let of = |land: usize| found.of(LandIx(land));
        assert_eq!(of(0).outlet, money("440"));
        assert_eq!((of(1).outlet, of(1).benefit), (money("55"), money("55")));
        assert_eq!((of(2).outlet, of(2).increased_cost), (money("110"), money("962.34")));
        assert_eq!(found.total(), money("1622.34"));
        assert_eq!(found.allowances, adopted().allowances);
        assert_eq!(at_actual_cost(&Assessment::default(), money("1"), &[], RoundingUnit::CENT), None);
    }

    /// By hand: above the junction only the first land is assessed; below it 400, 100 and 1,100.
    #[test]
    fn a_repair_is_shared_upstream() {
        let section = |id: &str, below: Option<usize>| Section { id: id.to_owned(), below: below.map(SectionIx) };
        let drain = Sections::new([section("S1", None), section("S2", Some(0))].into_iter().collect()).unwrap();
        let check = |at: usize, amount: &str, expected: &[(usize, &str)]| {
            let found = maintenance(&drain, &adopted(), SectionIx(at), money(amount), RoundingUnit::CENT).unwrap();
            let expected: BTreeMap<LandIx, Money> =
                expected.iter().map(|&(land, share)| (LandIx(land), money(share))).collect();
            assert_eq!(found, expected);
        };
        check(1, "80", &[(0, "80")]);
        check(0, "160", &[(0, "40"), (1, "10"), (2, "110")]);
        assert_eq!(maintenance(&drain, &Assessment::default(), SectionIx(0), money("1"), RoundingUnit::CENT), None);
    }
}
