use std::collections::BTreeSet;

use proptest::prelude::*;

use super::*;
use crate::Profile;

/// A roll of parcels `(id, owners, hectares)` and roads `(id, authority, hectares)`.
fn roll(parcels: &[(&str, &[&str], f64)], roads: &[(&str, &str, f64)]) -> Roll {
    let mut roll = Roll::default();
    let mut land = |kind, id: &str, owners: &[&str], hectares: f64| {
        let mut owners: Vec<OwnerIx> = owners.iter().map(|owner| roll.owner(owner)).collect();
        owners.sort_unstable();
        let square_metres = (hectares * 10_000.0).round() as u64;
        roll.lands.push(RollLand { kind, id: id.to_owned(), owners, square_metres, is_partly_outside: false });
    };
    for &(id, owners, hectares) in parcels {
        land(LandKind::Parcel, id, owners, hectares);
    }
    for &(id, authority, hectares) in roads {
        land(LandKind::Road, id, &[authority], hectares);
    }
    roll
}

fn signed(roll: &Roll, names: &[&str]) -> Signatures {
    let owner = |name: &&str| roll.owners.position(|owner| owner == name).expect("an owner");
    Signatures { signed: names.iter().map(owner).collect(), ..Signatures::default() }
}

fn ontario() -> Box<PetitionRules> {
    let PetitionLaw::Known(rules) = Profile::shipped("ontario").unwrap().petition else { panic!("no rules") };
    rules
}

fn five_farms(roads: &[(&str, &str, f64)]) -> Roll {
    let farms: [(&str, &[&str], f64); 5] =
        [("1", &["A"], 35.0), ("2", &["B"], 26.0), ("3", &["C"], 15.0), ("4", &["D"], 14.0), ("5", &["E"], 10.0)];
    roll(&farms, roads)
}

/// The case constructed for the count: 100 ha, five owners; then without E's land, then with a township road of 4 ha. Its
/// verdicts are worked out by hand from "a majority of the owners, or owners of at least 60 % of the hectares".
#[test]
fn five_farms_in_an_area_of_100_ha() {
    let rules = ontario();
    let check = |roll: &Roll, names: &[&str], expected: Verdict, have: &[(u64, u64, u64)]| {
        let signatures = signed(roll, names);
        assert_eq!(verdict(&rules.petition, roll, &signatures), expected, "{names:?}");
        let found: Vec<_> = tallies(&rules.petition, roll, &signatures)
            .iter()
            .map(|tally| (tally.have, tally.whole, tally.needed))
            .collect();
        assert_eq!(found, have, "{names:?}");
    };
    let five = five_farms(&[]);
    let ha = |hectares: u64| hectares * 10_000;
    let land = |have| (ha(have), ha(100), ha(60));
    check(&five, &["A", "B"], Verdict::Valid, &[(2, 5, 3), land(61), land(61)]);
    check(&five, &["C", "D", "E"], Verdict::Valid, &[(3, 5, 3), land(39), land(39)]);
    check(&five, &["A", "C"], Verdict::NotValid, &[(2, 5, 3), land(50), land(50)]);
    let four = five.without(|land| land.id == "5");
    let land = |have| (ha(have), ha(90), ha(54));
    check(&four, &["A", "C"], Verdict::NotValid, &[(2, 4, 3), land(50), land(50)]);
    let road = five_farms(&[("R-1", "Township", 4.0)]);
    let with = |have| (ha(have), ha(104), 624_000);
    let without = |have| (ha(have), ha(100), ha(60));
    check(&road, &["C", "D", "E"], Verdict::NotValid, &[(3, 6, 4), with(39), without(39)]);
    check(&road, &["A", "B"], Verdict::DependsOnRoads, &[(2, 6, 4), with(61), without(61)]);
    // Both of its roads are one head.
    let two_roads = five_farms(&[("R-1", "Township", 2.0), ("R-2", "Township", 2.0)]);
    check(&two_roads, &["C", "D", "E"], Verdict::NotValid, &[(3, 6, 4), with(39), without(39)]);
}

