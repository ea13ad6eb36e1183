//! The finding on one parcel on a terminal: what it is, what to do next, whose land the water crosses.

use fallwright_law::Finding;
use fallwright_network::Party;
use fallwright_study::{Leaving, Study};
use fallwright_units::{ParcelIx, ShareIx};

use super::columns::{hanging, wrapped};
use super::trace;
use crate::caution::CAUTION;
use crate::layers::constraints::parcel_constraints;
use crate::palette::PALETTE;
use crate::palette::standing_style;
use crate::words::{
    constraint_sentences, destination_words, hectares, next_step_words, party_words, piped_sentences, reason_of,
};

/// Lands and ends of less than this part of the parcel's water are counted together (our choice, no source).
const SMALL: f64 = 0.05;

/// The standing, where tile water goes, the next step, the reasons, a row for each land that the water crosses and where it ends, in
/// 80 columns; `with_paths` adds every path with all that is on it.
pub fn finding(study: &Study, parcel: ParcelIx, finding: &Finding, leaving: &Leaving, with_paths: bool) -> Vec<String> {
    let style = PALETTE.standing(standing_style(finding));
    let mut lines = wrapped(&format!("{}: {}", party_words(study, Party::Parcel(parcel)), style.label), "");
    lines.push(format!(
        "  right {}, to acquire {}, not decided {}; confidence {}",
        hectares(finding.right.hectares()),
        hectares(finding.acquire.hectares()),
        hectares(finding.undecided.hectares()),
        finding.confidence.code()
    ));
    for way in &leaving.piped {
        lines.extend(wrapped(&piped_sentences(study, way), "  "));
    }
    let step = next_step_words(study, parcel, finding);
    lines.extend(wrapped(&format!("next step: {step}"), "  "));
    for reason in &finding.reasons {
        lines.extend(wrapped(&format!("- {}", reason_of(*reason, finding)), "  "));
    }
    lines.extend(Tally::of(study, parcel, leaving).lines());
    if !study.inputs.constraints.is_empty() {
        lines.push("works would meet".to_owned());
        let sentences = constraint_sentences(study, &parcel_constraints(study, parcel));
        lines.extend(sentences.iter().flat_map(|sentence| wrapped(sentence, "  ")));
    }
    lines.extend(if with_paths { trace::leaving(study, leaving) } else { wrapped(CAUTION, "") });
    lines
}

/// Hectares by land crossed and by where the water ends, most first.
struct Tally {
    all: f64,
    lands: Vec<(String, f64)>,
    ends: Vec<(String, f64)>,
}

impl Tally {
    fn of(study: &Study, parcel: ParcelIx, leaving: &Leaving) -> Self {
        let mut tally = Self { all: 0.0, lands: Vec::new(), ends: Vec::new() };
        for path in &leaving.paths {
            let Some(share) = path.share else { continue };
            let area = share_hectares(study, parcel, share);
            tally.all += area;
            add(&mut tally.ends, destination_words(study, study.shares[parcel][share].destination), area);
            let mut crossed: Vec<Party> = Vec::new();
            for crossing in path.path.iter().flat_map(|path| &path.trace.crossings) {
                if crossing.to != Party::Parcel(parcel) && !crossed.contains(&crossing.to) {
                    crossed.push(crossing.to);
                }
            }
            for land in crossed {
                add(&mut tally.lands, party_words(study, land), area);
            }
        }
        for list in [&mut tally.lands, &mut tally.ends] {
            list.sort_by(|a, b| b.1.total_cmp(&a.1));
        }
        tally
    }

    fn lines(&self) -> Vec<String> {
        let mut lines = Vec::new();
        if !self.lands.is_empty() {
            lines.push("the water crosses".to_owned());
            lines.extend(self.rows(&self.lands, "other lands"));
        }
        if !self.ends.is_empty() {
            lines.push("and goes to".to_owned());
            lines.extend(self.rows(&self.ends, "other ends"));
        }
        lines
    }

    fn rows(&self, list: &[(String, f64)], others: &str) -> Vec<String> {
        let large = list.iter().filter(|(_, area)| *area >= SMALL * self.all).count().max(1);
        let mut lines: Vec<String> = list[..large].iter().flat_map(|(words, area)| row(*area, words)).collect();
        if let [(words, area)] = &list[large..] {
            lines.extend(row(*area, words));
        } else if large < list.len() {
            let least = hectares(SMALL * self.all);
            lines.push(format!("  {} {others}, each of less than {least}; -v lists them", list.len() - large));
        }
        lines
    }
}

fn add(list: &mut Vec<(String, f64)>, words: String, area: f64) {
    match list.iter_mut().find(|(known, _)| *known == words) {
        Some((_, sum)) => *sum += area,
        None => list.push((words, area)),
    }
}

fn share_hectares(study: &Study, parcel: ParcelIx, share: ShareIx) -> f64 {
    study.hectares(study.shares[parcel][share].cells)
}

/// Hectares, then words over as many lines as they need.
fn row(area: f64, words: &str) -> Vec<String> {
    hanging(&format!("  {:>11}  ", hectares(area)), words)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terminal::columns::COLUMNS;

    fn tally(lands: &[(&str, f64)]) -> Tally {
        let lands = lands.iter().map(|&(words, area)| (words.to_owned(), area)).collect();
        Tally { all: 20.0, lands, ends: Vec::new() }
    }

    #[test]
    fn lands_of_little_water_are_counted_together() {
        let found = tally(&[("parcel 12 (Ann)", 12.0), ("Mill Road", 1.0), ("parcel 13", 0.9), ("parcel 14", 0.5)]);
        let expected = [
            "the water crosses",
            "     12.00 ha  parcel 12 (Ann)",
            "      1.00 ha  Mill Road",
            "  2 other lands, each of less than 1.00 ha; -v lists them",
        ];
        assert_eq!(found.lines(), expected);
        let one = tally(&[("parcel 12 (Ann)", 12.0), ("parcel 13", 0.9)]);
        assert_eq!(one.lines()[2], "      0.90 ha  parcel 13");
    }

    #[test]
    fn long_names_stay_within_the_terminal() {
        let name = "parcel 0527-010-001-00200 (The Estate of a Person with a Very Long Name; and of Three Others)";
        let lines = row(12.0, name);
        assert!(lines.len() > 1 && lines.iter().all(|line| line.chars().count() <= COLUMNS), "{lines:?}");
        assert!(lines[1].starts_with("               "), "{lines:?}");
    }
}
