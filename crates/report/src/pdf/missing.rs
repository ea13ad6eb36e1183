//! Characters of a drawing that its fonts lack, so that none is drawn as a box.

use std::collections::BTreeMap;

use usvg::{Group, Node, Text};

use super::error::MissingGlyph;
use super::fonts::{Fonts, is_drawn};

#[derive(Debug, Default)]
pub(super) struct MissingGlyphs {
    found: BTreeMap<char, MissingGlyph>,
}

impl MissingGlyphs {
    /// Adds what the texts of a group and of the groups in it lack.
    pub(super) fn collect(&mut self, group: &Group, fonts: &Fonts) {
        for node in group.children() {
            match node {
                Node::Group(group) => self.collect(group, fonts),
                Node::Text(text) => self.collect_line(text, fonts),
                Node::Path(_) | Node::Image(_) => {}
            }
        }
    }

    fn collect_line(&mut self, text: &Text, fonts: &Fonts) {
        // Glyph 0 of a font is the box that is drawn for characters without a glyph (OpenType 1.9.1, `glyf`).
        let boxes = text.layouted().iter().flat_map(|span| &span.positioned_glyphs).filter(|glyph| glyph.id.0 == 0);
        let boxed: String = boxes.flat_map(|glyph| glyph.text.chars()).filter(|&c| is_drawn(c)).collect();
        // One character without a glyph leaves others of its line boxed that a font has.
        let mut characters = fonts.missing_glyphs(&boxed);
        if characters.is_empty() {
            characters = boxed.chars().collect();
            characters.sort_unstable();
            characters.dedup();
        }
        for character in characters {
            let line = || text.chunks().iter().map(usvg::TextChunk::text).collect();
            self.found.entry(character).or_insert_with(|| MissingGlyph { character, text: line(), lines: 0 }).lines +=
                1;
        }
    }

    /// By code point.
    pub(super) fn into_list(self) -> Vec<MissingGlyph> {
        self.found.into_values().collect()
    }
}
