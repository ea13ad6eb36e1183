//! The known word nearest to one that is not known.

/// The word with the fewest letters to change; the first of equals, `None` where no word is known.
pub(crate) fn nearest<'a>(word: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    known.min_by_key(|candidate| strsim::osa_distance(word, candidate))
}

/// The nearest word if it is near enough to be the one meant.
pub fn meant<'a>(word: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    /// Words less alike than this are not suggested (our choice).
    const LEAST_ALIKE: f64 = 0.6;
    nearest(word, known).filter(|near| strsim::normalized_damerau_levenshtein(word, near) >= LEAST_ALIKE)
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
        check("swale", None);
    }

    #[test]
    fn the_nearest_word_is_named_however_far() {
        let check = |word, expected| assert_eq!(nearest(word, ["elevation", "warp"].into_iter()), expected);
        check("elevaton", Some("elevation"));
        check("x", Some("warp"));
    }
}
