//! Numbers as people are shown them.

/// Hectares with two decimals and no thousands separator.
pub fn hectares(value: f64) -> String {
    format!("{value:.2} ha")
}

/// `1 parcel`, `2 parcels`.
pub fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
