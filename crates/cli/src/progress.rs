//! What the program is doing, shown on a terminal while it does it.

use std::io::{self, IsTerminal, Write};
use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};

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

    /// Names the next step in plain words.
    pub(crate) fn step(&self, words: &str) {
        tracing::info!("{words}");
        self.bar.set_message(words.to_owned());
    }

    pub(crate) fn finish(&self) {
        self.bar.finish_and_clear();
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
