//! PDFs of the sheets: the fonts that they are set in, and the characters that no font has.

use std::path::{Path, PathBuf};

use fallwright_geodata::Problem;

use crate::error::WriteError;
use crate::pdf::{Fonts, MissingGlyph, PdfError, PdfPages};
use crate::run_record::digest;

/// Fonts of the PDFs, and the characters found so far that none of them has.
pub struct Pdfs {
    fonts: Fonts,
    /// File of the first sheet that holds the character, and the character.
    missing: Vec<(String, MissingGlyph)>,
}

impl Pdfs {
    /// With fonts for characters that the program's own lack.
    ///
    /// # Errors
    /// A file that cannot be read or is no font.
    pub fn new(files: &[PathBuf]) -> Result<Self, WriteError> {
        let add = |fonts: Fonts, file: &PathBuf| {
            let failed = |reason: String| WriteError::Font { file: file.clone(), reason };
            if file.exists() && !file.is_file() {
                return Err(failed("is not a file".to_owned()));
            }
            let bytes = std::fs::read(file).map_err(|error| failed(format!("cannot be read: {error}")))?;
            fonts.with_file(bytes).map_err(|error| failed(error.to_string()))
        };
        Ok(Self { fonts: files.iter().try_fold(Fonts::embedded(), add)?, missing: Vec::new() })
    }

    pub(crate) fn start(&self) -> PdfPages {
        PdfPages::new(&self.fonts)
    }

    /// The bytes of a file; `None` where characters are missing, which [`Pdfs::refuse_missing`] reports.
    pub(crate) fn finish(
        &mut self,
        name: &str,
        title: &str,
        run_date: &str,
        pages: PdfPages,
    ) -> Result<Option<Vec<u8>>, WriteError> {
        match pages.finish(title, run_date) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(PdfError::MissingGlyphs(missing)) => {
                self.missing.extend(missing.into_iter().map(|glyph| (name.to_owned(), glyph)));
                Ok(None)
            }
            Err(error) => Err(failed(name, &error)),
        }
    }

    /// # Errors
    /// Every character that no font has, each with the first text that holds it.
    pub(crate) fn refuse_missing(mut self) -> Result<(), WriteError> {
        self.missing.sort_by_key(|(_, glyph)| glyph.character);
        self.missing.dedup_by_key(|(_, glyph)| glyph.character);
        if self.missing.is_empty() {
            Ok(())
        } else {
            Err(WriteError::Refused(self.missing.into_iter().map(problem).collect()))
        }
    }
}

fn problem((file, glyph): (String, MissingGlyph)) -> Problem {
    Problem::in_file(
        file,
        format!("the character {glyph}"),
        "characters of DejaVu Sans or of a font given with --font",
        "add a font that has the character with --font FILE, or leave PDFs out with --no-pdf",
    )
}

pub(crate) fn failed(name: &str, error: &PdfError) -> WriteError {
    WriteError::Pdf(format!("{name}: {error}"))
}

/// File name and SHA-256 of each font given.
pub(crate) fn font_digests(files: &[PathBuf]) -> Result<Vec<(String, String)>, WriteError> {
    let name = |path: &Path| path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    files.iter().map(|file| Ok((name(file), digest(file)?))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const SVG: &str = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"50mm\" height=\"20mm\" viewBox=\"0 0 50 20\"><text x=\"1\" y=\"9\" font-size=\"5\">Owner 山</text></svg>";

    fn pdf(pdfs: &mut Pdfs, name: &str) -> Option<Vec<u8>> {
        let mut pages = pdfs.start();
        pages.add(&[SVG]).unwrap();
        pdfs.finish(name, "Title", "2026-11-25", pages).unwrap()
    }

    #[test]
    fn a_missing_character_is_one_problem_with_its_text() {
        let mut pdfs = Pdfs::new(&[]).unwrap();
        assert_eq!(pdf(&mut pdfs, "letters.pdf"), None);
        assert_eq!(pdf(&mut pdfs, "situation.pdf"), None);
        let Err(WriteError::Refused(problems)) = pdfs.refuse_missing() else { panic!("not refused") };
        assert_eq!(problems.len(), 1);
        let text = problems[0].to_string();
        for part in ["letters.pdf", "'山' (U+5C71) in \"Owner 山\"", "--font"] {
            assert!(text.contains(part), "{text}");
        }
    }

    #[test]
    fn a_font_file_adds_the_character() {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("fonts/three_characters.ttf");
        let mut pdfs = Pdfs::new(std::slice::from_ref(&file)).unwrap();
        assert!(pdf(&mut pdfs, "letters.pdf").is_some());
        assert!(pdfs.refuse_missing().is_ok());
        assert_eq!(font_digests(&[file]).unwrap()[0].0, "three_characters.ttf");
    }

    #[test]
    fn a_file_that_is_no_font_is_named() {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("Cargo.toml");
        for (file, reason) in [(file, "not a TrueType"), (PathBuf::from("absent.ttf"), "cannot be read")] {
            let Err(error) = Pdfs::new(&[file]).map(|_| ()) else { panic!("accepted") };
            assert!(error.to_string().contains(reason), "{error}");
        }
    }
}
