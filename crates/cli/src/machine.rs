//! How much memory the machine has, and how much of it this process holds.

use std::fs;

/// Where the machine does not say (our choice, no source).
const UNKNOWN_MEMORY_BYTES: u64 = 4 << 30;

/// 60 % of the machine's memory, or of what a container allows where that is less.
pub(crate) fn default_memory_bytes() -> u64 {
    let file = |path| fs::read_to_string(path).ok();
    let total = file("/proc/meminfo").and_then(|text| bytes_of(&text, "MemTotal:"));
    let allowed = ["/sys/fs/cgroup/memory.max", "/sys/fs/cgroup/memory/memory.limit_in_bytes"]
        .map(|path| file(path).and_then(|text| text.trim().parse().ok()));
    let memory = [total].into_iter().chain(allowed).flatten().min().unwrap_or(UNKNOWN_MEMORY_BYTES);
    memory / 5 * 3
}

/// Memory that this process holds; 0 where the system does not say.
pub(crate) fn resident_bytes() -> u64 {
    fs::read_to_string("/proc/self/status").ok().and_then(|status| bytes_of(&status, "VmRSS:")).unwrap_or(0)
}

/// A line such as `MemTotal:  16384 kB` of `/proc/meminfo` or `VmRSS:  4 kB` of `/proc/self/status`, whose kB are 1024 bytes.
fn bytes_of(text: &str, name: &str) -> Option<u64> {
    let value = text.lines().find_map(|line| line.strip_prefix(name))?;
    let kibibytes: u64 = value.trim().strip_suffix("kB")?.trim().parse().ok()?;
    kibibytes.checked_mul(1024)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_are_in_units_of_1024() {
        let check = |text, expected| assert_eq!(bytes_of(text, "MemTotal:"), expected, "{text}");
        check("MemTotal:       16384 kB\nMemFree:  4 kB\n", Some(16_777_216));
        check("MemFree: 4 kB\nMemTotal: 1 kB", Some(1024));
        check("MemTotal: many kB", None);
        check("", None);
        assert_eq!(bytes_of("VmHWM:\t 8 kB\nVmRSS:\t 4 kB\n", "VmRSS:"), Some(4096));
    }

    /// A vector that is written to is held.
    #[test]
    #[cfg(target_os = "linux")]
    fn memory_that_is_written_to_is_held() {
        let size = 64 << 20;
        let before = resident_bytes();
        let held = std::hint::black_box(vec![1_u8; size]);
        let after = resident_bytes();
        assert!(before > 0 && after >= size as u64, "{before} bytes, then {after} with {} more", held.len());
    }
}