#[test]
fn how_firm_the_five_farms_are() {
    let rules = ontario();
    let five = five_farms(&[]);
    let size = |set: &Option<Smallest>| set.as_ref().map(|set| set.owners.len());
    let check = |signers: &[&str], to_pass: Option<usize>, to_break: Option<usize>, tips: &str| {
        let signatures = signed(&five, signers);
        let firm = firmness(&rules.petition, &five, &signatures);
        assert_eq!((size(&firm.to_pass), size(&firm.to_break)), (to_pass, to_break), "{signers:?}");
        let tipping = tipping(&rules.petition, &five, &signatures);
        let tipping: Vec<String> = tipping.iter().map(|&owner| five.owners[owner].clone()).collect();
        assert_eq!(tipping.concat(), tips, "{signers:?}");
    };
    // A and B have 61 of 100 ha: either withdrawal breaks it.
    check(&["A", "B"], Some(0), Some(1), "AB");
    // With C too there is a majority as well, of which A and B are part: without C their 61 ha are enough.
    check(&["A", "B", "C"], Some(0), Some(1), "AB");
    // A third owner makes a majority; B makes 76 ha.
    check(&["A", "C"], Some(1), None, "BDE");
    check(&[], Some(2), None, "");
}

#[test]
fn co_owners_count_once_and_only_when_all_sign() {
    let rules = ontario();
    let farms: [(&str, &[&str], f64); 3] = [("1", &["A", "B"], 70.0), ("2", &["C"], 20.0), ("3", &["D"], 10.0)];
    let roll = roll(&farms, &[]);
    let check = |names: &[&str], have: (u64, u64)| {
        let tallies = tallies(&rules.petition, &roll, &signed(&roll, names));
        assert_eq!((tallies[0].have, tallies[1].have), have, "{names:?}");
    };
    check(&["A"], (0, 0));
    check(&["A", "B"], (1, 700_000));
    check(&["A", "C"], (1, 200_000));
}

#[test]
fn heads_by_each_rule() {
    // A owns two parcels alone and one with B; C's township has a parcel and two roads; nobody owns one.
    let parcels: [(&str, &[&str], f64); 5] =
        [("1", &["A"], 1.0), ("2", &["A"], 1.0), ("3", &["A", "B"], 1.0), ("4", &["C"], 1.0), ("5", &[], 1.0)];
    let roll = roll(&parcels, &[("R-1", "C", 1.0), ("R-2", "C", 1.0), ("R-3", "D", 1.0)]);
    let check = |of: Denominator, names: &[&str], have: u64, whole: u64| {
        let condition = PetitionCondition { of, requirement: Requirement::Count(1) };
        let count = Count::of(condition, &roll, Reading::WithRoads);
        assert_eq!((count.have(&signed(&roll, names).signed), count.whole), (have, whole), "{of:?} {names:?}");
    };
    let (owners, all) = (Denominator::Owners, Denominator::OwnersAndRoadAuthorities);
    check(owners(HeadRule::RecordOwner), &["A"], 1, 4);
    check(owners(HeadRule::OwnershipUnit), &["A"], 1, 4);
    check(owners(HeadRule::OwnershipUnit), &["A", "B"], 2, 4);
    check(owners(HeadRule::Parcel), &["A"], 2, 5);
    check(all(HeadRule::RecordOwner), &["C"], 1, 5);
    check(all(HeadRule::OwnershipUnit), &["C", "D"], 2, 5);
    check(all(HeadRule::Parcel), &["C"], 2, 7);
    check(Denominator::LandAndRoads, &["C"], 30_000, 80_000);
    check(Denominator::Land, &["C"], 10_000, 50_000);
}

/// The two counts of one roll that a court had before it (39 of 81 ownership units, 48.1 %; 55 % of persons): here 39 of 81
/// units sign, of which 18 are couples.
#[test]
fn the_head_rule_decides() {
    let mut parcels = Vec::new();
    for unit in 0..81 {
        let count = if unit < 18 { 2 } else { 1 };
        let owners: Vec<String> = (0..count).map(|person| format!("{unit}-{person}")).collect();
        parcels.push((unit.to_string(), owners));
    }
    let mut roll = Roll::default();
    for (id, owners) in &parcels {
        let owners = owners.iter().map(|owner| roll.owner(owner)).collect();
        let (kind, id) = (LandKind::Parcel, id.clone());
        roll.lands.push(RollLand { kind, id, owners, square_metres: 10_000, is_partly_outside: false });
    }
    let signed = roll.lands[..39].iter().flat_map(|land| land.owners.clone()).collect();
    let check = |rule, have, whole, met| {
        let requirement = Requirement::MoreThan(Fraction::parse("1/2").unwrap());
        let count =
            Count::of(PetitionCondition { of: Denominator::Owners(rule), requirement }, &roll, Reading::WithRoads);
        assert_eq!((count.have(&signed), count.whole, count.is_met(&signed)), (have, whole, met));
    };
    check(HeadRule::OwnershipUnit, 39, 81, false);
    check(HeadRule::RecordOwner, 57, 99, true);
}

