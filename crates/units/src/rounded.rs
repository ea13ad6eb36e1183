//! How finely quantities are reported.

/// Hectares with six decimals at most: to the hundredth of a square metre.
pub fn rounded_hectares(value: f64) -> f64 {
    rounded(value, 1e6)
}

/// Metres or cubic metres with three decimals at most.
pub fn rounded_metres(value: f64) -> f64 {
    rounded(value, 1e3)
}

/// Cubic metres a second with six decimals at most: to the millilitre.
pub fn rounded_cubic_metres_per_second(value: f64) -> f64 {
    rounded(value, 1e6)
}

/// Per cent with four decimals at most: to the millimetre in a kilometre.
pub fn rounded_percent(value: f64) -> f64 {
    rounded(value, 1e4)
}

fn rounded(value: f64, places: f64) -> f64 {
    // No negative zero.
    (value * places).round() / places + 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_rounded_without_negative_zero() {
        let check = |found: f64, expected: &str| assert_eq!(found.to_string(), expected);
        check(rounded_hectares(0.1 + 0.2), "0.3");
        check(rounded_hectares(-1e-9), "0");
        check(rounded_hectares(12.345_678_949), "12.345679");
        check(rounded_metres(2.900_009), "2.9");
    }
}
