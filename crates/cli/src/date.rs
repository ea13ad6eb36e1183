//! The day of a run.

use std::time::{SystemTime, UNIX_EPOCH};

const SECONDS_A_DAY: u64 = 86_400;

/// Today in UTC, as `2026-11-25`; the day of `SOURCE_DATE_EPOCH` where that is set, so that the same input can give the same
/// bytes (reproducible-builds.org, the `SOURCE_DATE_EPOCH` specification).
pub(crate) fn today() -> String {
    let set = std::env::var("SOURCE_DATE_EPOCH").ok().and_then(|seconds| seconds.parse().ok());
    let now = || SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |since| since.as_secs());
    day(set.unwrap_or_else(now) / SECONDS_A_DAY)
}

/// The date of a day counted from 1 January 1970, in the Gregorian calendar: years begin in March, so that the leap day comes
/// last, in eras of 400 years, which are 146 097 days.
fn day(since_epoch: u64) -> String {
    let since_march_of_year_0 = since_epoch + 719_468;
    let (era, in_era) = (since_march_of_year_0 / 146_097, since_march_of_year_0 % 146_097);
    let year_of_era = (in_era - in_era / 1460 + in_era / 36_524 - in_era / 146_096) / 365;
    let in_year = in_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month_from_march = (5 * in_year + 2) / 153;
    let day = in_year - (153 * month_from_march + 2) / 5 + 1;
    let month = if month_from_march < 10 { month_from_march + 3 } else { month_from_march - 9 };
    let year = era * 400 + year_of_era + u64::from(month <= 2);
    format!("{year}-{month:02}-{day:02}")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Checked with `date -u -d @SECONDS +%F` (GNU coreutils).
    #[test]
    fn days_have_their_dates() {
        let check = |seconds: u64, expected| assert_eq!(day(seconds / SECONDS_A_DAY), expected);
        check(0, "1970-01-01");
        check(951_782_400, "2000-02-29");
        check(1_709_164_799, "2024-02-28");
        check(1_709_251_200, "2024-03-01");
        check(1_795_564_800, "2026-11-25");
        check(4_107_542_400, "2100-03-01");
    }
}
