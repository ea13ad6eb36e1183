//! Words that users write in their own way: as written first, else without regard to letter case, spaces, underscores and
//! hyphens.

/// A word as it is compared: in lower case, without spaces, underscores and hyphens.
pub(crate) fn folded(word: &str) -> String {
    word.chars()
        .filter(|letter| !letter.is_whitespace() && !matches!(letter, '_' | '-'))
        .flat_map(char::to_lowercase)
        .collect()
}

/// The position of the known word that is meant: the one written in the same way, else the only one that is the same word
/// ([`folded`]). `None` where there is none, or several that differ in spelling alone.
pub(crate) fn find<'a>(word: &str, known: impl Iterator<Item = &'a str>) -> Option<usize> {
    let as_compared = folded(word);
    let mut same = Vec::new();
    for (position, candidate) in known.enumerate() {
        if candidate == word {
            return Some(position);
        }
        if folded(candidate) == as_compared {
            same.push(position);
        }
    }
    if let [only] = same[..] { Some(only) } else { None }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn case_spaces_underscores_and_hyphens_make_no_difference() {
        let known = ["municipal_drain", "road ditch", "dual-wall plastic", "us-ft", "été"];
        let check = |word, expected: Option<&str>| {
            assert_eq!(find(word, known.into_iter()).map(|position| known[position]), expected, "{word}");
        };
        check("municipal_drain", Some("municipal_drain"));
        check("Municipal drain", Some("municipal_drain"));
        check("MUNICIPAL-DRAIN", Some("municipal_drain"));
        check(" municipal  drain ", Some("municipal_drain"));
        check("MunicipalDrain", Some("municipal_drain"));
        check("ROAD_DITCH", Some("road ditch"));
        check("Dual wall plastic", Some("dual-wall plastic"));
        check("US ft", Some("us-ft"));
        check("ÉTÉ", Some("été"));
        check("municipal drains", None);
        check("municipal/drain", None);
        check("", None);
        check("-", None);
    }

    #[test]
    fn a_word_as_it_is_written_comes_first_and_a_word_with_two_meanings_has_none() {
        let known = ["Road Ditch", "road_ditch"];
        let check = |word, expected| assert_eq!(find(word, known.into_iter()), expected, "{word}");
        check("Road Ditch", Some(0));
        check("road_ditch", Some(1));
        check("road ditch", None);
    }
}
