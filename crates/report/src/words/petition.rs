//! Sentences about a petition.

use std::collections::BTreeSet;

use fallwright_law::petition::{Doubt, OwnerIx, PetitionLaw, PetitionRules, RaisedBy, Smallest, Verdict};
use fallwright_study::{Petition, SignatureNote, SignatureRemark, Study};
use fallwright_units::SQUARE_METRES_PER_HECTARE;

use super::constraints::area_constraint_sentences;
use crate::records::petition::{
    BasinRecord, LandHectares, PetitionRecord, SuggestedLandProperties, SuggestedRecord, TILE_FLOW,
};
use crate::words::{counted, hectares, list};

/// The sentences of a petition that stand above and below its tables.
pub(crate) struct PetitionWords {
    pub(crate) verdict: String,
    /// How the area was put together; none where it was given.
    pub(crate) suggested: Vec<String>,
    pub(crate) firmness: Vec<String>,
    pub(crate) basin: Vec<String>,
    pub(crate) constraints: Vec<String>,
    pub(crate) cautions: Vec<String>,
}

impl PetitionWords {
    pub(crate) fn of(study: &Study, petition: &Petition, record: &PetitionRecord) -> Self {
        let cautions = match &study.inputs.profile.petition {
            PetitionLaw::Known(rules) => petition_cautions(rules),
            PetitionLaw::None { .. } | PetitionLaw::Unstated => Vec::new(),
        };
        Self {
            verdict: verdict_sentence(study, petition),
            suggested: record.suggested.as_ref().map(suggested_sentences).unwrap_or_default(),
            firmness: firmness_sentences(petition),
            basin: record.basin.as_ref().map(basin_sentences).unwrap_or_default(),
            constraints: area_constraint_sentences(study, &record.constraints),
            cautions,
        }
    }
}

/// Where the water of the area goes.
fn basin_sentences(basin: &BasinRecord) -> Vec<String> {
    let named = if basin.named { "" } else { ", to which most of it drains today" };
    let sum = |lands: &[LandHectares]| lands.iter().fold(0.0, |sum, land| sum + land.hectares);
    let mut sentences = vec![
        format!(
            "{} of {} with elevation drain to {}{named}.",
            hectares(basin.drains_to_outlet_ha),
            hectares(basin.area_ha),
            basin.outlet
        ),
        format!("{} outside drain through the area.", hectares(sum(&basin.from_outside))),
    ];
    if basin.adds_ha > 0.0 {
        sentences.push(format!(
            "{} inside drain elsewhere, which a drain to {} would bring there; it is taken to enter at the lower end, and links above that \
             are looked at only for the land that drains there today.",
            hectares(basin.adds_ha),
            basin.outlet
        ));
    }
    let flows = basin.flow_m3_s.zip(basin.flow_with_area_m3_s);
    match (&basin.lowest_link, flows) {
        (Some(link), _) if basin.lowest_link_checked_for == Some(TILE_FLOW) => sentences.push(format!(
            "{link} is a pipe, checked for tile flow alone: surface water of the area is not in its check."
        )),
        (Some(link), Some((today, with_area))) if with_area > today => sentences
            .push(format!("That would raise the flow that {link} is checked for from {today} to {with_area} m³/s.")),
        _ => {}
    }
    match &basin.first_too_small {
        Some(link) if basin.maintenance_may_do => sentences.push(format!(
            "The first link on the way of the area's water from there down that is too small is {link}; its design was large enough, so maintenance may do."
        )),
        Some(link) => sentences.push(format!("The first link on the way of the area's water from there down that is too small is {link}.")),
        None if basin.links_checked => {
            sentences.push("No link on the way of the area's water from there down is found too small by the sizes given.".to_owned());
        }
        None => sentences.push("Whether the links from there down are large enough is not checked: no sizes given.".to_owned()),
    }
    if let Some(link) = &basin.first_too_small_with_area {
        sentences.push(format!("{link} is large enough as it is, and too small for all of the area."));
    }
    if let Some(link) = &basin.first_not_checked {
        sentences.push(format!("{link} could not be checked: something is still to be measured there."));
    }
    sentences
}

/// An area by its lands: how much of each, its legal description where given, its id.
pub(crate) fn area_description(lands: &[SuggestedLandProperties]) -> String {
    let words = |land: &SuggestedLandProperties| {
        let part = if land.part == "all" { "all of" } else { "part of" };
        let id = &land.id;
        let name = match &land.legal {
            Some(legal) => format!("{legal} ({id})"),
            None => format!("{} {id}", land.kind),
        };
        format!("{part} {name}, {}", hectares(land.inside_ha))
    };
    lands.iter().map(words).collect::<Vec<_>>().join("; ")
}

