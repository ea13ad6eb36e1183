//! Reads a profile from TOML and lists everything that is wrong with it.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use thiserror::Error;
use toml::{Table, Value};

use super::petition;
use super::{
    Ask, Buffer, Class, ClassKind, ConstraintRule, Minimums, Notice, Profile, Provision, Sourced, UnmappedChannel,
    WayRule,
};
use crate::WayKind;

/// A profile that was refused, with all its problems.
#[derive(Clone, Debug, PartialEq, Error)]
pub struct ProfileError {
    pub problems: Vec<ProfileProblem>,
}

impl fmt::Display for ProfileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("the rule profile is refused:")?;
        self.problems.iter().try_for_each(|problem| write!(f, "\n  {problem}"))
    }
}

/// One problem of a profile; `at` names the place in it.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum ProfileProblem {
    #[error("not readable as TOML: {message}")]
    NotToml { message: String },
    #[error("{at}: key `{key}` is missing; add it")]
    Missing { at: String, key: String },
    #[error("{at}: unknown key `{key}`; known keys here are {known}")]
    Unknown { at: String, key: String, known: String },
    #[error("{at}: `{key}` is {found}, expected {expected}")]
    Unexpected { at: String, key: String, found: String, expected: String },
    #[error("{at}: `{id}` is given twice; keep one")]
    Twice { at: String, id: String },
    #[error("{at}: source `{found}` is not listed; add a [[source]] with this id")]
    NoSuchSource { at: String, found: String },
    #[error("{at}: class `{found}` is not listed; known classes are {known}")]
    NoSuchClass { at: String, found: String, known: String },
}

/// Values that a problem left out are replaced by empty ones, so that reading goes on and finds every other problem; a
/// profile with a problem is never returned.
pub(super) fn read(text: &str) -> Result<Profile, ProfileError> {
    let table: Table = text.parse().map_err(|error: toml::de::Error| ProfileError {
        problems: vec![ProfileProblem::NotToml { message: error.to_string().trim().to_owned() }],
    })?;
    let mut problems = Problems::default();
    let profile = profile(table, &mut problems);
    if problems.list.is_empty() { Ok(profile) } else { Err(ProfileError { problems: problems.list }) }
}

#[derive(Default)]
pub(super) struct Problems {
    list: Vec<ProfileProblem>,
    sources: BTreeMap<String, String>,
}

fn profile(table: Table, problems: &mut Problems) -> Profile {
    let mut part = ProfileTable::new("the profile", table, problems);
    let sources = part.parts("source", "id");
    let ask = part.part("ask");
    let (minimums, unmapped_channel) = (part.part("minimums"), part.part("unmapped_channel"));
    let buffer = part.optional_part("buffer");
    let (classes, ways) = (part.parts("class", "id"), part.parts("way", "id"));
    let constraints = part.optional_parts("constraint", "kind");
    let (petition, remonstrance) = (part.optional_part("petition"), part.optional_part("remonstrance"));
    let (id, name) = (part.text("id"), part.text("name"));
    part.close();
    problems.sources = sources.into_iter().map(|(at, table)| source(&at, table, problems)).collect();
    let profile = Profile {
        id,
        name,
        ask: read_ask(ask, problems),
        minimums: read_minimums(minimums, problems),
        unmapped_channel: read_unmapped_channel(unmapped_channel, problems),
        buffer: buffer.map(|table| read_buffer(table, problems)),
        petition: petition::law(petition, remonstrance, problems),
        classes: classes.into_iter().map(|(at, table)| class(&at, table, problems)).collect(),
        ways: ways.into_iter().filter_map(|(at, table)| way(&at, table, problems)).collect(),
        constraints: constraints.into_iter().map(|(at, table)| constraint(&at, table, problems)).collect(),
    };
    known_classes(&profile, problems);
    once("[[class]]", profile.class_ids(), problems);
    once("[[way]]", profile.ways.iter().map(|rule| rule.way.code()), problems);
    once("[[constraint]]", profile.constraints.iter().map(|rule| rule.kind.as_str()), problems);
    profile
}

