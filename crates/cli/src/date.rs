//! The day of a run.

use jiff::Timestamp;
use jiff::tz::TimeZone;

/// Today in UTC, as `2026-11-25`; the day of `SOURCE_DATE_EPOCH` where that is set, so that the same input can give the same
/// bytes (reproducible-builds.org, the `SOURCE_DATE_EPOCH` specification).
pub(crate) fn today() -> String {
    let set = std::env::var("SOURCE_DATE_EPOCH").ok().and_then(|seconds| instant(&seconds));
    day(set.unwrap_or_else(Timestamp::now))
}

/// Seconds since the beginning of 1970.
fn instant(seconds: &str) -> Option<Timestamp> {
    Timestamp::from_second(seconds.parse::<u64>().ok()?.try_into().ok()?).ok()
}

fn day(at: Timestamp) -> String {
    at.to_zoned(TimeZone::UTC).date().to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Checked with `date -u -d @SECONDS +%F` (GNU coreutils).
    #[test]
    fn days_have_their_dates() {
        let check = |seconds: &str, expected: Option<&str>| assert_eq!(instant(seconds).map(day).as_deref(), expected);
        check("0", Some("1970-01-01"));
        check("951782400", Some("2000-02-29"));
        check("1709164799", Some("2024-02-28"));
        check("1709251200", Some("2024-03-01"));
        check("1795564800", Some("2026-11-25"));
        check("4107542400", Some("2100-03-01"));
        check("-1", None);
        check("today", None);
    }
}
