//! What the program is doing, shown on a terminal while it does it.

use std::fmt;
use std::io::{self, IsTerminal, Write};
use std::time::Duration;

use fallwright::Watch;
use indicatif::{ProgressBar, ProgressState, ProgressStyle};

/// The whole length of the bar; the terminal shows less.
const WHOLE: u64 = 10_000;
/// The part that must be done before the rest is foreseen (our choice).
const FORESEEN_FROM: f64 = 0.05;

/// A line on standard error that names the step under way; nothing where standard error is no terminal.
#[derive(Clone, Debug)]
pub(crate) struct Progress {
    bar: ProgressBar,
}

impl Progress {
    pub(crate) fn start(shown: bool) -> Self {
        if !shown || !io::stderr().is_terminal() {
            return Self { bar: ProgressBar::hidden() };
        }
        let style = ProgressStyle::with_template("{spinner} {msg} ({elapsed})").expect("the template is well formed");
        let bar = ProgressBar::new_spinner().with_style(style);
        bar.enable_steady_tick(Duration::from_millis(120));
        Self { bar }
    }

    pub(crate) fn finish(&self) {
        self.bar.finish_and_clear();
    }
}

impl Watch for Progress {
    fn step(&self, words: &str) {
        tracing::info!("{words}");
        self.bar.set_message(words.to_owned());
    }

    fn part_done(&self, part: f64) {
        if self.bar.is_hidden() {
            return;
        }
        if self.bar.length().is_none() {
            self.bar.set_style(bar_style());
            self.bar.set_length(WHOLE);
        }
        self.bar.set_position((part * WHOLE as f64) as u64);
    }
}

fn bar_style() -> ProgressStyle {
    let left = |state: &ProgressState, to: &mut dyn fmt::Write| {
        let part = f64::from(state.fraction());
        // Nothing can be reported on a terminal that cannot be written to.
        let _ = to.write_str(&foreseen(state.elapsed(), part));
    };
    let style = ProgressStyle::with_template("{spinner} {msg} [{bar:24}] {percent} % ({elapsed}{left})");
    style.expect("the template is well formed").progress_chars("=> ").with_key("left", left)
}

/// How long the rest takes, if it goes on as it went; nothing at the start and in the last moments.
fn foreseen(elapsed: Duration, part: f64) -> String {
    let seconds = elapsed.as_secs_f64() * (1.0 - part) / part;
    match seconds {
        _ if part < FORESEEN_FROM => String::new(),
        ..10.0 => String::new(),
        ..90.0 => format!(", about {:.0} s left", seconds.div_euclid(10.0) * 10.0),
        _ => format!(", about {:.0} min left", (seconds / 60.0).round()),
    }
}

/// Standard error, around the progress line.
impl Write for Progress {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.bar.suspend(|| io::stderr().write(bytes))
    }

    fn flush(&mut self) -> io::Result<()> {
        io::stderr().flush()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rest_is_foreseen_from_what_went_before() {
        let check = |seconds: u64, part: f64, expected: &str| {
            assert_eq!(foreseen(Duration::from_secs(seconds), part), expected);
        };
        check(30, 0.01, "");
        check(0, 0.0, "");
        check(60, 0.5, ", about 60 s left");
        check(10, 0.25, ", about 30 s left");
        check(600, 0.25, ", about 30 min left");
        check(89, 0.5, ", about 80 s left");
        check(90, 0.5, ", about 2 min left");
        check(95, 0.95, "");
        check(100, 1.0, "");
    }
}
