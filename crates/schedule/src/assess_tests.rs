use proptest::prelude::*;
use typed_index_collections::TiVec;

use super::*;
use crate::lands::{Entry, RunoffFactor};
use crate::sections::Section;

fn drain(below: &[Option<usize>]) -> Sections {
    let section = |(number, below): (usize, &Option<usize>)| Section {
        id: format!("S{}", number + 1),
        below: below.map(SectionIx),
    };
    Sections::new(below.iter().enumerate().map(section).collect()).unwrap()
}

fn land(id: &str, entries: &[(usize, u64, &str)]) -> Land {
    let entry = |&(section, hectares, factor): &(usize, u64, &str)| Entry {
        section: SectionIx(section),
        square_metres: hectares * 10_000,
        factor: RunoffFactor::parse(factor).unwrap(),
    };
    Land { id: id.to_owned(), entries: entries.iter().map(entry).collect() }
}

fn cost(section: usize, kind: CostKind, amount: &str, land: Option<usize>) -> Cost {
    Cost { section: SectionIx(section), kind, amount: Money::parse(amount).unwrap(), land: land.map(LandIx) }
}

/// Five lands on three sections, S1 at the outlet: 20 ha, 15 ha of bush at 0.5, 10 ha, 2 ha of road at 2.5, 25 ha.
fn five_lands() -> (Sections, TiVec<LandIx, Land>) {
    let lands = [
        land("A", &[(2, 20, "1")]),
        land("B", &[(2, 15, "0.5")]),
        land("C", &[(1, 10, "1")]),
        land("D", &[(1, 2, "2.5")]),
        land("E", &[(0, 25, "1")]),
    ];
    (drain(&[None, Some(0), Some(1)]), lands.into_iter().collect())
}

fn outlets() -> Vec<Cost> {
    [(0, "30000"), (1, "24000"), (2, "16000")]
        .map(|(section, amount)| cost(section, CostKind::Outlet, amount, None))
        .to_vec()
}

fn totals(assessment: &Assessment, lands: usize) -> Vec<String> {
    (0..lands).map(|land| assessment.of(LandIx(land)).total().to_string()).collect()
}

/// A constructed case: 581.8182, 564.7059 and 444.4444 for each equivalent hectare, reckoned with fractions by hand; the sums in cents.
#[test]
fn five_lands_on_three_sections() {
    let (drain, lands) = five_lands();
    let found = assess(&drain, &lands, &outlets(), RoundingUnit::CENT).unwrap();
    assert_eq!(totals(&found, 5), ["31819.37", "11932.26", "10091.51", "5045.75", "11111.11"]);
    assert_eq!(found.total().to_string(), "70000.00");
    let of_c: Vec<(usize, String)> =
        found.sections_of(LandIx(2)).map(|(section, cell)| (section.0, cell.outlet.to_string())).collect();
    assert_eq!(of_c, [(0, "4444.45".to_owned()), (1, "5647.06".to_owned())]);
    for Reconciliation { given, assessed, .. } in found.reconciliation(&drain, &outlets()) {
        assert_eq!(given, assessed);
    }
}

/// By hand: section S3 has 8,000 of outlet and 4,000 of benefit. Its engineering of 1,200 and an allowance of 600 go with them as 2 to 1, so
/// that 9,200 are shared out and 4,600 entered; the road and the fifth land pay for their own.
#[test]
fn engineering_and_allowances_go_with_the_works() {
    let (drain, lands) = five_lands();
    let costs = [
        cost(2, CostKind::Outlet, "8000", None),
        cost(2, CostKind::Benefit, "4000", Some(0)),
        cost(2, CostKind::Engineering, "1200", None),
        cost(2, CostKind::Allowance, "600", Some(1)),
        cost(2, CostKind::IncreasedCost, "5000", Some(3)),
        cost(2, CostKind::Engineering, "500", Some(3)),
        cost(2, CostKind::SpecialBenefit, "700", Some(4)),
        cost(2, CostKind::Engineering, "70", Some(4)),
    ];
    let found = assess(&drain, &lands, &costs, RoundingUnit::CENT).unwrap();
    let of = |land: usize| found.of(LandIx(land));
    assert_eq!(of(0).benefit.to_string(), "4600.00");
    assert_eq!((of(0).outlet + of(1).outlet).to_string(), "9200.00");
    // 20 of 27.5 equivalent hectares.
    assert_eq!(of(0).outlet.to_string(), "6690.91");
    assert_eq!((of(3).increased_cost.to_string(), of(3).outlet), ("5500.00".to_owned(), Money::ZERO));
    assert_eq!(of(4).special_benefit.to_string(), "770.00");
    assert_eq!(found.allowances.get(&LandIx(1)).unwrap().to_string(), "600.00");
    assert_eq!(found.total().to_string(), "20070.00");
}

