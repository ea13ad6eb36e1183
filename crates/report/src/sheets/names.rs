//! File names made from ids of a case.

use std::fmt::Write;

use sha2::{Digest, Sha256};

const LONGEST: usize = 80;

/// An id as a part of a file name: letters, digits, `-` and `_`; an id that is changed by that, or is long, ends in digits
/// of its SHA-256, so that no two ids share a name.
pub(crate) fn file_part(id: &str) -> String {
    let is_plain = |character: char| character.is_ascii_alphanumeric() || character == '-' || character == '_';
    let plain: String = id.chars().map(|c| if is_plain(c) { c } else { '_' }).take(LONGEST).collect();
    if plain == id {
        return plain;
    }
    let mut name = plain + "-";
    for byte in &Sha256::digest(id)[..4] {
        write!(name, "{byte:02x}").expect("writing to a string cannot fail");
    }
    name
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_a_plain_part_of_a_file_name() {
        for id in ["../../etc/passwd", "/abs", "a\u{0}b", "..", "a/b\\c", &"x".repeat(400), "", "Grün 7", "a:b"] {
            let part = file_part(id);
            assert!(part.len() <= 90, "{part}");
            assert!(part.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_'), "{part}");
        }
        assert_eq!(file_part("0527-010-001-00200"), "0527-010-001-00200");
        assert_ne!(file_part("a/b"), file_part("a\\b"));
    }
}
