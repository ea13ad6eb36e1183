//! The page that lists every key of the case file: what the readers of its tables ask for, beside an example that has them all.

use std::collections::BTreeMap;
use std::fmt::Write;

use fallwright_hydraulics::Defaults;

use crate::file::{Absent, Holds, Key, every_key};
use crate::inputs::{LEVEL_COLUMNS, RAIN_COLUMNS, SECTION_COLUMNS};

/// A case file with every key, each with its meaning behind it.
pub(crate) const EXAMPLE: &str = include_str!("file/every_key.toml");

const INTRODUCTION: &str = "\
# Case file

Made from the code that reads it and from its example of every key, `crates/case/src/file/every_key.toml`.

A case file is TOML. Paths are relative to its folder. A key that is not listed here is refused, with the nearest known one named; all
faults of the case file and of the layers that it names are reported together, but for those of a table in which a value is
wrong or missing.

Classes, materials, kinds, units and the other words of a fixed list are taken as written where that is a known word, and else without
regard to letter case, spaces, underscores and hyphens: \"Municipal Drain\" is `municipal_drain`. The same holds for the words of a
`class_map`, which go before a class in another spelling; a word that the map and the profile both lack is refused.

A *field* is a column of a layer's attributes, a *column* one of a CSV file.
";

/// The page in Markdown.
pub fn case_file_page() -> String {
    let page = Page { examples: Examples::read(), keys: every_key(EXAMPLE), defaults: Defaults::shipped() };
    let sections: Vec<String> = page.examples.tables.iter().map(|table| page.section(table)).collect();
    INTRODUCTION.to_owned() + &sections.concat()
}

/// What the page is made of.
struct Page {
    examples: Examples,
    keys: Vec<(String, Key)>,
    defaults: Defaults,
}

impl Page {
    /// The part on one table.
    fn section(&self, table: &TableExample) -> String {
        let mut text = format!("\n## {}\n\n{}", self.heading(table.name), sentence(table.meaning));
        text.push_str("| key | type | default | example | meaning |\n|---|---|---|---|---|\n");
        let keys = self.keys.iter().filter(|(of, key)| of == table.name && !key.holds.is_table());
        for (_, key) in keys {
            let example = self.examples.of(table.name, key.name);
            let (name, kind, default) = (key.name, kind(&key.holds), default(table.name, key, &self.defaults));
            let _ = writeln!(text, "| `{name}` | {kind} | {default} | `{}` | {} |", example.value, example.meaning);
        }
        if let Some(columns) = columns(table.name) {
            let _ = write!(text, "\nColumns of the file: `{}`.\n", columns.join("`, `"));
        }
        text
    }

    /// A table's heading, in as many brackets as it is written with.
    fn heading(&self, table: &str) -> String {
        let is_list = |(of, key): &(String, Key)| dotted(of, key.name) == table && key.holds == Holds::Tables;
        match table {
            "" => "Keys of the whole case".to_owned(),
            table if self.keys.iter().any(is_list) => format!("`[[{table}]]`"),
            table => format!("`[{table}]`"),
        }
    }
}

/// A paragraph of the words of a comment.
fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| format!("{}{}.\n\n", first.to_uppercase(), letters.as_str()))
}

/// What the example says of each key and table.
struct Examples {
    /// As they come, each once; the first is the whole file.
    tables: Vec<TableExample>,
    /// By dotted key.
    keys: BTreeMap<String, KeyExample>,
}

struct TableExample {
    name: &'static str,
    meaning: &'static str,
}

#[derive(Clone, Copy, Default)]
struct KeyExample {
    value: &'static str,
    meaning: &'static str,
}

impl Examples {
    /// Every key of the example is on a line of its own, its meaning behind it.
    fn read() -> Self {
        let mut table = "";
        let mut examples = Self { tables: vec![TableExample { name: table, meaning: "" }], keys: BTreeMap::new() };
        for line in EXAMPLE.lines().filter(|line| !line.is_empty()) {
            let (said, meaning) = line.split_once("  # ").unwrap_or((line, ""));
            if let Some((key, value)) = said.split_once(" = ") {
                examples.keys.entry(dotted(table, key)).or_insert(KeyExample { value, meaning });
            } else {
                table = said.trim_matches(['[', ']']);
                if !examples.tables.iter().any(|known| known.name == table) {
                    examples.tables.push(TableExample { name: table, meaning });
                }
            }
        }
        examples
    }

