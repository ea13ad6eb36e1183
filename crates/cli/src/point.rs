//! A place on the map as two numbers.

use std::str::FromStr;

use crate::failure::Failure;

/// `X,Y` in the case's reference system, or longitude and latitude.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Point {
    pub(crate) x: f64,
    pub(crate) y: f64,
}

impl Point {
    /// Whether the point can be a longitude and latitude in degrees.
    ///
    /// # Errors
    /// A longitude beyond 180 degrees or a latitude beyond 90.
    pub(crate) fn check_lonlat(self) -> Result<(), Failure> {
        let Self { x, y } = self;
        if x.abs() <= 180.0 && y.abs() <= 90.0 {
            return Ok(());
        }
        Err(Failure::Usage(format!(
            "{x},{y} is no longitude and latitude in degrees; with --lonlat longitude comes first"
        )))
    }
}

impl FromStr for Point {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let number = |part: &str| part.trim().parse().ok().filter(|number: &f64| number.is_finite());
        text.split_once(',')
            .and_then(|(x, y)| Some(Self { x: number(x)?, y: number(y)? }))
            .ok_or_else(|| "expected two numbers with a comma between, as 402000,4851500".to_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, expected: Option<(f64, f64)>) {
        assert_eq!(text.parse().ok(), expected.map(|(x, y)| Point { x, y }), "{text}");
    }

    #[test]
    fn two_numbers_with_a_comma() {
        check("1,2", Some((1.0, 2.0)));
        check("-80.25, 42.5", Some((-80.25, 42.5)));
        check("1e3,-.5", Some((1000.0, -0.5)));
    }

    #[test]
    fn degrees_have_their_range() {
        let check = |x, y, expected: bool| assert_eq!(Point { x, y }.check_lonlat().is_ok(), expected, "{x},{y}");
        check(-82.22, 43.81, true);
        check(180.0, -90.0, true);
        check(180.5, 43.0, false);
        check(43.81, -90.1, false);
    }

    #[test]
    fn anything_else_is_refused() {
        for text in ["", "1", "1 2", "1,2,3", "a,b", "nan,1", "1,inf", ",", "1;2"] {
            check(text, None);
        }
    }
}
