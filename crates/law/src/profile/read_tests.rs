use super::*;
use crate::example::ontario;

const ONTARIO: &str = include_str!("../../profiles/ontario.toml");

fn problems(text: &str) -> Vec<String> {
    Profile::from_toml(text).unwrap_err().problems.iter().map(ToString::to_string).collect()
}

/// The Ontario profile with `from` replaced, and the one problem it must give.
fn check(from: &str, to: &str, expected: &str) {
    assert!(ONTARIO.contains(from), "{from}");
    assert_eq!(problems(&ONTARIO.replacen(from, to, 1)), [expected]);
}

#[test]
fn every_shipped_profile_can_be_read() {
    for name in Profile::SHIPPED {
        assert_eq!(Profile::shipped(name).unwrap().id, name);
    }
    assert_eq!(Profile::shipped("atlantis"), None);
}

#[test]
fn classes_come_in_order_of_strength() {
    let profile = ontario();
    let ids: Vec<_> = profile.class_ids().collect();
    let expected = [
        "natural_watercourse",
        "lake",
        "municipal_drain",
        "mutual_agreement_drain",
        "award_drain",
        "road_ditch",
        "private_ditch",
        "private_tile",
    ];
    assert_eq!(ids, expected);
}

#[test]
fn ditches_are_no_lawful_outlets() {
    let lawful = |class| ontario().is_lawful(class);
    assert!(lawful("natural_watercourse") && lawful("municipal_drain") && lawful("award_drain"));
    assert!(!lawful("road_ditch") && !lawful("private_ditch") && !lawful("canal"));
}

/// What the project knows from memory only must say so.
#[test]
fn what_is_not_confirmed_says_so() {
    let profile = ontario();
    let unconfirmed: Vec<_> =
        profile.classes().iter().filter(|class| !class.confirmed).map(|class| &class.id).collect();
    assert_eq!(unconfirmed, ["lake", "award_drain", "road_ditch"]);
    let connection = profile.ways().iter().find(|rule| rule.way == WayKind::Connection).unwrap();
    assert!(!connection.confirmed);
}

#[test]
fn a_notice_says_whether_it_is_confirmed() {
    let notified = |id: &str| crate::example::class(id).notified;
    let drain = notified("municipal_drain");
    assert!(drain.who.contains("drainage superintendent") && drain.confirmed);
    let ditch = notified("road_ditch");
    assert_eq!((ditch.who.as_str(), ditch.confirmed), ("the road authority", false));
}

#[test]
fn a_profile_may_leave_the_buffer_out_but_not_name_an_unknown_class() {
    assert_eq!(ontario().buffer.unwrap().width_m.value, 3.0);
    let start = ONTARIO.find("[buffer]").unwrap();
    let end = start + ONTARIO[start..].find("# Classes").unwrap();
    let without = format!("{}{}", &ONTARIO[..start], &ONTARIO[end..]);
    assert_eq!(Profile::from_toml(&without).unwrap().buffer, None);
    let known = ontario().class_ids().collect::<Vec<_>>().join(", ");
    check(
        "classes = [\"municipal_drain\", ",
        "classes = [\"canal\", ",
        &format!("[buffer]: class `canal` is not listed; known classes are {known}"),
    );
}

#[test]
fn numbers_keep_their_source() {
    let profile = ontario();
    assert_eq!(profile.unmapped_channel.contributing_ha.value, 25.0);
    assert!(profile.unmapped_channel.contributing_ha.source.starts_with("our choice"));
    assert_eq!(profile.minimums.excess_ha.value, 1.4);
    assert!(profile.minimums.excess_ha.source.contains("tribunal"));
}

#[test]
fn a_missing_key_is_named() {
    check(
        "name = \"Ontario, Drainage Act (R.S.O. 1990, c. D.17) and common law\"\n",
        "",
        "the profile: key `name` is missing; add it",
    );
    check("label = \"lake\"\n", "", "[[class]] `lake`: key `label` is missing; add it");
    check("kind = \"lake\"\n", "", "[[class]] `lake`: key `kind` is missing; add it");
    check(
        "depth_m = { value = 0.5, source = \"our_choice\" }\n",
        "",
        "[unmapped_channel]: key `depth_m` is missing; add it",
    );
    check("who = \"the road authority\", ", "", "[[class]] `road_ditch` notified: key `who` is missing; add it");
    check("value = 25.0, ", "", "[unmapped_channel] contributing_ha: key `value` is missing; add it");
}

#[test]
fn an_unknown_key_is_named_with_the_known_ones() {
    let known = "id, label, kind, provision, confers, source, confirmed, lawful_outlet, maintained_by, notified";
    check(
        "label = \"lake\"\n",
        "label = \"lake\"\ndepth = 3\n",
        &format!("[[class]] `lake`: unknown key `depth`; known keys here are {known}"),
    );
}