#[test]
fn withdrawals_count_where_the_law_lets_them() {
    let mut rules = ontario();
    let five = five_farms(&[]);
    let mut signatures = signed(&five, &["A", "B"]);
    signatures.withdrawn = signed(&five, &["B"]).signed;
    assert_eq!(verdict(&rules.petition, &five, &signatures), Verdict::NotValid);
    rules.petition[1].withdrawals = Withdrawals::Ignored;
    assert_eq!(verdict(&rules.petition, &five, &signatures), Verdict::Valid);
    assert_eq!(firmness(&rules.petition, &five, &signatures).to_break, None);
}

#[test]
fn a_doubt_that_decides_leaves_it_open() {
    let rules = ontario();
    let check = |parcels: &[(&str, &[&str], f64)], names: &[&str], expected: &[Doubt]| {
        let roll = roll(parcels, &[]);
        let pairs = alike_owners(&roll);
        assert_eq!(settled(&rules.petition, &roll, &signed(&roll, names), &pairs).doubts, expected);
    };
    // Of three owners one signs for 20 of 60 ha; without the parcel of nobody it is 1 of 2 and 20 of 40 ha.
    check(&[("1", &["A"], 20.0), ("2", &["B"], 20.0), ("3", &[], 20.0)], &["A"], &[]);
    check(&[("1", &["A"], 25.0), ("2", &["B"], 15.0), ("3", &[], 20.0)], &["A"], &[Doubt::ParcelsWithoutOwner]);
    // 2 of 3 names, or 1 of 2 owners with 40 of 90 ha.
    let spelt: [(&str, &[&str], f64); 3] =
        [("1", &["Orla Teasel"], 20.0), ("2", &["Teasel, Orla"], 20.0), ("3", &["B"], 50.0)];
    check(&spelt, &["Orla Teasel", "Teasel, Orla"], &[Doubt::NamesAlike]);
    check(&spelt, &["B"], &[]);
}

/// 300 owners of nearly equal land, a third of it owned by two: the count that made a search over all sets endless.
#[test]
fn many_owners_of_nearly_equal_land_are_counted_at_once() {
    let mut roll = Roll::default();
    for number in 0..600_usize {
        let mut owners = vec![roll.owner(&format!("owner {}", number % 300))];
        if number % 3 == 0 {
            owners.push(roll.owner(&format!("owner {}", (number * 7 + 1) % 300)));
        }
        owners.sort_unstable();
        owners.dedup();
        let square_metres = 60_000 + (number as u64 * 37) % 1_000;
        let (kind, id) = (LandKind::Parcel, number.to_string());
        roll.lands.push(RollLand { kind, id, owners, square_metres, is_partly_outside: false });
    }
    let rules = ontario();
    let firm = firmness(&rules.petition, &roll, &Signatures::default());
    let set = firm.to_pass.unwrap();
    let with = Signatures { signed: set.owners, ..Signatures::default() };
    assert_eq!(verdict(&rules.petition, &roll, &with), Verdict::Valid);
}

/// What may be drawn: up to 9 owners with up to 9 lands, some owned together, some by nobody, one a road.
fn any_roll() -> impl Strategy<Value = Roll> {
    let land = (prop::collection::btree_set(0_usize..9, 0..4), 1_u64..40, prop::bool::weighted(0.15));
    prop::collection::vec(land, 1..10).prop_map(|lands| {
        let mut roll = Roll::default();
        for number in 0..9 {
            roll.owner(&format!("owner {number}"));
        }
        for (number, (owners, size, is_road)) in lands.into_iter().enumerate() {
            let owners: Vec<OwnerIx> = owners.into_iter().map(OwnerIx).collect();
            let (kind, owners) = if is_road {
                (LandKind::Road, vec![owners.first().copied().unwrap_or(OwnerIx(0))])
            } else {
                (LandKind::Parcel, owners)
            };
            let square_metres = size * 2_500;
            roll.lands.push(RollLand { kind, id: number.to_string(), owners, square_metres, is_partly_outside: false });
        }
        roll
    })
}

