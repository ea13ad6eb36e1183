//! One table of the case file, read key by key, so that every fault is noted and not only the first.
//!
//! A value that is wrong or missing is noted and replaced by a stand-in, and the table that holds it is left out; the caller
//! hands the whole out only where nothing was noted. A deserializer derived for a whole table would stop at its first fault.

use std::collections::BTreeMap;
use std::path::PathBuf;

use fallwright_geodata::Problem;
use fallwright_units::PartialDate;
use toml::Value;

use super::keys::{Absent, Holds, Key};
use super::range::Range;
use super::source::{self, NoFile, Source};
use crate::nearest::{meant, nearest};
use crate::spelling;

/// What was asked for and found wrong so far, in one case file.
pub(super) struct Notes {
    file: String,
    folder: PathBuf,
    pub(super) problems: Vec<Problem>,
    /// Dotted keys that may not hold what was meant: those with a fault, tables that were left out, and those that an unknown
    /// key is near to.
    pub(super) doubtful: Vec<String>,
    /// Every key asked for, after the dotted key of its table.
    pub(super) keys: Vec<(String, Key)>,
    stand_ins: usize,
}

impl Notes {
    pub(super) fn new(file: String, folder: PathBuf) -> Self {
        Self { file, folder, problems: Vec::new(), doubtful: Vec::new(), keys: Vec::new(), stand_ins: 0 }
    }

    fn note(&mut self, key: &str, found: String, expected: impl Into<String>, hint: impl Into<String>) {
        self.problems.push(Problem::in_file(&self.file, found, expected, hint).at_key(key));
        self.doubtful.push(key.to_owned());
        self.stand_ins += 1;
    }
}

/// A table whose keys are taken out one after the other; what remains in the end is unknown.
pub(super) struct Table<'a> {
    notes: &'a mut Notes,
    /// Dotted, empty for the whole file.
    pub(super) key: String,
    values: toml::Table,
    known: Vec<Key>,
}

impl<'a> Table<'a> {
    /// Reads the whole file as one table.
    pub(super) fn read<T>(notes: &'a mut Notes, values: toml::Table, read: impl FnOnce(&mut Table) -> T) -> T {
        Self::read_at(notes, String::new(), values, read)
    }

    fn read_at<T>(notes: &'a mut Notes, key: String, values: toml::Table, read: impl FnOnce(&mut Table) -> T) -> T {
        let mut table = Self { notes, key, values, known: Vec::new() };
        let result = read(&mut table);
        table.note_unknown_keys();
        let Table { notes, key, known, .. } = table;
        notes.keys.extend(known.into_iter().map(|known| (key.clone(), known)));
        result
    }

    /// `None` where some value in the table is wrong or missing.
    fn read_sound<T>(
        notes: &'a mut Notes,
        key: String,
        values: toml::Table,
        read: impl FnOnce(&mut Table) -> T,
    ) -> Option<T> {
        let before = notes.stand_ins;
        let result = Table::read_at(notes, key.clone(), values, read);
        if notes.stand_ins > before {
            notes.doubtful.push(key);
            return None;
        }
        Some(result)
    }

    /// An optional text.
    pub(super) fn text(&mut self, key: &'static str) -> Option<String> {
        self.text_that(key, Holds::Text)
    }

    fn text_that(&mut self, key: &'static str, holds: Holds) -> Option<String> {
        match self.take(key, holds)? {
            Value::String(text) if !text.trim().is_empty() => Some(text),
            Value::String(_) => {
                self.note(key, "an empty text".to_owned(), "a text", "fill it in or leave the key out");
                None
            }
            value @ (Value::Array(_) | Value::Table(_)) => {
                self.note(key, describe(&value), "one text in quotes", format!("write {key} = \"...\""));
                None
            }
            value => {
                self.note(key, describe(&value), "a text in quotes", format!("write {key} = \"{value}\""));
                None
            }
        }
    }

    pub(super) fn text_or(&mut self, key: &'static str, default: &str) -> String {
        let text = self.text(key).unwrap_or_else(|| default.to_owned());
        self.absent(key, Absent::Means(format!("{default:?}")));
        text
    }

    /// A text that must be there.
    pub(super) fn required_text(&mut self, key: &'static str) -> String {
        self.note_missing(key, "a text", format!("add {key} = \"...\""));
        let text = self.text(key).unwrap_or_default();
        self.absent(key, Absent::Refused);
        text
    }

    /// An optional year, month or day.
    pub(super) fn date(&mut self, key: &'static str) -> Option<PartialDate> {
        let date = self.text_that(key, Holds::Date)?.parse::<PartialDate>();
        if let Err(error) = &date {
            let expected = "a year, month or day: \"1998\", \"1998-05\" or \"1998-05-02\"";
            self.note(key, error.to_string(), expected, "correct the date or leave the key out");
        }
        date.ok()
    }

