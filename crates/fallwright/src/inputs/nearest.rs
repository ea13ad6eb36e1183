//! The known word nearest to one that is not known.

/// The nearest known word, if any is near enough to be meant.
pub(crate) fn nearest<'a>(word: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    /// Words less alike than this are not suggested (our choice).
    const LEAST_ALIKE: f64 = 0.6;
    known
        .map(|candidate| (strsim::normalized_damerau_levenshtein(word, candidate), candidate))
        .filter(|&(alike, _)| alike >= LEAST_ALIKE)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_misspelt_word_finds_the_one_meant() {
        let known = ["municipal_drain", "natural_watercourse", "road_ditch"];
        let check = |word, expected| assert_eq!(nearest(word, known.into_iter()), expected);
        check("municipal_drian", Some("municipal_drain"));
        check("road ditch", Some("road_ditch"));
        check("swale", None);
    }
}