#[test]
fn a_value_of_the_wrong_kind_is_shown_with_what_was_expected() {
    check(
        "value = 25.0",
        "value = \"many\"",
        "[unmapped_channel] contributing_ha: `value` is \"many\", expected a number above 0",
    );
    check(
        "value = 25.0",
        "value = nan",
        "[unmapped_channel] contributing_ha: `value` is nan, expected a number above 0",
    );
    check(
        "confirmed = true",
        "confirmed = 1",
        "[[class]] `natural_watercourse`: `confirmed` is 1, expected true or false",
    );
    check("id = \"lake\"", "id = \"natural_watercourse\"", "[[class]]: `natural_watercourse` is given twice; keep one");
    check(
        "source = \"lake\"",
        "source = \"sea\"",
        "[[class]] `lake`: source `sea` is not listed; add a [[source]] with this id",
    );
    check(
        "kind = \"channel\"",
        "kind = \"river\"",
        "[[class]] `natural_watercourse`: `kind` is \"river\", expected one of channel, lake, legal_drain, ditch, pipe",
    );
    let provisions = "frontage, assessed_by_schedule, named_party, named_in_award, natural_flow, approval, \
                      permission_of_every_parcel, written_permission, none";
    check(
        "provision = \"frontage\"",
        "provision = \"luck\"",
        &format!("[[class]] `natural_watercourse`: `provision` is \"luck\", expected one of {provisions}"),
    );
}

#[test]
fn all_problems_are_listed_together() {
    let found = problems("id = \"x\"\ncolour = \"red\"\n[minimums]\nfilled_m = { value = 1 }\n");
    for expected in [
        "the profile: key `name` is missing; add it",
        "the profile: key `class` is missing; add it",
        "the profile: key `way` is missing; add it",
        "the profile: key `source` is missing; add it",
        "the profile: key `ask` is missing; add it",
        "the profile: key `unmapped_channel` is missing; add it",
        "[minimums]: key `excess_ha` is missing; add it",
        "[minimums] filled_m: key `source` is missing; add it",
    ] {
        assert!(found.iter().any(|problem| problem == expected), "{expected} not in {found:#?}");
    }
    assert!(found.iter().any(|problem| problem.starts_with("the profile: unknown key `colour`")));
}

#[test]
fn text_that_is_not_toml_is_refused() {
    assert!(problems("id = ")[0].starts_with("not readable as TOML"));
    assert!(problems("class = 3").iter().any(|problem| problem.contains("`class` is 3, expected")));
    assert!(problems("class = []").iter().any(|problem| problem.contains("`class` is a list, expected")));
}

#[test]
fn a_profile_cut_anywhere_is_refused() {
    let cuts = (0..ONTARIO.trim_end().len()).step_by(7).filter(|&cut| ONTARIO.is_char_boundary(cut));
    for cut in cuts {
        let read = Profile::from_toml(&ONTARIO[..cut]);
        assert!(read.is_err(), "cut at {cut}");
    }
}

#[test]
fn a_profile_says_whom_to_ask_about_a_constraint() {
    let profile = ontario();
    let kinds: Vec<_> = profile.constraints().iter().map(|rule| rule.kind.as_str()).collect();
    assert_eq!(kinds, ["wetland", "regulated_area", "fish_habitat", "utility"]);
    assert_eq!(profile.ask_about("utility"), "the utility and the locate service, before any digging");
    assert_eq!(profile.ask_about("burial_ground"), profile.ask.records);
}

#[test]
fn a_profile_may_leave_the_constraints_out() {
    let start = ONTARIO.find("[[constraint]]").unwrap();
    let end = start + ONTARIO[start..].find("[[source]]").unwrap();
    let without = format!("{}{}", &ONTARIO[..start], &ONTARIO[end..]);
    let profile = Profile::from_toml(&without).unwrap();
    assert!(profile.constraints().is_empty());
    assert_eq!(profile.ask_about("wetland"), profile.ask.records);
}

#[test]
fn what_is_wrong_with_a_constraint_is_named() {
    check("label = \"wetland\"\n", "", "[[constraint]] `wetland`: key `label` is missing; add it");
    check("kind = \"wetland\"\n", "", "[[constraint]] number 1: key `kind` is missing; add it");
    check("kind = \"utility\"", "kind = \"wetland\"", "[[constraint]]: `wetland` is given twice; keep one");
    check(
        "source = \"locate\"",
        "source = \"hearsay\"",
        "[[constraint]] `utility`: source `hearsay` is not listed; add a [[source]] with this id",
    );
    check(
        "label = \"wetland\"\n",
        "label = \"wetland\"\nwhen = \"always\"\n",
        "[[constraint]] `wetland`: unknown key `when`; known keys here are kind, label, ask, source, confirmed",
    );
}