fn any_test() -> impl Strategy<Value = PetitionTest> {
    let rule = prop::sample::select(vec![HeadRule::RecordOwner, HeadRule::OwnershipUnit, HeadRule::Parcel]);
    let of = prop_oneof![
        rule.clone().prop_map(Denominator::Owners),
        rule.prop_map(Denominator::OwnersAndRoadAuthorities),
        Just(Denominator::Land),
        Just(Denominator::LandAndRoads),
        Just(Denominator::LandAndPerhapsRoads),
    ];
    let fraction = prop::sample::select(vec!["1/2", "3/5", "1/4", "2/3", "7/10", "1/5"]);
    let condition = (of, fraction, any::<bool>()).prop_map(|(of, fraction, more)| {
        let fraction = Fraction::parse(fraction).unwrap();
        let requirement = if more { Requirement::MoreThan(fraction) } else { Requirement::AtLeast(fraction) };
        PetitionCondition { of, requirement }
    });
    (prop::collection::vec(condition, 1..4), prop::bool::weighted(0.2)).prop_map(|(all_of, ignored)| PetitionTest {
        id: "test".to_owned(),
        label: "a test".to_owned(),
        source: "our choice, no source".to_owned(),
        confirmed: false,
        withdrawals: if ignored { Withdrawals::Ignored } else { Withdrawals::Counted },
        withdrawals_until: "never".to_owned(),
        all_of,
    })
}

/// The size of the smallest set of owners after whose change a test of the signatures holds, by trying every set.
fn smallest_by_trial(changed: impl Fn(&BTreeSet<OwnerIx>) -> bool) -> Option<usize> {
    let sets = (0_u32..512).map(|bits| (0..9).filter(|bit| bits >> bit & 1 == 1).map(OwnerIx).collect());
    sets.filter(|set: &BTreeSet<OwnerIx>| changed(set)).map(|set| set.len()).min()
}

proptest! {
    #[test]
    fn the_smallest_sets_are_those_found_by_trying_all(
        roll in any_roll(),
        tests in prop::collection::vec(any_test(), 1..3),
        signed in prop::collection::btree_set((0_usize..9).prop_map(OwnerIx), 0..9),
        withdrawn in prop::collection::btree_set((0_usize..9).prop_map(OwnerIx), 0..3),
    ) {
        let withdrawn = withdrawn.intersection(&signed).copied().collect();
        let signatures = Signatures { signed, withdrawn, officer: false };
        let more = |set: &BTreeSet<OwnerIx>| {
            let mut more = signatures.clone();
            more.signed.extend(set);
            more.withdrawn.retain(|owner| !set.contains(owner));
            readings(&tests, &roll, &more)
        };
        let fewer = |set: &BTreeSet<OwnerIx>| {
            let mut fewer = signatures.clone();
            fewer.withdrawn.extend(set.intersection(&fewer.signed));
            readings(&tests, &roll, &fewer)
        };
        let firm = firmness(&tests, &roll, &signatures);
        let is_valid = |readings: Readings| readings.with_roads && readings.without_roads;
        let to_pass = smallest_by_trial(|set| is_valid(more(set)));
        prop_assert_eq!(firm.to_pass.as_ref().map(|set| set.owners.len()), to_pass);
        if let Some(set) = &firm.to_pass {
            prop_assert!(set.is_proven && is_valid(more(&set.owners)));
        }
        let now = is_valid(readings(&tests, &roll, &signatures));
        let to_break = if now { smallest_by_trial(|set| !is_valid(fewer(set))) } else { None };
        prop_assert_eq!(firm.to_break.as_ref().map(|set| set.owners.len()), to_break);
        if let Some(set) = &firm.to_break {
            prop_assert!(set.is_proven && !is_valid(fewer(&set.owners)));
        }
    }
}
