//! What was drawn, on a terminal.

use std::path::Path;

use crate::caution::CAUTION;
use crate::write::SheetsWritten;

pub fn sheets(SheetsWritten { files, page_bytes, .. }: &SheetsWritten, out: &Path) -> Vec<String> {
    vec![
        format!("{files} files in {}", out.display()),
        format!(
            "Open {} by double click; it needs no network ({:.1} MB).",
            out.join("overview.html").display(),
            *page_bytes as f64 / 1e6
        ),
        CAUTION.to_owned(),
    ]
}
