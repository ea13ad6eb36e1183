//! The known word nearest to one that is not known.

use crate::spelling::folded;

/// The word with the fewest letters to change, spelling apart; the first of equals, `None` where no word is known.
pub(crate) fn nearest<'a>(word: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let word = folded(word);
    known.min_by_key(|candidate| strsim::osa_distance(&word, &folded(candidate)))
}

/// The nearest word if it is near enough to be the one meant.
pub fn meant<'a>(word: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    /// Words less alike than this are not suggested (our choice).
    const LEAST_ALIKE: f64 = 0.6;
    let likeness = |near: &str| strsim::normalized_damerau_levenshtein(&folded(word), &folded(near));
    nearest(word, known).filter(|near| likeness(near) >= LEAST_ALIKE)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_misspelt_word_finds_the_one_meant() {
        let known = ["municipal_drain", "natural_watercourse", "road_ditch"];
        let check = |word, expected| assert_eq!(meant(word, known.into_iter()), expected);
        check("municipal_drian", Some("municipal_drain"));
        check("road ditch", Some("road_ditch"));
        check("MUNICIPAL DRIAN", Some("municipal_drain"));
        check("swale", None);
    }

    #[test]
    fn the_nearest_word_is_named_however_far() {
        let check = |word, expected| assert_eq!(nearest(word, ["elevation", "warp"].into_iter()), expected);
        check("elevaton", Some("elevation"));
        check("x", Some("warp"));
    }
}
