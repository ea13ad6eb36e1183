//! Inverts of structures: surveyed levels before the layer's own fields.

use fallwright_case::{Inputs, Level, LevelKind, LevelPlace, MappedStructure, Note, StructureEnd};
use fallwright_units::MappedStructureIx;

/// A layer's invert that departs from the surveyed one by more is reported (our choice).
const CONFLICT_M: f64 = 0.05;

/// Inverts at the two ends of a structure as drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Inverts {
    pub first_m: f64,
    pub last_m: f64,
    /// What they are, for messages.
    pub source: &'static str,
}

/// A structure's inverts: surveyed at both ends, or else from its layer. What the layer says against a survey is noted.
pub(crate) fn inverts(inputs: &Inputs, position: MappedStructureIx, notes: &mut Vec<Note>) -> Option<Inverts> {
    let mapped = &inputs.structures[position];
    let surveyed = |end| latest(&inputs.levels, LevelPlace::Structure(position, end));
    let (first, last) = (surveyed(StructureEnd::First), surveyed(StructureEnd::Last));
    let (given_first, given_last) = mapped.inverts_m.unzip();
    note_conflict(mapped, "beginning", first, given_first, notes);
    note_conflict(mapped, "end", last, given_last, notes);
    let from_survey = first.zip(last).map(|(first, last)| (first.level_m, last.level_m, "surveyed inverts"));
    let from_layer = mapped.inverts_m.map(|(first_m, last_m)| (first_m, last_m, "inverts"));
    from_survey.or(from_layer).map(|(first_m, last_m, source)| Inverts { first_m, last_m, source })
}

/// The latest invert surveyed at a place; of one date the last row.
fn latest(levels: &[Level], place: LevelPlace) -> Option<&Level> {
    let inverts = levels.iter().filter(|level| level.kind == LevelKind::Invert && level.place == place);
    inverts.max_by(|a, b| a.date.cmp(&b.date))
}

fn note_conflict(
    mapped: &MappedStructure,
    end: &str,
    surveyed: Option<&Level>,
    given_m: Option<f64>,
    notes: &mut Vec<Note>,
) {
    let Some((level, given_m)) = surveyed.zip(given_m) else { return };
    if (level.level_m - given_m).abs() > CONFLICT_M {
        notes.push(Note::new(
            format!("structure {}", level.feature),
            format!(
                "an invert of {given_m:.2} m at its {end} in {}, and of {:.2} m surveyed ({}, {} row {})",
                mapped.file, level.level_m, level.date, level.file, level.row
            ),
            "the survey is believed where it knows both ends; correct the one that is wrong",
        ));
    }
}