#[test]
fn costs_that_nobody_bears_are_all_named() {
    let (drain, lands) = five_lands();
    let check = |costs: &[Cost], expected: &[FaultyCost]| {
        assert_eq!(assess(&drain, &lands, costs, RoundingUnit::CENT), Err(expected.to_vec()));
    };
    let minus = Cost { amount: Money::from_cents(-1), ..cost(0, CostKind::Outlet, "1", None) };
    check(
        &[
            minus,
            cost(0, CostKind::Benefit, "1", None),
            cost(0, CostKind::Outlet, "1", Some(0)),
            cost(0, CostKind::Engineering, "1", Some(0)),
        ],
        &[
            FaultyCost::Negative { cost: 0, amount: Money::from_cents(-1) },
            FaultyCost::Land { cost: 1, kind: CostKind::Benefit, needs_land: true },
            FaultyCost::Land { cost: 2, kind: CostKind::Outlet, needs_land: false },
            FaultyCost::EngineeringAlone { cost: 3 },
        ],
    );
    check(
        &[cost(1, CostKind::Engineering, "5", None), cost(2, CostKind::Allowance, "7", Some(0))],
        &[
            FaultyCost::NoWorks { section: "S2".to_owned(), amount: Money::from_cents(500) },
            FaultyCost::NoWorks { section: "S3".to_owned(), amount: Money::from_cents(700) },
        ],
    );
    let empty: TiVec<LandIx, Land> = TiVec::new();
    assert_eq!(
        assess(&drain, &empty, &[cost(0, CostKind::Outlet, "1", None)], RoundingUnit::CENT),
        Err(vec![FaultyCost::NobodyUses { section: "S1".to_owned(), amount: Money::from_cents(100) }])
    );
}

/// A drain of up to six sections, lands with one or two entries, costs of every kind.
fn random() -> impl Strategy<Value = (Sections, TiVec<LandIx, Land>, Vec<Cost>)> {
    (1_usize..7, 1_usize..9).prop_flat_map(|(sections, lands)| {
        let below = (1..sections).map(|section| 0..section).collect::<Vec<_>>();
        let entry = (0..sections, 1_u64..5_000_000, 1_u32..4);
        let entries = prop::collection::vec(prop::collection::vec(entry, 1..3), lands);
        let costs = prop::collection::vec((0..sections, 0_usize..5, 0_i64..10_000_000, 0..lands), 1..12);
        (below, entries, costs).prop_map(move |(below, entries, costs)| {
            let below: Vec<Option<usize>> = std::iter::once(None).chain(below.into_iter().map(Some)).collect();
            let land = |(number, entries): (usize, Vec<(usize, u64, u32)>)| Land {
                id: format!("{number}"),
                entries: entries
                    .into_iter()
                    .map(|(section, square_metres, factor)| Entry {
                        section: SectionIx(section),
                        square_metres,
                        factor: RunoffFactor::parse(&format!("{factor}.5")).unwrap(),
                    })
                    .collect(),
            };
            let cost = |(section, kind, cents, land): (usize, usize, i64, usize)| {
                let kind = CostKind::ALL[kind];
                let land = (kind != CostKind::Outlet).then_some(LandIx(land));
                Cost { section: SectionIx(section), kind, amount: Money::from_cents(cents), land }
            };
            (drain(&below), entries.into_iter().enumerate().map(land).collect(), costs.into_iter().map(cost).collect())
        })
    })
}

proptest! {
    /// Every column and every section sums to what is given; nobody pays outlet in a section that none of his water passes; doubling all
    /// factors changes nothing.
    #[test]
    fn sums_hold_and_water_decides((drain, lands, costs) in random()) {
        let Ok(found) = assess(&drain, &lands, &costs, RoundingUnit::CENT) else { return Ok(()) };
        let given: Money = costs.iter().map(|cost| cost.amount).sum();
        prop_assert_eq!(found.total(), given);
        for Reconciliation { given, assessed, .. } in found.reconciliation(&drain, &costs) {
            prop_assert_eq!(given, assessed);
        }
        for (&(land, section), cell) in &found.cells {
            let passes = lands[land].entries.iter().any(|entry| drain.from(entry.section).any(|passed| passed == section));
            prop_assert!(passes || cell.outlet == Money::ZERO);
        }
        let mut doubled = lands.clone();
        for entry in doubled.iter_mut().flat_map(|land| &mut land.entries) {
            entry.square_metres *= 2;
        }
        prop_assert_eq!(assess(&drain, &doubled, &costs, RoundingUnit::CENT).unwrap(), found);
    }
}
