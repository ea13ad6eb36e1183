//! Sizes of memory as people write them.

/// Multiples of a byte: decimal ones by the SI Brochure, 9th edition, table 7; binary ones by IEC 80000-13:2008.
const UNITS: [(&str, u64); 9] = [
    ("B", 1),
    ("kB", 1_000),
    ("MB", 1_000_000),
    ("GB", 1_000_000_000),
    ("TB", 1_000_000_000_000),
    ("KiB", 1 << 10),
    ("MiB", 1 << 20),
    ("GiB", 1 << 30),
    ("TiB", 1 << 40),
];

/// Bytes of a size such as `2GiB`, `1.5 GB` or `800mb`.
///
/// # Errors
/// A number that is not above zero, a unit that is missing or unknown, or more bytes than can be counted.
pub(crate) fn parse(text: &str) -> Result<u64, String> {
    let text = text.trim();
    let split = text.find(|c: char| c.is_ascii_alphabetic()).unwrap_or(text.len());
    let (number, unit) = (text[..split].trim(), &text[split..]);
    let Some((_, factor)) = UNITS.iter().find(|(name, _)| name.eq_ignore_ascii_case(unit)) else {
        let names = UNITS.map(|(name, _)| name).join(", ");
        return Err(format!("a size needs a unit, one of {names}"));
    };
    let bytes = number.parse::<f64>().map_err(|_| format!("{number:?} is not a number"))? * *factor as f64;
    if !(1.0..u64::MAX as f64).contains(&bytes) {
        return Err("the size is out of range".to_owned());
    }
    Ok(bytes as u64)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, expected: Option<u64>) {
        assert_eq!(parse(text).ok(), expected, "{text}");
    }

    #[test]
    fn decimal_and_binary_multiples() {
        check("1B", Some(1));
        check("800MB", Some(800_000_000));
        check("2GiB", Some(2_147_483_648));
        check("1.5 kB", Some(1_500));
        check(" 3 mib ", Some(3_145_728));
        check("1TiB", Some(1_099_511_627_776));
    }

    #[test]
    fn what_is_no_size_is_refused() {
        for text in
            ["", "2", "GiB", "2G", "2 GiBs", "-1GiB", "0MB", "0.5B", "nanGB", "infB", "1e3MB", "99999999TiB", "1é"]
        {
            check(text, None);
        }
    }
}
