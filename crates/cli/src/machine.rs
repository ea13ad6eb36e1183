//! How much memory the machine has.

use std::fs;

/// Where the machine does not say (our choice, no source).
const UNKNOWN_MEMORY_BYTES: u64 = 4 << 30;

/// 60 % of the machine's memory, or of what a container allows where that is less.
pub(crate) fn default_memory_bytes() -> u64 {
    let file = |path| fs::read_to_string(path).ok();
    let total = file("/proc/meminfo").and_then(|text| total_bytes(&text));
    let allowed = ["/sys/fs/cgroup/memory.max", "/sys/fs/cgroup/memory/memory.limit_in_bytes"]
        .map(|path| file(path).and_then(|text| text.trim().parse().ok()));
    let memory = [total].into_iter().chain(allowed).flatten().min().unwrap_or(UNKNOWN_MEMORY_BYTES);
    memory / 5 * 3
}

/// The line `MemTotal:  16384 kB` of `/proc/meminfo`, whose kB are 1024 bytes.
fn total_bytes(meminfo: &str) -> Option<u64> {
    let value = meminfo.lines().find_map(|line| line.strip_prefix("MemTotal:"))?;
    let kibibytes: u64 = value.trim().strip_suffix("kB")?.trim().parse().ok()?;
    kibibytes.checked_mul(1024)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_total_is_in_units_of_1024_bytes() {
        let check = |text, expected| assert_eq!(total_bytes(text), expected, "{text}");
        check("MemTotal:       16384 kB\nMemFree:  4 kB\n", Some(16_777_216));
        check("MemFree: 4 kB\nMemTotal: 1 kB", Some(1024));
        check("MemTotal: many kB", None);
        check("", None);
    }
}
