//! What to look at or measure in the field.

use fallwright_law::FieldCheck;

/// One sentence.
pub const fn field_check_sentence(check: FieldCheck) -> &'static str {
    match check {
        FieldCheck::Channel => {
            "Look at the channel in the field: bed, banks, and whether it runs between storms; map it with its class."
        }
        FieldCheck::LotLine => "Have the lot line and the top of bank surveyed where they are nearest.",
        FieldCheck::StripBetween => "Have the strip between the parcel and the bank surveyed, and look up who owns it.",
        FieldCheck::LevelsOfPath => "Survey the levels where the water leaves the parcel and at the outlet's bed.",
        FieldCheck::LevelsOfDivide => {
            "Survey levels along the divide and along the low ground beside it, and watch in a storm which way the water runs."
        }
        FieldCheck::LowGround => {
            "Look for a drain or culvert where the water would stand, and survey the levels of the low ground."
        }
        FieldCheck::Culvert => "Look for the culvert in the field, and measure its size and the inverts at both ends.",
        FieldCheck::PipeOutlet => "Find the pipe's outlet and the tile plan, and confirm which land the pipe drains.",
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn each_check_has_a_sentence_of_its_own() {
        let sentences: BTreeSet<&str> = FieldCheck::ALL.into_iter().map(field_check_sentence).collect();
        assert_eq!(sentences.len(), FieldCheck::ALL.len());
        assert!(sentences.iter().all(|sentence| sentence.ends_with('.')));
    }
}
