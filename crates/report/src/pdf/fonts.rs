//! Fonts of the PDFs: two embedded faces, then the files that a user adds. Fonts of the system are never read.

use std::sync::Arc;

use usvg::fontdb::{Database, ID, Source};

use super::error::PdfError;

/// The family that sheets are drawn with, in plain and in bold letters.
const FAMILY: &str = "DejaVu Sans";
const EMBEDDED: [&[u8]; 2] =
    [include_bytes!("../../fonts/DejaVuSans.ttf"), include_bytes!("../../fonts/DejaVuSans-Bold.ttf")];

/// Faces in the order in which they are searched for a glyph.
#[derive(Clone, Debug)]
pub(crate) struct Fonts {
    pub(super) database: Arc<Database>,
}

impl Fonts {
    pub(crate) fn embedded() -> Self {
        let mut database = Database::new();
        for face in EMBEDDED {
            database.load_font_source(Source::Binary(Arc::new(face)));
        }
        // The family of texts whose own family is not there.
        database.set_serif_family(FAMILY);
        Self { database: Arc::new(database) }
    }

    /// With the faces of a TrueType or OpenType file, or of a collection of them, for characters that the faces before lack.
    ///
    /// # Errors
    /// The bytes hold no font.
    pub(crate) fn with_file(mut self, bytes: Vec<u8>) -> Result<Self, PdfError> {
        let added = Arc::make_mut(&mut self.database).load_font_source(Source::Binary(Arc::new(bytes)));
        if added.is_empty() { Err(PdfError::NotAFont) } else { Ok(self) }
    }

    /// The characters that no face has a glyph for, each once, in the order of the text. Controls, spaces and characters that
    /// are never drawn need none.
    pub(crate) fn missing_glyphs(&self, text: &str) -> Vec<char> {
        let mut missing: Vec<char> = Vec::new();
        for character in text.chars().filter(|&character| is_drawn(character)) {
            if !missing.contains(&character) && !self.has_glyph(character) {
                missing.push(character);
            }
        }
        missing
    }

    fn has_glyph(&self, character: char) -> bool {
        self.database.faces().any(|face| face_has(&self.database, face.id, character))
    }
}

/// The first face with the character among those of the nearest weight.
pub(super) fn fallback(character: char, tried: &[ID], database: &Database) -> Option<ID> {
    let weight = database.face(*tried.first()?)?.weight.0;
    database
        .faces()
        .filter(|face| !tried.contains(&face.id) && face_has(database, face.id, character))
        .min_by_key(|face| face.weight.0.abs_diff(weight))
        .map(|face| face.id)
}

fn face_has(database: &Database, face: ID, character: char) -> bool {
    let has = |data: &[u8], index| {
        ttf_parser::Face::parse(data, index).is_ok_and(|face| face.glyph_index(character).is_some())
    };
    database.with_face_data(face, has).unwrap_or(false)
}

/// Not so: white space, controls, and the format characters of Unicode (17.0, `DerivedCoreProperties.txt`,
/// `Default_Ignorable_Code_Point`) that names and addresses may hold.
pub(super) fn is_drawn(character: char) -> bool {
    let is_ignored = matches!(
        character,
        '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{180b}'..='\u{180f}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}' | '\u{e0000}'..='\u{e0fff}'
    );
    !(character.is_whitespace() || character.is_control() || is_ignored)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, expected: &[char]) {
        assert_eq!(Fonts::embedded().missing_glyphs(text), expected, "{text}");
    }

    #[test]
    fn embedded_faces_have_european_and_near_eastern_letters() {
        check("Łukasz Þórðarson, Île-d’Orléans, Ångström, Ωμέγα, Дренаж", &[]);
        check("שלום سلام", &[]);
        check("m² · ± ≥ … – — □ ◇ ✓ \u{fffd}", &[]);
    }

    #[test]
    fn missing_characters_are_listed_once_in_order() {
        check("山田山 and 川", &['山', '田', '川']);
        check("한", &['한']);
    }

    #[test]
    fn characters_without_ink_are_not_missing() {
        check("a\u{200d}b\u{200f}c\u{ad}d\te\nf\u{feff}g\u{fe0f}", &[]);
    }

    #[test]
    fn bytes_that_are_no_font_are_refused() {
        assert!(matches!(Fonts::embedded().with_file(b"no font".to_vec()), Err(PdfError::NotAFont)));
        assert!(matches!(Fonts::embedded().with_file(Vec::new()), Err(PdfError::NotAFont)));
    }
}
