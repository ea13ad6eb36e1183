//! Words of the user's own for the classes of the rule profile.

use std::collections::BTreeMap;

use super::table::Table;
use crate::spelling::folded;

/// Which class each word of a layer's class field stands for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ClassMap {
    /// Its place in the case file, dotted.
    pub key: String,
    /// Classes by the user's words; no two words are the same but for letter case, spaces, underscores and hyphens.
    pub classes: BTreeMap<String, String>,
}

impl ClassMap {
    pub(super) const KEY: &'static str = "class_map";

    pub(super) fn read(table: &mut Table) -> Self {
        let classes = table.words(Self::KEY);
        let mut spellings: BTreeMap<String, Vec<&str>> = BTreeMap::new();
        for word in classes.keys() {
            spellings.entry(folded(word)).or_default().push(word);
        }
        for words in spellings.into_values().filter(|words| words.len() > 1) {
            let found = words.iter().map(|word| format!("{word:?}")).collect::<Vec<_>>().join(" and ");
            let expected = "words that differ by more than letter case, spaces, underscores and hyphens";
            table.note(Self::KEY, found, expected, "keep one of them; it holds for every spelling");
        }
        Self { key: table.dotted(Self::KEY), classes }
    }
}