    fn of(&self, table: &str, key: &str) -> KeyExample {
        self.keys.get(&dotted(table, key)).copied().unwrap_or_default()
    }
}

fn dotted(table: &str, key: &str) -> String {
    if table.is_empty() { key.to_owned() } else { format!("{table}.{key}") }
}

fn kind(holds: &Holds) -> String {
    match holds {
        Holds::Text => "text".to_owned(),
        Holds::Word(words) => format!("`{}`", words.join("`, `")),
        Holds::Date => "year, month or day".to_owned(),
        Holds::Number(range) => range.words(),
        Holds::File => "path of a file".to_owned(),
        Holds::PolygonLayer => "path of a file, or table with `source`, `layer` and `repair`".to_owned(),
        Holds::Flag => "`true` or `false`".to_owned(),
        Holds::Files => "list of paths and patterns".to_owned(),
        Holds::Words => "table of texts".to_owned(),
        Holds::Table => "table".to_owned(),
        Holds::Tables => "list of tables".to_owned(),
    }
}

fn default(table: &str, key: &Key, defaults: &Defaults) -> String {
    match &key.absent {
        Absent::Refused => "required".to_owned(),
        Absent::Means(value) => format!("`{value}`"),
        Absent::Nothing if table == "capacity" => of_capacity(key.name, defaults),
        Absent::Nothing => "none".to_owned(),
    }
}

/// What the shipped table of defaults has for a key of `[capacity]`.
fn of_capacity(key: &str, defaults: &Defaults) -> String {
    let value = match key {
        "method" => format!("{:?}", defaults.storm_method.value.name()),
        "drainage_coefficient_mm_per_day" => defaults.drainage_coefficient.value.millimetres_per_day().to_string(),
        "freeboard_m" => defaults.freeboard.value.metres().to_string(),
        "rainfall_distribution" => format!("{:?}", defaults.rainfall_distribution.value.name()),
        "defaults" => return "the shipped table".to_owned(),
        _ => return "none".to_owned(),
    };
    format!("`{value}` (table of defaults)")
}

/// The columns of a CSV file whose names are fixed.
fn columns(table: &str) -> Option<&'static [&'static str]> {
    match table {
        "levels" => Some(&LEVEL_COLUMNS),
        "sections" => Some(&SECTION_COLUMNS),
        "rainfall" => Some(&RAIN_COLUMNS),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_has_an_example_and_a_meaning() {
        let examples = Examples::read();
        for (table, key) in every_key(EXAMPLE) {
            let name = dotted(&table, key.name);
            if key.holds.is_table() {
                assert!(examples.tables.iter().any(|known| known.name == name && !known.meaning.is_empty()), "{name}");
            } else {
                let example = examples.of(&table, key.name);
                assert!(!example.value.is_empty() && !example.meaning.is_empty(), "{name}");
            }
        }
    }

    /// Write it anew with `FALLWRIGHT_WRITE_DOCS=1 cargo test -p fallwright-case`.
    #[test]
    fn published_page_is_current() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/case-file.md");
        let page = case_file_page();
        if std::env::var_os("FALLWRIGHT_WRITE_DOCS").is_some() {
            std::fs::write(path, &page).unwrap();
        }
        let is_current = std::fs::read_to_string(path).unwrap_or_default() == page;
        assert!(is_current, "{path} is out of date; write it anew as said above");
    }

    /// The defaults stand in `file/` and in `defaults.toml`; these are read there by eye.
    #[test]
    fn a_line_says_what_the_reader_does() {
        let page = case_file_page();
        for line in [
            "| `accuracy_m` | a number from 0 to 1000 | `2` | `1` |",
            "| `longest_cut_m` | a number from 0 to 1000000 | `60` | `40` |",
            "| `elevation` | list of paths and patterns | required | `[\"dem/*.tif\"]` |",
            "| `vertical_unit` | `m`, `ft`, `us-ft` | none | `\"us-ft\"` |",
            "| `unit` | `ha`, `ac` | `\"ha\"` | `\"ac\"` |",
            "| `freeboard_m` | a number from 0 to 100 | `0.3` (table of defaults) | `0.3` |",
            "| `profile` | text | `\"ontario\"` | `\"ontario\"` |",
        ] {
            assert!(page.contains(line), "no {line} in\n{page}");
        }
    }
}