/// How the area was put together, and what was left out.
fn suggested_sentences(suggested: &SuggestedRecord) -> Vec<String> {
    let mut sentences = vec![format!(
        "A proposal from the terrain, to be settled on the ground: land without a right of drainage or under standing water, of the \
         parcels asked about and of those that their path crosses, with the roads beside it. Separate pieces and roads smaller than \
         the profile's least part are left out. Where a part of a lot lies inside, its edge follows the cells of the elevation. It holds {}.",
        suggested.description
    )];
    if !suggested.left_out.is_empty() {
        let words =
            |land: &LandHectares| format!("{} ({})", land.id.as_deref().unwrap_or_default(), hectares(land.hectares));
        sentences.push(format!(
            "Left out, as hardly inside: {}.",
            list(&suggested.left_out.iter().map(words).collect::<Vec<_>>())
        ));
    }
    let lands = |lands: &[LandHectares]| {
        let words: Vec<String> = lands
            .iter()
            .map(|land| format!("{} ({})", land.id.as_deref().unwrap_or_default(), hectares(land.hectares)))
            .collect();
        first_of(&words.iter().map(String::as_str).collect::<Vec<_>>())
    };
    for land in suggested.lands.iter().filter(|land| land.of_another_standing_ha > 0.0) {
        sentences.push(format!(
            "Of {}, {} by the same leaving points have a right already or are undecided; which part of it is not known.",
            land.id,
            hectares(land.of_another_standing_ha)
        ));
    }
    if !suggested.same_way.is_empty() {
        sentences.push(format!(
            "Some land of these has no right either and comes to the outlet at the same place, though no path asked about crosses it: {}.",
            lands(&suggested.same_way)
        ));
    }
    if !suggested.undecided.is_empty() {
        sentences.push(format!(
            "Undecided, and not proposed unless under water or draining with land without a right: {}.",
            lands(&suggested.undecided)
        ));
    }
    if !suggested.not_inside.is_empty() {
        sentences.push(format!(
            "Asked about, but without land in the area: {}. It is not found to need drainage, could not be judged, or another land claims \
             the same ground.",
            list(&suggested.not_inside)
        ));
    }
    sentences
}

/// Owners named in one sentence (our choice).
const MOST_NAMES: usize = 8;

/// What was seen about the roll, the area and the signatures, each in a sentence.
pub(crate) fn petition_notes(study: &Study, petition: &Petition) -> Vec<String> {
    let mut notes: Vec<String> = petition.signature_notes.iter().map(signature_sentence).collect();
    let ownerless: Vec<String> = petition
        .roll
        .lands
        .iter()
        .filter(|land| land.owners.is_empty())
        .map(|land| format!("{} ({:.4} ha)", land.id, land.hectares()))
        .collect();
    if !ownerless.is_empty() {
        notes.push(format!(
            "the roll names no owner of {}: each counts as a head for whom nobody can sign; look the owner up",
            list(&ownerless)
        ));
    }
    notes.extend(petition.alike.iter().map(|&(one, other)| {
        let owners = &petition.roll.owners;
        format!(
            "{:?} and {:?} may be one owner in two spellings: they are counted as two; confirm with the roll",
            owners[one], owners[other]
        )
    }));
    if !petition.only_touching.is_empty() {
        notes.push(format!(
            "{} only touch the area, by strips narrower than 0.05 m, and are not counted",
            list(&petition.only_touching)
        ));
    }
    if study.inputs.case.parcels.as_ref().is_none_or(|table| table.dated.is_none()) {
        notes.push(
            "the case gives no date of the roll (`dated` in [parcels]); confirm that it is the last revised one"
                .to_owned(),
        );
    }
    notes
}

fn signature_sentence(SignatureNote { given, who, kind }: &SignatureNote) -> String {
    let words = match kind {
        SignatureRemark::OwnsNothingInside => "owns nothing inside the area; the signature does not count",
        SignatureRemark::Twice => "is given twice; it is counted once",
        SignatureRemark::NoOwner => "has no owner in the roll; nobody can sign for it",
        SignatureRemark::HadNotSigned => "has not signed; there is nothing to withdraw",
        SignatureRemark::NoOfficer => "is an officer, who does not count in a remonstrance",
    };
    format!("{given}: {who} {words}")
}

