//! One table of the case file, read key by key, so that every fault is noted and not only the first.
//!
//! A value that is wrong or missing is noted and replaced by a stand-in; the caller hands the result out only where
//! nothing was noted. A deserializer derived for a whole table would stop at its first fault.

use std::path::PathBuf;

use fallwright_geodata::Problem;
use toml::Value;

use super::source::{self, NoFile, Source};
use crate::nearest::nearest;

/// What was found wrong so far, in one case file.
pub(super) struct Notes {
    file: String,
    folder: PathBuf,
    problems: Vec<Problem>,
}

impl Notes {
    pub(super) fn new(file: String, folder: PathBuf) -> Self {
        Self { file, folder, problems: Vec::new() }
    }

    pub(super) fn into_problems(self) -> Vec<Problem> {
        self.problems
    }

    fn note(&mut self, key: &str, found: String, expected: impl Into<String>, hint: impl Into<String>) {
        self.problems.push(Problem::in_file(&self.file, found, expected, hint).at_key(key));
    }
}

/// The numbers a key may hold; all must be finite.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Range {
    /// 0 to this.
    UpTo(f64),
    /// Above 0 to this.
    AboveZeroUpTo(f64),
}

impl Range {
    fn holds(self, number: f64) -> bool {
        match self {
            Self::UpTo(most) => (0.0..=most).contains(&number),
            Self::AboveZeroUpTo(most) => number > 0.0 && number <= most,
        }
    }

    fn words(self) -> String {
        match self {
            Self::UpTo(most) => format!("a number from 0 to {most}"),
            Self::AboveZeroUpTo(most) => format!("a number above 0, {most} at most"),
        }
    }
}

/// A table whose keys are taken out one after the other; what remains in the end is unknown.
pub(super) struct Table<'a> {
    notes: &'a mut Notes,
    /// Dotted, empty for the whole file.
    key: String,
    values: toml::Table,
    known: Vec<&'static str>,
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
        result
    }

    /// An optional text.
    pub(super) fn text(&mut self, key: &'static str) -> Option<String> {
        match self.take(key)? {
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
        self.text(key).unwrap_or_else(|| default.to_owned())
    }

    /// A text that must be there.
    pub(super) fn required_text(&mut self, key: &'static str) -> String {
        self.note_missing(key, "a text", format!("add {key} = \"...\""));
        self.text(key).unwrap_or_default()
    }

    /// An optional text that is one of a few words.
    pub(super) fn choice<T, const N: usize>(
        &mut self,
        key: &'static str,
        choices: [(&'static str, T); N],
    ) -> Option<T> {
        let text = self.text(key)?;
        let words = choices.each_ref().map(|(word, _)| *word);
        let chosen = choices.into_iter().find(|(word, _)| *word == text);
        if chosen.is_none() {
            let hint = format!("did you mean \"{}\"?", nearest(&text, words.into_iter()).unwrap_or_default());
            self.note(key, format!("{text:?}"), format!("one of {}", words.join(", ")), hint);
        }
        chosen.map(|(_, value)| value)
    }

    /// A text that must be there and is one of a few words.
    pub(super) fn required_choice<T, const N: usize>(
        &mut self,
        key: &'static str,
        choices: [(&'static str, T); N],
    ) -> Option<T> {
        let words = choices.each_ref().map(|(word, _)| *word).join(", ");
        self.note_missing(key, &format!("one of {words}"), format!("add {key} = \"...\""));
        self.choice(key, choices)
    }

    /// An optional number.
    pub(super) fn number(&mut self, key: &'static str, range: Range) -> Option<f64> {
        let value = self.take(key)?;
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

    /// A number that must be there.
    pub(super) fn required_number(&mut self, key: &'static str, range: Range) -> f64 {
        self.note_missing(key, &range.words(), format!("add {key} = ..."));
        self.number(key, range).unwrap_or_default()
    }

    /// An optional file, which must exist where it is named.
    pub(super) fn optional_source(&mut self, key: &'static str) -> Option<Source> {
        let given = self.text(key)?;
        Some(self.find(key, given))
    }

    /// A file that must be named and must exist.
    pub(super) fn source(&mut self, key: &'static str) -> Source {
        self.note_missing(key, "the path of a file", format!("add {key} = \"...\", relative to the case file"));
        self.optional_source(key).unwrap_or_default()
    }

    /// Resolves a path that the key gave.
    pub(super) fn find(&mut self, key: &'static str, given: String) -> Source {
        match source::find(&self.notes.folder, &given) {
            Ok(path) => Source { given, path },
            Err(fault) => {
                self.note_no_file(key, &given, fault);
                Source::default()
            }
        }
    }

    /// A list of paths and glob patterns that must be there; every entry as given, and the files in the order of the
    /// list, each once.
    pub(super) fn required_files(&mut self, key: &'static str) -> (Vec<String>, Vec<PathBuf>) {
        self.note_missing(key, "a list of files", format!("add {key} = [\"...\"], relative to the case file"));
        let given = self.texts(key);
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
        match self.take(key) {
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
        let values = self.take(key).map(|value| self.as_table(key, value))??;
        Some(Table::read_at(self.notes, self.dotted(key), values, read))
    }

    /// A table whose absence means the same as an empty one.
    pub(super) fn table_or_empty<T>(&mut self, key: &'static str, read: impl FnOnce(&mut Table) -> T) -> T {
        let values = self.take(key).and_then(|value| self.as_table(key, value)).unwrap_or_default();
        Table::read_at(self.notes, self.dotted(key), values, read)
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

    /// Any number of tables.
    pub(super) fn tables<T>(&mut self, key: &'static str, mut read: impl FnMut(&mut Table) -> T) -> Vec<T> {
        let entries = match self.take(key) {
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
                Value::Table(values) => results.push(Table::read_at(self.notes, key, values, &mut read)),
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

    fn take(&mut self, key: &'static str) -> Option<Value> {
        self.known.push(key);
        self.values.remove(key)
    }

    fn dotted(&self, key: &str) -> String {
        if self.key.is_empty() { key.to_owned() } else { format!("{}.{key}", self.key) }
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
        for key in std::mem::take(&mut self.values).keys() {
            let nearest = nearest(key, self.known.iter().copied()).unwrap_or_default();
            let expected = format!("one of {}", self.known.join(", "));
            self.note(
                &key.escape_debug().to_string(),
                "an unknown key".to_owned(),
                expected,
                format!("did you mean {nearest}?"),
            );
        }
    }
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
