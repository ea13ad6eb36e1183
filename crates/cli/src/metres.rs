//! Lengths as arguments.

/// A length of 0 metres or more.
pub(crate) fn metres(text: &str) -> Result<f64, String> {
    let metres = text.parse().ok().filter(|metres: &f64| metres.is_finite() && *metres >= 0.0);
    metres.ok_or_else(|| "expected metres, 0 or more".to_owned())
}