/// The verdict in a sentence.
fn verdict_sentence(study: &Study, petition: &Petition) -> String {
    let what = match petition.raised_by {
        RaisedBy::Petition => "The petition",
        RaisedBy::Remonstrance => "The remonstrance",
    };
    let Some(count) = &petition.count else {
        return match &study.inputs.profile.petition {
            PetitionLaw::None { text, .. } => text.clone(),
            PetitionLaw::Known(_) => format!("{what} cannot be counted: the rule profile knows no test for it."),
            PetitionLaw::Unstated => format!("{what} cannot be counted: the rule profile says nothing of petitions."),
        };
    };
    match count.settled.verdict() {
        Verdict::Valid => format!("{what} has enough signatures by the figures below."),
        Verdict::NotValid => format!("{what} does not have enough signatures by the figures below."),
        Verdict::DependsOnRoads if count.readings.with_roads != count.readings.without_roads => {
            format!("{what} has enough signatures or not, depending on whether the hectares of roads count.")
        }
        Verdict::DependsOnRoads => format!(
            "{what} rests on an officer's own signature: whether that officer's road or land needs drainage is not known here."
        ),
        Verdict::Undecided => {
            let doubts: Vec<String> = count.settled.doubts.iter().map(|&doubt| doubt_words(doubt).to_owned()).collect();
            format!("{what} is undecided: {} would change the verdict.", list(&doubts))
        }
    }
}

const fn doubt_words(doubt: Doubt) -> &'static str {
    match doubt {
        Doubt::ParcelsWithoutOwner => "parcels without an owner in the roll",
        Doubt::NamesAlike => "names that may be one owner in two spellings",
    }
}

/// How firm the verdict is, in sentences.
fn firmness_sentences(petition: &Petition) -> Vec<String> {
    let Some(count) = &petition.count else { return Vec::new() };
    let names = |owners: &BTreeSet<OwnerIx>| {
        first_of(&owners.iter().map(|&owner| petition.roll.owners[owner].as_str()).collect::<Vec<_>>())
    };
    let mut sentences = Vec::new();
    let fewest =
        |set: &Smallest| if set.is_proven { "The fewest" } else { "A small, perhaps not the smallest, number of" };
    match &count.firmness.to_pass {
        Some(set) if set.owners.is_empty() => {}
        Some(set) => sentences.push(format!(
            "{} further signatures that are enough either way: {}, for instance {}.",
            fewest(set),
            counted(set.owners.len(), "owner", "owners"),
            names(&set.owners)
        )),
        None => sentences.push("No further signatures of owners make it enough either way.".to_owned()),
    }
    if let Some(set) = &count.firmness.to_break {
        sentences.push(format!(
            "{} withdrawals that undo it: {}, for instance {}.",
            fewest(set),
            counted(set.owners.len(), "owner", "owners"),
            names(&set.owners)
        ));
    }
    if !count.tipping.is_empty() {
        sentences.push(format!("Signature or withdrawal of one alone changes it: {}.", names(&count.tipping)));
    }
    if let Some(without) = &count.without_slivers {
        let ids: Vec<&str> = without.lands.iter().map(|&land| petition.roll.lands[land].id.as_str()).collect();
        sentences.push(format!(
            "Without parcels that are hardly inside ({}): {}.",
            first_of(&ids),
            verdict_words(without.verdict)
        ));
    }
    if let Some(own) = &count.own_land {
        let ids: Vec<&str> = own.lands.iter().map(|&land| petition.roll.lands[land].id.as_str()).collect();
        sentences.push(format!(
            "The petitioners' own land in need of drainage as an area of its own ({} of {}): {}, since all its owners have signed; whether \
             it may be an area by itself, and with which roads, is for the engineer.",
            hectares(own.square_metres as f64 / SQUARE_METRES_PER_HECTARE),
            first_of(&ids),
            verdict_words(own.verdict)
        ));
    }
    let given = count.settled.as_given;
    let decides = count.fringe.iter().filter(|(_, verdict)| *verdict != given);
    let fringe: Vec<&str> = decides.map(|&(land, _)| petition.roll.lands[land].id.as_str()).collect();
    if !fringe.is_empty() {
        sentences.push(format!("Parcels at the edge that decide it if they are left out: {}.", first_of(&fringe)));
    }
    sentences
}

/// The first few of many, and how many more there are.
fn first_of(names: &[&str]) -> String {
    let more = names.len().saturating_sub(MOST_NAMES);
    let mut listed: Vec<String> = names.iter().take(MOST_NAMES).map(|&name| name.to_owned()).collect();
    if more > 0 {
        listed.push(format!("{more} more, which petition.json lists"));
    }
    list(&listed)
}

const fn verdict_words(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Valid => "enough signatures",
        Verdict::NotValid => "not enough signatures",
        Verdict::DependsOnRoads => "depends on roads or an officer",
        Verdict::Undecided => "undecided",
    }
}

/// Who decides, and what signing costs.
fn petition_cautions(rules: &PetitionRules) -> Vec<String> {
    let mut sentences = vec![
        "A draft for screening, not the prescribed form. Deadlines need confirming.".to_owned(),
        rules.decides.clone(),
        rules.liability.clone(),
    ];
    sentences.extend(rules.costs.iter().map(|cost| {
        let confirm = if cost.confirmed { "" } else { " (confirm)" };
        format!("Cost at risk if it ends {}: {}{confirm}.", cost.ends, cost.rule)
    }));
    sentences
}
