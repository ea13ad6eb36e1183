//! Root finding by halving an interval.

/// Where an increasing function first reaches a target, between `low` (below it) and `high` (at or above it).
///
/// Halves the interval until its ends are neighbouring numbers, so the result is exact to the last digit of the function.
///
/// *Complexity*: at most about 1100 evaluations; about 60 for intervals that do not start at 0.
pub(crate) fn rising_to(target: f64, (mut low, mut high): (f64, f64), value: impl Fn(f64) -> f64) -> f64 {
    loop {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high {
            return high;
        }
        if value(middle) < target {
            low = middle;
        } else {
            high = middle;
        }
    }
}

/// The first of some rising bounds at or above which a function reaches a target, with the bound before it.
pub(crate) fn interval(
    target: f64,
    bounds: impl Iterator<Item = f64>,
    value: impl Fn(f64) -> f64,
) -> Option<(f64, f64)> {
    let mut low = 0.0;
    for high in bounds {
        if value(high) >= target {
            return Some((low, high));
        }
        low = high;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_square_root() {
        assert!((rising_to(2.0, (0.0, 2.0), |x| x * x) - 2.0_f64.sqrt()).abs() < 1e-15);
        assert_eq!(rising_to(0.0, (0.0, 1.0), |x| x), f64::from_bits(1));
    }

    #[test]
    fn the_interval_of_a_target() {
        let bounds = [1.0, 2.0, 4.0];
        assert_eq!(interval(3.0, bounds.into_iter(), |x| x * x), Some((1.0, 2.0)));
        assert_eq!(interval(17.0, bounds.into_iter(), |x| x * x), None);
    }
}