fn source(at: &str, table: Table, problems: &mut Problems) -> (String, String) {
    let mut part = ProfileTable::new(at, table, problems);
    let source = (part.text("id"), part.text("text"));
    part.close();
    source
}

fn read_ask(table: Table, problems: &mut Problems) -> Ask {
    let mut part = ProfileTable::new("[ask]", table, problems);
    let [drains, records, titles, waters] = ["drains", "records", "titles", "waters"].map(|key| part.text(key));
    let ask = Ask { drains, records, titles, waters };
    part.close();
    ask
}

fn read_minimums(table: Table, problems: &mut Problems) -> Minimums {
    let mut part = ProfileTable::new("[minimums]", table, problems);
    let minimums = Minimums {
        missing_elevation_ha: part.sourced("missing_elevation_ha"),
        missing_elevation_fraction: part.sourced("missing_elevation_fraction"),
        excess_ha: part.sourced("excess_ha"),
        excess_fraction: part.sourced("excess_fraction"),
        frontage_m: part.sourced("frontage_m"),
        filled_m: part.sourced("filled_m"),
        filled_ha: part.sourced("filled_ha"),
        doubtful_fraction: part.sourced("doubtful_fraction"),
        cells_across: part.sourced("cells_across"),
    };
    part.close();
    minimums
}

fn read_unmapped_channel(table: Table, problems: &mut Problems) -> UnmappedChannel {
    let mut part = ProfileTable::new("[unmapped_channel]", table, problems);
    let test = UnmappedChannel {
        contributing_ha: part.sourced("contributing_ha"),
        depth_m: part.sourced("depth_m"),
        bank_distance_m: part.sourced("bank_distance_m"),
        length_m: part.sourced("length_m"),
        cells_to_bank: part.sourced("cells_to_bank"),
    };
    part.close();
    test
}

fn read_buffer(table: Table, problems: &mut Problems) -> Buffer {
    let mut part = ProfileTable::new("[buffer]", table, problems);
    let buffer = Buffer {
        width_m: part.sourced("width_m"),
        confirmed: part.yes_no("confirmed"),
        classes: part.texts("classes"),
    };
    part.close();
    buffer
}

fn known_classes(profile: &Profile, problems: &mut Problems) {
    for class in profile.buffer.iter().flat_map(|buffer| &buffer.classes) {
        if profile.class(class).is_none() {
            let known = profile.class_ids().collect::<Vec<_>>().join(", ");
            problems.list.push(ProfileProblem::NoSuchClass { at: "[buffer]".to_owned(), found: class.clone(), known });
        }
    }
}

fn class(at: &str, table: Table, problems: &mut Problems) -> Class {
    let mut part = ProfileTable::new(at, table, problems);
    let class = Class {
        id: part.text("id"),
        label: part.text("label"),
        kind: part.one_of("kind", &ClassKind::ALL, ClassKind::code).unwrap_or(ClassKind::Ditch),
        provision: part.one_of("provision", &Provision::ALL, Provision::code).unwrap_or(Provision::None),
        confers: part.text("confers"),
        source: part.source("source"),
        confirmed: part.yes_no("confirmed"),
        lawful_outlet: part.yes_no("lawful_outlet"),
        maintained_by: part.text("maintained_by"),
        notified: part.notice("notified"),
    };
    part.close();
    class
}

fn way(at: &str, table: Table, problems: &mut Problems) -> Option<WayRule> {
    let mut part = ProfileTable::new(at, table, problems);
    let way = part.one_of("id", &WayKind::ALL, WayKind::code);
    let (label, source, confirmed) = (part.text("label"), part.source("source"), part.yes_no("confirmed"));
    let (consent, documents) = (part.yes_no("consent"), part.texts("documents"));
    let (steps, if_refused) = (part.texts("steps"), part.text("if_refused"));
    part.close();
    Some(WayRule { way: way?, label, source, confirmed, consent, documents, steps, if_refused })
}

