//! Calendar dates of stated precision: a year, a month or a day.

use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;

use jiff::civil::Date;
use thiserror::Error;

/// A year, month or day of the Gregorian calendar, written `2024`, `2024-05` or `2024-05-17` (ISO 8601-1:2019, 5.2.2).
///
/// Ordered by its first day, the less precise date first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PartialDate {
    first_day: Date,
    precision: Precision,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
enum Precision {
    Year,
    Month,
    Day,
}

/// A text that is no year, month or day of the calendar.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("the date {0:?}")]
pub struct NotADate(pub String);

impl PartialDate {
    /// Whether this date is later than another, judged at the coarser of the two precisions; `None` where they are equal
    /// there and one of them is more precise.
    ///
    /// # Examples
    /// ```
    /// # use fallwright_units::PartialDate;
    /// let date = |text: &str| text.parse::<PartialDate>().unwrap();
    /// assert_eq!(date("2015").is_later_than(date("1998-05-02")), Some(true));
    /// assert_eq!(date("1998").is_later_than(date("1998-05-02")), None);
    /// ```
    pub fn is_later_than(self, other: Self) -> Option<bool> {
        let common = self.precision.min(other.precision);
        match self.first_day_at(common).cmp(&other.first_day_at(common)) {
            Ordering::Equal if self.precision == other.precision => Some(false),
            Ordering::Equal => None,
            order => Some(order.is_gt()),
        }
    }

    fn first_day_at(self, precision: Precision) -> Date {
        match precision {
            Precision::Year => self.first_day.first_of_year(),
            Precision::Month => self.first_day.first_of_month(),
            Precision::Day => self.first_day,
        }
    }
}

impl FromStr for PartialDate {
    type Err = NotADate;

    fn from_str(text: &str) -> Result<Self, NotADate> {
        let (precision, day) = match text.len() {
            4 => (Precision::Year, format!("{text}-01-01")),
            7 => (Precision::Month, format!("{text}-01")),
            _ => (Precision::Day, text.to_owned()),
        };
        day.parse::<Date>()
            .ok()
            .map(|first_day| Self { first_day, precision })
            // Other spellings of a date, such as `20240517`, are not accepted, nor is the year 0.
            .filter(|date| date.first_day.year() > 0 && date.to_string() == text)
            .ok_or_else(|| NotADate(text.to_owned()))
    }
}

impl fmt::Display for PartialDate {
    fn fmt(&self, formatter: &mut fmt::Formatter) -> fmt::Result {
        let (year, month) = (self.first_day.year(), self.first_day.month());
        match self.precision {
            Precision::Year => write!(formatter, "{year:04}"),
            Precision::Month => write!(formatter, "{year:04}-{month:02}"),
            Precision::Day => self.first_day.fmt(formatter),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn date(text: &str) -> PartialDate {
        text.parse().unwrap()
    }

    /// Leap years: a year divisible by 4, of the centuries those divisible by 400 (ISO 8601-1:2019, 4.2.1).
    #[test]
    fn dates_are_those_of_the_calendar() {
        let check = |text: &str, expected: bool| assert_eq!(text.parse::<PartialDate>().is_ok(), expected, "{text}");
        check("2024", true);
        check("2024-05", true);
        check("2024-05-31", true);
        check("2024-02-29", true);
        check("2000-02-29", true);
        check("0001-01-01", true);
        check("2023-02-29", false);
        check("1900-02-29", false);
        check("2024-02-31", false);
        check("2024-04-31", false);
        check("2024-05-32", false);
        check("2024-00", false);
        check("2024-13", false);
        check("2024-5-1", false);
        check("2024-05-17-01", false);
        check("20240517", false);
        check("2024-05-17T08", false);
        check("17.5.2024", false);
        check("0000", false);
        check("-024", false);
        check("+024", false);
        check(" 2024", false);
        check("२०२४", false);
        check("", false);
    }

    #[test]
    fn dates_are_written_as_read() {
        let check = |text: &str| assert_eq!(date(text).to_string(), text);
        check("0527");
        check("2024-05");
        check("2024-02-29");
    }

    #[test]
    fn dates_sort_by_their_first_day() {
        let mut dates = ["2024-05-17", "2025", "2024-05", "2024", "2024-01-01", "2024-01"].map(date);
        dates.sort();
        assert_eq!(dates, ["2024", "2024-01", "2024-01-01", "2024-05", "2024-05-17", "2025"].map(date));
    }

    #[test]
    fn dates_are_compared_at_the_coarser_precision() {
        let check = |a, b, expected| assert_eq!(date(a).is_later_than(date(b)), expected, "{a} {b}");
        check("2015", "1998-05-02", Some(true));
        check("1990-07", "1998-05-02", Some(false));
        check("1998", "1998-05-02", None);
        check("1998-05", "1998-05-02", None);
        check("1998-06", "1998-05-02", Some(true));
        check("1998-05-02", "1998-05-02", Some(false));
        check("1998-05-03", "1998-05-02", Some(true));
    }
}
