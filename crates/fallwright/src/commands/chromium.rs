//! PDFs by a browser's print.

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use fallwright_report::WriteError;

/// Names under which the browser is installed.
const NAMES: [&str; 4] = ["chromium", "chromium-browser", "google-chrome-stable", "google-chrome"];
/// A page is printed in seconds; longer than this and it hangs (our choice).
const PATIENCE: Duration = Duration::from_secs(300);

/// Prints pages that need neither scripts nor network.
pub(super) struct Chromium {
    program: PathBuf,
}

impl Chromium {
    /// # Errors
    /// None is on the path.
    pub(super) fn find() -> Result<Self, WriteError> {
        let path = std::env::var_os("PATH").unwrap_or_default();
        let mut candidates = NAMES.iter().flat_map(|name| std::env::split_paths(&path).map(move |dir| dir.join(name)));
        candidates.find(|file| file.is_file()).map(|program| Self { program }).ok_or_else(|| {
            WriteError::Pdf(format!(
                "no Chromium on the path (looked for {}), and PDFs are printed by it: install it (Debian: apt-get install \
                 chromium), or leave PDFs out with --no-pdf and use the SVG files",
                NAMES.join(", ")
            ))
        })
    }

    /// The page as a PDF, with the day of the run in place of the time of printing, so that the same input gives the same
    /// bytes.
    pub(super) fn print(&self, html: &str, run_date: &str) -> Result<Vec<u8>, WriteError> {
        let failed = |what: &str, error: &dyn std::fmt::Display| WriteError::Pdf(format!("{what}: {error}"));
        let home = tempfile::tempdir().map_err(|error| failed("no temporary folder for printing", &error))?;
        let (page, pdf) = (home.path().join("page.html"), home.path().join("page.pdf"));
        std::fs::write(&page, html).map_err(|error| failed("the page to print cannot be written", &error))?;
        let mut child = self
            .command(home.path(), &page, &pdf)
            .spawn()
            .map_err(|error| failed(&format!("{} cannot be started", self.program.display()), &error))?;
        wait(&mut child)?;
        let bytes = std::fs::read(&pdf)
            .map_err(|error| failed(&format!("{} printed no PDF", self.program.display()), &error))?;
        Ok(dated(bytes, run_date))
    }

    fn command(&self, home: &Path, page: &Path, pdf: &Path) -> Command {
        let mut command = Command::new(&self.program);
        command.args([
            "--headless",
            "--disable-gpu",
            "--disable-extensions",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-dev-shm-usage",
            "--no-first-run",
            "--no-pdf-header-footer",
        ]);
        // The browser refuses to run as root with its sandbox; the page is our own and runs no script.
        if is_root() {
            command.arg("--no-sandbox");
        }
        command
            .arg(format!("--user-data-dir={}", home.join("profile").display()))
            .arg(format!("--print-to-pdf={}", pdf.display()))
            .arg(page)
            .env("HOME", home)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        command
    }
}

fn wait(child: &mut Child) -> Result<(), WriteError> {
    let start = Instant::now();
    loop {
        match child.try_wait() {
            Ok(Some(status)) if status.success() => return Ok(()),
            Ok(Some(status)) => return Err(WriteError::Pdf(format!("the browser that prints PDFs stopped: {status}"))),
            Ok(None) if start.elapsed() < PATIENCE => std::thread::sleep(Duration::from_millis(50)),
            Ok(None) => {
                let _ = child.kill();
                let _ = child.wait();
                return Err(WriteError::Pdf(format!("printing took longer than {} s", PATIENCE.as_secs())));
            }
            Err(error) => return Err(WriteError::Pdf(format!("the browser that prints PDFs is lost: {error}"))),
        }
    }
}

#[cfg(target_os = "linux")]
fn is_root() -> bool {
    use std::os::unix::fs::MetadataExt;
    std::fs::metadata("/proc/self").is_ok_and(|own| own.uid() == 0)
}

#[cfg(not(target_os = "linux"))]
fn is_root() -> bool {
    false
}

/// Sets `/CreationDate` and `/ModDate` (PDF 32000-1, 7.9.4: `(D:YYYYMMDDHHmmSS…)`), digits for digits.
fn dated(mut pdf: Vec<u8>, run_date: &str) -> Vec<u8> {
    const DIGITS: usize = 14;
    let digits: Vec<u8> =
        run_date.bytes().filter(u8::is_ascii_digit).chain(std::iter::repeat(b'0')).take(DIGITS).collect();
    for key in [&b"/CreationDate (D:"[..], b"/ModDate (D:"] {
        let found: Vec<usize> =
            (0..pdf.len().saturating_sub(key.len() + DIGITS)).filter(|&at| pdf[at..].starts_with(key)).collect();
        for at in found {
            pdf[at + key.len()..at + key.len() + DIGITS].copy_from_slice(&digits);
        }
    }
    pdf
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_time_of_printing_becomes_the_day_of_the_run() {
        let pdf = b"%PDF /CreationDate (D:20261125031502+00'00') /ModDate (D:20261125031502+00'00') end".to_vec();
        let found = String::from_utf8(dated(pdf, "2026-11-24")).unwrap();
        assert_eq!(found, "%PDF /CreationDate (D:20261124000000+00'00') /ModDate (D:20261124000000+00'00') end");
    }
}