fn constraint(at: &str, table: Table, problems: &mut Problems) -> ConstraintRule {
    let mut part = ProfileTable::new(at, table, problems);
    let rule = ConstraintRule {
        kind: part.text("kind"),
        label: part.text("label"),
        ask: part.text("ask"),
        source: part.source("source"),
        confirmed: part.yes_no("confirmed"),
    };
    part.close();
    rule
}

pub(super) fn once<'a>(at: &str, ids: impl Iterator<Item = &'a str>, problems: &mut Problems) {
    let mut seen = BTreeSet::new();
    for id in ids.filter(|id| !id.is_empty()) {
        if !seen.insert(id) {
            problems.list.push(ProfileProblem::Twice { at: at.to_owned(), id: id.to_owned() });
        }
    }
}

/// One table of the profile, its keys taken one after another; [`ProfileTable::close`] reports those left over.
pub(super) struct ProfileTable<'p> {
    at: String,
    table: Table,
    known: Vec<&'static str>,
    problems: &'p mut Problems,
}

impl<'p> ProfileTable<'p> {
    pub(super) fn new(at: &str, table: Table, problems: &'p mut Problems) -> Self {
        Self { at: at.to_owned(), table, known: Vec::new(), problems }
    }

    pub(super) fn close(mut self) {
        let known = self.known.join(", ");
        for key in std::mem::take(&mut self.table).into_iter().map(|(key, _)| key) {
            self.problems.list.push(ProfileProblem::Unknown { at: self.at.clone(), key, known: known.clone() });
        }
    }

    fn take(&mut self, key: &'static str) -> Option<Value> {
        self.known.push(key);
        let value = self.table.remove(key);
        if value.is_none() {
            self.problems.list.push(ProfileProblem::Missing { at: self.at.clone(), key: key.to_owned() });
        }
        value
    }

    pub(super) fn unexpected(&mut self, key: &str, found: impl Into<String>, expected: impl Into<String>) {
        let (at, key) = (self.at.clone(), key.to_owned());
        self.problems.list.push(ProfileProblem::Unexpected { at, key, found: found.into(), expected: expected.into() });
    }

    pub(super) fn text(&mut self, key: &'static str) -> String {
        match self.take(key) {
            Some(Value::String(text)) if !text.trim().is_empty() => return text,
            Some(other) => self.unexpected(key, shown(&other), "text that is not empty"),
            None => {}
        }
        String::new()
    }

    pub(super) fn yes_no(&mut self, key: &'static str) -> bool {
        match self.take(key) {
            Some(Value::Boolean(flag)) => return flag,
            Some(other) => self.unexpected(key, shown(&other), "true or false"),
            None => {}
        }
        false
    }

    fn texts(&mut self, key: &'static str) -> Vec<String> {
        match self.take(key) {
            Some(Value::Array(values)) if !values.is_empty() && values.iter().all(Value::is_str) => {
                return values.iter().filter_map(|value| value.as_str().map(str::to_owned)).collect();
            }
            Some(other) => self.unexpected(key, shown(&other), "a list of texts, at least one"),
            None => {}
        }
        Vec::new()
    }

    pub(super) fn one_of<T: Copy>(
        &mut self,
        key: &'static str,
        all: &[T],
        code: impl Fn(T) -> &'static str,
    ) -> Option<T> {
        let found = self.take(key)?;
        let chosen = all.iter().copied().find(|&item| found.as_str() == Some(code(item)));
        if chosen.is_none() {
            let codes: Vec<_> = all.iter().map(|&item| code(item)).collect();
            self.unexpected(key, shown(&found), format!("one of {}", codes.join(", ")));
        }
        chosen
    }

    /// The text of the source whose id stands at `key`.
    pub(super) fn source(&mut self, key: &'static str) -> String {
        let id = self.text(key);
        match self.problems.sources.get(&id) {
            Some(text) => return text.clone(),
            None if id.is_empty() => {}
            None => self.problems.list.push(ProfileProblem::NoSuchSource { at: self.at.clone(), found: id }),
        }
        String::new()
    }