    /// An optional table of texts, each under a name of the user's own.
    pub(super) fn words(&mut self, key: &'static str) -> BTreeMap<String, String> {
        let values = match self.take(key, Holds::Words) {
            None => return BTreeMap::new(),
            Some(Value::Table(values)) => values,
            Some(value) => {
                let hint = format!("write {key} = {{ \"...\" = \"...\" }}");
                self.note(key, describe(&value), "a table of texts", hint);
                return BTreeMap::new();
            }
        };
        let mut words = BTreeMap::new();
        for (name, value) in values {
            match value {
                Value::String(text) if !text.trim().is_empty() && !name.trim().is_empty() => {
                    words.insert(name, text);
                }
                other => {
                    let found = format!("{name:?} = {other}");
                    self.note(key, found, "texts that are not empty, in quotes", "correct the pair or leave it out");
                }
            }
        }
        words
    }

    /// An optional text that is one of a few words, in any spelling ([`spelling::find`]).
    pub(super) fn choice<T, const N: usize>(
        &mut self,
        key: &'static str,
        choices: [(&'static str, T); N],
    ) -> Option<T> {
        let words = choices.each_ref().map(|(word, _)| *word);
        let text = self.text_that(key, Holds::Word(words.to_vec()))?;
        let chosen = spelling::find(&text, words.into_iter());
        if chosen.is_none() {
            let hint = format!("did you mean \"{}\"?", nearest(&text, words.into_iter()).unwrap_or_default());
            self.note(key, format!("{text:?}"), format!("one of {}", words.join(", ")), hint);
        }
        choices.into_iter().nth(chosen?).map(|(_, value)| value)
    }

    /// A text that is one of a few words; a default stands in for it.
    pub(super) fn choice_or<T: PartialEq, const N: usize>(
        &mut self,
        key: &'static str,
        choices: [(&'static str, T); N],
        default: T,
    ) -> T {
        let word = choices.iter().find(|(_, value)| *value == default).map(|(word, _)| format!("{word:?}"));
        let chosen = self.choice(key, choices).unwrap_or(default);
        self.absent(key, word.map_or(Absent::Nothing, Absent::Means));
        chosen
    }

    /// A text that must be there and is one of a few words.
    pub(super) fn required_choice<T, const N: usize>(
        &mut self,
        key: &'static str,
        choices: [(&'static str, T); N],
    ) -> Option<T> {
        let words = choices.each_ref().map(|(word, _)| *word).join(", ");
        self.note_missing(key, &format!("one of {words}"), format!("add {key} = \"...\""));
        let chosen = self.choice(key, choices);
        self.absent(key, Absent::Refused);
        chosen
    }

    /// An optional number.
    pub(super) fn number(&mut self, key: &'static str, range: Range) -> Option<f64> {
        let value = self.take(key, Holds::Number(range))?;
        let number = match &value {
            Value::Float(number) => *number,
            Value::Integer(number) => *number as f64,
            Value::String(text) if text.trim().parse::<f64>().is_ok() => {
                let hint = format!("write {key} = {} without quotes", text.trim());
                self.note(key, describe(&value), range.words(), hint);
                return None;
            }
            other => {
                self.note(key, describe(other), range.words(), "write a plain number; the key's name says the unit");
                return None;
            }
        };
        if !range.holds(number) {
            let found = if value.is_float() && number.is_finite() { format!("{number:?}") } else { value.to_string() };
            self.note(key, found, range.words(), "correct the number");
            return None;
        }
        Some(number)
    }

    pub(super) fn number_or(&mut self, key: &'static str, range: Range, default: f64) -> f64 {
        let number = self.number(key, range).unwrap_or(default);
        self.absent(key, Absent::Means(default.to_string()));
        number
    }

    /// A number that must be there.
    pub(super) fn required_number(&mut self, key: &'static str, range: Range) -> f64 {
        self.note_missing(key, &range.words(), format!("add {key} = ..."));
        let number = self.number(key, range).unwrap_or_default();
        self.absent(key, Absent::Refused);
        number
    }

    /// An optional file, which must exist where it is named.
    pub(super) fn optional_source(&mut self, key: &'static str) -> Option<Source> {
        let given = self.text_that(key, Holds::File)?;
        self.find(key, given)
    }

    /// A file that must be named and must exist.
    pub(super) fn source(&mut self, key: &'static str) -> Source {
        self.note_missing(key, "the path of a file", format!("add {key} = \"...\", relative to the case file"));
        let source = self.optional_source(key).unwrap_or_default();
        self.absent(key, Absent::Refused);
        source
    }

    /// The file of a layer of polygons, and whether they are mended.
    pub(super) fn polygon_source(&mut self) -> Source {
        let source = self.source("source");
        Source { repair: self.flag("repair"), ..source }
    }

    /// A file of polygons, by its path alone or by a table that names the layer too.
    pub(super) fn polygon_layer(&mut self, key: &'static str) -> Option<(Source, Option<String>)> {
        match self.take(key, Holds::PolygonLayer)? {
            Value::Table(values) => {
                let read = |table: &mut Table| (table.polygon_source(), table.text("layer"));
                Table::read_sound(self.notes, dotted(&self.key, key), values, read)
            }
            Value::String(given) => Some((self.find(key, given)?, None)),
            other => {
                let hint = format!("write {key} = \"...\", or {key} = {{ source = \"...\", layer = \"...\" }}");
                self.note(key, describe(&other), "the path of a file, or a table with a source", hint);
                None
            }
        }
    }

    /// Whether something is asked for; not where the key is absent.
    fn flag(&mut self, key: &'static str) -> bool {
        let value = self.take(key, Holds::Flag);
        self.absent(key, Absent::Means("false".to_owned()));
        match value {
            None => false,
            Some(Value::Boolean(flag)) => flag,
            Some(other) => {
                self.note(key, describe(&other), "true or false, without quotes", format!("write {key} = true"));
                false
            }
        }
    }

    /// Resolves a path that the key gave.
    pub(super) fn find(&mut self, key: &'static str, given: String) -> Option<Source> {
        match source::find(&self.notes.folder, &given) {
            Ok(path) => Some(Source { given, path, repair: false }),
            Err(fault) => {
                self.note_no_file(key, &given, fault);
                None
            }
        }
    }

    /// A list of paths and glob patterns that must be there; every entry as given, and the files in the order of the
    /// list, each once.
    pub(super) fn required_files(&mut self, key: &'static str) -> (Vec<String>, Vec<PathBuf>) {
        self.note_missing(key, "a list of files", format!("add {key} = [\"...\"], relative to the case file"));
        let given = self.texts(key);
        self.absent(key, Absent::Refused);
        let mut files = Vec::new();
        for (key, entry) in &given {
            match source::expand(&self.notes.folder, entry) {
                Ok(found) => files.extend(found),
                Err(fault) => self.note_no_file(key, entry, fault),
            }
        }
        let mut seen = std::collections::BTreeSet::new();
        files.retain(|file| seen.insert(file.clone()));
        (given.into_iter().map(|(_, entry)| entry).collect(), files)
    }

    /// The texts of a list, each with its own key.
    fn texts(&mut self, key: &'static str) -> Vec<(String, String)> {
        match self.take(key, Holds::Files) {
            None => Vec::new(),
            Some(Value::Array(values)) if !values.is_empty() => values
                .into_iter()
                .enumerate()
                .filter_map(|(position, value)| {
                    let key = format!("{key}[{}]", position + 1);
                    match value {
                        Value::String(text) if !text.trim().is_empty() => Some((key, text)),
                        other => {
                            self.note(&key, describe(&other), "the path of a file in quotes", "name the file");
                            None
                        }
                    }
                })
                .collect(),
            Some(value @ Value::String(_)) => {
                self.note(key, describe(&value), "a list", format!("write {key} = [{value}]"));
                Vec::new()
            }
            Some(value) => {
                self.note(key, describe(&value), "a list of files", format!("write {key} = [\"...\"]"));
                Vec::new()
            }
        }
    }

    /// An optional table.
    pub(super) fn table<T>(&mut self, key: &'static str, read: impl FnOnce(&mut Table) -> T) -> Option<T> {
        let values = self.take(key, Holds::Table).map(|value| self.as_table(key, value))??;
        Table::read_sound(self.notes, dotted(&self.key, key), values, read)
    }

    /// A table whose absence means the same as an empty one.
    pub(super) fn table_or_empty<T>(&mut self, key: &'static str, read: impl FnOnce(&mut Table) -> T) -> T {
        let values = self.take(key, Holds::Table).and_then(|value| self.as_table(key, value)).unwrap_or_default();
        Table::read_at(self.notes, dotted(&self.key, key), values, read)
    }

    fn as_table(&mut self, key: &'static str, value: Value) -> Option<toml::Table> {
        let hint = match value {
            Value::Table(values) => return Some(values),
            Value::Array(ref entries) if entries.len() > 1 => {
                format!("keep one of them, under [{key}] in single brackets")
            }
            Value::Array(_) => format!("write [{key}] in single brackets"),
            _ => format!("write [{key}] on a line of its own and its keys below"),
        };
        self.note(key, describe(&value), "one table", hint);
        None
    }

    /// Any number of tables, but for those in which some value is wrong or missing.
    pub(super) fn tables<T>(&mut self, key: &'static str, mut read: impl FnMut(&mut Table) -> T) -> Vec<T> {
        let entries = match self.take(key, Holds::Tables) {
            None => return Vec::new(),
            Some(Value::Array(entries)) => entries,
            Some(value) => {
                self.note(key, describe(&value), "a list of tables", format!("write [[{key}]] in double brackets"));
                return Vec::new();
            }
        };
        let mut results = Vec::new();
        for (position, entry) in entries.into_iter().enumerate() {
            let key = self.dotted(&format!("{key}[{}]", position + 1));
            match entry {
                Value::Table(values) => results.extend(Table::read_sound(self.notes, key, values, &mut read)),
                other => self.notes.note(&key, describe(&other), "a table", "give each entry its own keys"),
            }
        }
        results
    }

    pub(super) fn has(&self, key: &str) -> bool {
        self.values.contains_key(key)
    }

    /// Notes a fault of this table's key.
    pub(super) fn note(&mut self, key: &str, found: String, expected: impl Into<String>, hint: impl Into<String>) {
        let key = self.dotted(key);
        self.notes.note(&key, found, expected, hint);
    }

    fn take(&mut self, key: &'static str, holds: Holds) -> Option<Value> {
        self.known.push(Key { name: key, holds, absent: Absent::Nothing });
        self.values.remove(key)
    }

    /// Says what the absence of a key means that was asked for.
    fn absent(&mut self, key: &'static str, absent: Absent) {
        if let Some(known) = self.known.iter_mut().find(|known| known.name == key) {
            known.absent = absent;
        }
    }

    pub(super) fn dotted(&self, key: &str) -> String {
        dotted(&self.key, key)
    }

    fn note_missing(&mut self, key: &str, expected: &str, hint: String) {
        if !self.has(key) {
            self.note(key, "no such key".to_owned(), expected, hint);
        }
    }

    fn note_no_file(&mut self, key: &str, given: &str, fault: NoFile) {
        let found = format!("{given:?}");
        match fault {
            NoFile::Missing { looked_at } => self.note(
                key,
                format!("{found}, which does not exist"),
                format!("a file at \"{}\"", looked_at.to_string_lossy().escape_debug()),
                "correct the path, which is relative to the case file, or put the file there",
            ),
            NoFile::Special { looked_at } => self.note(
                key,
                format!("{found}, which is a pipe or a device"),
                format!("a file at \"{}\"", looked_at.to_string_lossy().escape_debug()),
                "save the data to a file and name that",
            ),
            NoFile::NoMatch => self.note(
                key,
                format!("{found}, which matches no file"),
                "a pattern that matches some files",
                "correct the pattern, which is relative to the case file",
            ),
            NoFile::Pattern { reason } => {
                self.note(
                    key,
                    format!("{found}, which is no pattern: {reason}"),
                    "a pattern with * ? or [ ]",
                    "correct the pattern",
                );
            }
            NoFile::Unreadable { reason } => {
                self.note(key, format!("{found}: {reason}"), "folders that can be read", "check the permissions");
            }
        }
    }

    fn note_unknown_keys(&mut self) {
        let known: Vec<&str> = self.known.iter().map(|known| known.name).collect();
        let expected = format!("one of {}", known.join(", "));
        for key in std::mem::take(&mut self.values).keys() {
            let nearest = nearest(key, known.iter().copied()).unwrap_or_default();
            let (found, hint) = ("an unknown key", format!("did you mean {nearest}?"));
            let near = meant(key, known.iter().copied()).map(|near| dotted(&self.key, near));
            let key = self.dotted(&key.escape_debug().to_string());
            self.notes.problems.push(Problem::in_file(&self.notes.file, found, &expected, hint).at_key(key));
            self.notes.doubtful.extend(near);
        }
    }
}

fn dotted(table: &str, key: &str) -> String {
    if table.is_empty() { key.to_owned() } else { format!("{table}.{key}") }
}

fn describe(value: &Value) -> String {
    match value {
        Value::String(text) => format!("the text {text:?}"),
        Value::Integer(_) | Value::Float(_) => format!("the number {value}"),
        Value::Boolean(_) => format!("{value}"),
        Value::Datetime(_) => format!("the date {value}"),
        Value::Array(entries) => format!("a list of {}", entries.len()),
        Value::Table(_) => "a table".to_owned(),
    }
}
