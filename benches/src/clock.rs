//! Time by the wall and by the processor, and peak memory, from what the system says of this process.

use std::time::Instant;

use rustix::time::{ClockId, clock_gettime};
use serde_json::{Map, Value, json};

/// Times of named stages, in the order in which they ran.
#[derive(Default)]
pub(crate) struct Stages(Map<String, Value>);

impl Stages {
    pub(crate) fn time<R>(&mut self, name: &str, work: impl FnOnce() -> R) -> R {
        let (wall, cpu) = (Instant::now(), cpu_seconds());
        let result = work();
        let times = json!({ "wall_s": wall.elapsed().as_secs_f64(), "cpu_s": cpu_seconds() - cpu });
        self.0.insert(name.to_owned(), times);
        result
    }

    pub(crate) fn json(self, cells: usize, bytes_before: u64) -> Value {
        json!({ "cells": cells, "stages": self.0, "bytes_before": bytes_before, "peak_bytes": peak_bytes() })
    }
}

/// Processor seconds of all threads of this process so far.
fn cpu_seconds() -> f64 {
    let time = clock_gettime(ClockId::ProcessCPUTime);
    time.tv_sec as f64 + time.tv_nsec as f64 * 1e-9
}

/// Most memory held so far, bytes.
pub(crate) fn peak_bytes() -> u64 {
    status("VmHWM:")
}

/// Memory held now, bytes.
pub(crate) fn held_bytes() -> u64 {
    status("VmRSS:")
}

fn status(name: &str) -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix(name)).unwrap_or_default();
    line.trim().trim_end_matches(" kB").parse::<u64>().unwrap_or(0) * 1024
}
