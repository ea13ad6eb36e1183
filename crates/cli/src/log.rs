//! Messages on standard error.

use std::io::{self, IsTerminal, Write};

use tracing::level_filters::LevelFilter;

use crate::progress::Progress;

/// Sends what the library logs to standard error, around the progress line.
pub(crate) fn start(level: LevelFilter, progress: &Progress) {
    let progress = progress.clone();
    let coloured = io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty());
    tracing_subscriber::fmt()
        .with_max_level(level)
        .with_ansi(coloured)
        .with_target(false)
        .with_timer(tracing_subscriber::fmt::time::uptime())
        .with_writer(move || progress.clone())
        .init();
}

/// One message to the user. Where standard error is closed it is lost.
pub(crate) fn say(text: &str) {
    let _ = writeln!(io::stderr(), "{}", without_controls(text, &['\n']));
}

/// Text without characters that would steer a terminal: names in the data may hold any.
pub(crate) fn without_controls(text: &str, but: &[char]) -> String {
    text.chars().map(|c| if c.is_control() && !but.contains(&c) { char::REPLACEMENT_CHARACTER } else { c }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_do_not_steer_the_terminal() {
        let check = |text, expected| assert_eq!(without_controls(text, &['\n']), expected);
        check("Ann\u{1b}[31m", "Ann\u{fffd}[31m");
        check("one\ntwo\tthree\u{9b}2J", "one\ntwo\u{fffd}three\u{fffd}2J");
        check("Émile Côté", "Émile Côté");
    }
}
