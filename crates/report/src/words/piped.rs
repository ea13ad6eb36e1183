//! Where the water of a pipe goes and whether it may, in words.

use fallwright_law::{PipedFinding, ShareStanding};
use fallwright_network::Trace;
use fallwright_study::{PipedWay, Study};
use fallwright_units::Hectares;

use super::destinations::{destination_of, onward_words};
use super::lands::party_words;
use super::names::{hectares, list};
use super::reasons::reason_words;

/// `4.00 ha have no right shown, so that an outlet has to be acquired: the drain's schedule does not list the parcel`
pub fn piped_words(found: &PipedFinding) -> String {
    let area = hectares(found.hectares);
    let standing = match (found.standing, &found.basis, &found.basis_feature) {
        (ShareStanding::Right, Some(class), Some(feature)) => {
            format!("{area} have a right indicated by {} {feature}", class.replace('_', " "))
        }
        (ShareStanding::Right, ..) => format!("{area} have a right indicated"),
        (ShareStanding::Acquire, ..) => format!("{area} have no right shown, so that an outlet has to be acquired"),
        (ShareStanding::Undecided, ..) => format!("the data cannot decide on {area}"),
    };
    let leaving = (found.leaving_watershed > Hectares::ZERO)
        .then(|| format!(" ({} of them would drain elsewhere over the ground)", hectares(found.leaving_watershed)));
    let reasons: Vec<&str> = found.reasons.iter().copied().map(reason_words).collect();
    let why = if reasons.is_empty() { String::new() } else { format!(": {}", reasons.join("; ")) };
    format!("{standing}{}{why}", leaving.unwrap_or_default())
}

/// `Tile water by pipe T-1 crosses parcel 101 for 80 m, and reaches municipal drain D-07. 4.00 ha have a right indicated.`
pub fn piped_sentences(study: &Study, PipedWay { pipe, path, findings }: &PipedWay) -> String {
    let id = &study.setting.structures[*pipe].id;
    let found: Vec<String> = findings.iter().map(|found| format!("{}.", capitalised(&piped_words(found)))).collect();
    format!("Tile water by pipe {id} {}. {}", way_words(study, &path.trace), found.join(" "))
}

fn capitalised(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn way_words(study: &Study, trace: &Trace) -> String {
    let crossed: Vec<String> = trace
        .crossings
        .iter()
        .map(|crossing| format!("{} for {:.0} m", party_words(study, crossing.to), crossing.metres_on_land))
        .collect();
    let crossed = if crossed.is_empty() { "nobody else's land".to_owned() } else { list(&crossed) };
    format!("crosses {crossed}, and {}", onward_words(study, destination_of(trace)))
}

#[cfg(test)]
mod tests {
    use fallwright_law::{Confidence, PathEnd, Reason};
    use fallwright_units::Metres;

    use super::*;

    fn check(standing: ShareStanding, basis: Option<(&str, &str)>, reasons: &[Reason], expected: &str) {
        let found = PipedFinding {
            pipe: "T-1".to_owned(),
            hectares: Hectares::from_hectares(4.0).unwrap(),
            leaving_watershed: Hectares::ZERO,
            standing,
            basis: basis.map(|(class, _)| class.to_owned()),
            basis_feature: basis.map(|(_, feature)| feature.to_owned()),
            outlet: None,
            reasons: reasons.to_vec(),
            confidence: Confidence::High,
            lands: vec![],
            path: Metres::ZERO,
            end: PathEnd::Edge,
        };
        assert_eq!(piped_words(&found), expected);
    }

    #[test]
    fn whether_piped_water_may_go_there() {
        use ShareStanding::{Acquire, Right, Undecided};
        let drain = Some(("municipal_drain", "D-07"));
        check(Right, drain, &[], "4.00 ha have a right indicated by municipal drain D-07");
        check(
            Acquire,
            None,
            &[Reason::NotInSchedule, Reason::DrainNotTouching],
            "4.00 ha have no right shown, so that an outlet has to be acquired: the drain's schedule does not list the parcel; the water reaches a drain that does not touch the parcel",
        );
        let leaves =
            "the data cannot decide on 4.00 ha: the water leaves the elevation data before it meets a lawful outlet";
        check(Undecided, None, &[Reason::PathLeavesData], leaves);
    }
}
