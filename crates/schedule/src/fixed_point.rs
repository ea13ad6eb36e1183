//! Decimal numbers of so many places as whole numbers.

/// Reads digits with a sign before and a decimal point in them; more places than asked for only where they are 0. `None` for anything
/// else, and beyond 64 bits.
pub(crate) fn fixed_point(text: &str, places: usize) -> Option<i64> {
    let (sign, digits) = text.strip_prefix('-').map_or((1, text), |digits| (-1, digits));
    let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
    let is_number = |digits: &str| digits.bytes().all(|byte| byte.is_ascii_digit());
    if whole.is_empty() || !is_number(whole) || !is_number(part) || digits.ends_with('.') {
        return None;
    }
    let (kept, rest) = part.split_at(part.len().min(places));
    if rest.bytes().any(|byte| byte != b'0') {
        return None;
    }
    let value: i64 = format!("{whole}{kept:0<places$}").parse().ok()?;
    Some(sign * value)
}