    pub(super) fn sourced(&mut self, key: &'static str) -> Sourced {
        let at = format!("{} {key}", self.at);
        let table = self.part(key);
        if table.is_empty() {
            return Sourced { value: 0.0, source: String::new() };
        }
        let mut part = ProfileTable::new(&at, table, self.problems);
        let sourced = Sourced { value: part.number("value"), source: part.source("source") };
        part.close();
        sourced
    }

    fn notice(&mut self, key: &'static str) -> Notice {
        let at = format!("{} {key}", self.at);
        let table = self.part(key);
        if table.is_empty() {
            return Notice { who: String::new(), source: String::new(), confirmed: false };
        }
        let mut part = ProfileTable::new(&at, table, self.problems);
        let notice =
            Notice { who: part.text("who"), source: part.source("source"), confirmed: part.yes_no("confirmed") };
        part.close();
        notice
    }

    fn number(&mut self, key: &'static str) -> f64 {
        let Some(found) = self.take(key) else { return 0.0 };
        let number = found.as_float().or_else(|| found.as_integer().map(|whole| whole as f64));
        match number {
            Some(number) if number.is_finite() && number > 0.0 => number,
            _ => {
                self.unexpected(key, shown(&found), "a number above 0");
                0.0
            }
        }
    }

    pub(super) fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// Leaves a key out that is reported already.
    pub(super) fn drop(&mut self, key: &'static str) {
        self.known.push(key);
        self.table.remove(key);
    }

    /// A whole number above 0.
    pub(super) fn whole(&mut self, key: &'static str) -> Option<u64> {
        let found = self.take(key)?;
        let whole = found.as_integer().and_then(|whole| u64::try_from(whole).ok()).filter(|&whole| whole > 0);
        if whole.is_none() {
            self.unexpected(key, shown(&found), "a whole number above 0");
        }
        whole
    }

    fn part(&mut self, key: &'static str) -> Table {
        match self.take(key) {
            Some(Value::Table(table)) => return table,
            Some(other) => self.unexpected(key, shown(&other), "a table"),
            None => {}
        }
        Table::new()
    }

    /// A table that may be left out.
    fn optional_part(&mut self, key: &'static str) -> Option<Table> {
        if !self.has(key) {
            self.known.push(key);
            return None;
        }
        Some(self.part(key))
    }

    /// The tables of a list that may be left out, each with its place.
    pub(super) fn optional_parts(&mut self, key: &'static str, named_by: &str) -> Vec<(String, Table)> {
        if !self.has(key) {
            self.known.push(key);
            return Vec::new();
        }
        self.parts(key, named_by)
    }

    /// The tables of a list, each with its place, in which the value of one of its keys names it.
    pub(super) fn parts(&mut self, key: &'static str, named_by: &str) -> Vec<(String, Table)> {
        let Some(found) = self.take(key) else { return Vec::new() };
        let tables = match found {
            Value::Array(values) if !values.is_empty() && values.iter().all(Value::is_table) => values,
            other => {
                self.unexpected(key, shown(&other), "tables headed by the key in double brackets");
                return Vec::new();
            }
        };
        // A list within a table `[petition]` is headed `[[petition.test]]`.
        let within = self.at.strip_prefix('[').and_then(|at| at.strip_suffix(']'));
        let heading = within.map_or_else(|| key.to_owned(), |within| format!("{within}.{key}"));
        let place = |number: usize, table: &Table| match table.get(named_by).and_then(Value::as_str) {
            Some(id) => format!("[[{heading}]] `{id}`"),
            None => format!("[[{heading}]] number {}", number + 1),
        };
        let tables =
            tables.into_iter().filter_map(|value| if let Value::Table(table) = value { Some(table) } else { None });
        tables.enumerate().map(|(number, table)| (place(number, &table), table)).collect()
    }
}

fn shown(value: &Value) -> String {
    match value {
        Value::Table(_) => "a table".to_owned(),
        Value::Array(_) => "a list".to_owned(),
        other => other.to_string(),
    }
}

#[cfg(test)]
#[path = "read_tests.rs"]
mod tests;
