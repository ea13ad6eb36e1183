//! JSON Schemas of the outputs, and the field dictionary made from them.

use std::fmt::Write;

use serde_json::Value;

/// File name of each output with its schema (JSON Schema, draft 2020-12).
pub const SCHEMAS: [(&str, &str); 11] = [
    ("parcels.geojson", include_str!("../schema/parcels.schema.json")),
    ("paths.geojson", include_str!("../schema/paths.schema.json")),
    ("crossings.geojson", include_str!("../schema/crossings.schema.json")),
    ("reaches.geojson", include_str!("../schema/reaches.schema.json")),
    ("watersheds.geojson", include_str!("../schema/watersheds.schema.json")),
    ("watershed.geojson", include_str!("../schema/watershed.schema.json")),
    ("links.geojson", include_str!("../schema/links.schema.json")),
    ("capacity.geojson", include_str!("../schema/capacity.schema.json")),
    ("buffers.geojson", include_str!("../schema/buffers.schema.json")),
    ("terrain_changes.geojson", include_str!("../schema/terrain_changes.schema.json")),
    ("run.json", include_str!("../schema/run.schema.json")),
];

/// The field dictionary in Markdown: for each output its fields, types and meanings, as the schemas say them.
pub fn field_dictionary() -> String {
    let mut text = String::from("# Field dictionary\n\nMade from the JSON Schemas under `crates/report/schema/`.\n");
    for (file, schema) in SCHEMAS {
        let schema: Value = serde_json::from_str(schema).expect("shipped schemas are JSON");
        let _ = write!(text, "\n## `{file}`\n\n{}\n\n", schema["description"].as_str().unwrap_or_default());
        text.push_str("| field | type | meaning |\n|---|---|---|\n");
        let features = &schema["properties"]["features"]["items"]["properties"]["properties"];
        push_fields(&mut text, "", if features.is_null() { &schema } else { features });
    }
    text
}

fn push_fields(text: &mut String, prefix: &str, schema: &Value) {
    for (name, field) in schema["properties"].as_object().into_iter().flatten() {
        let meaning = field["description"].as_str().unwrap_or_default();
        let _ = writeln!(text, "| `{prefix}{name}` | {} | {meaning} |", kind(field));
        let inner = if field["items"].is_object() { &field["items"] } else { field };
        push_fields(text, &format!("{prefix}{name}."), inner);
    }
}

fn kind(field: &Value) -> String {
    let one = |kind: &Value| kind.as_str().unwrap_or_default().to_owned();
    if let Some(values) = field["enum"].as_array() {
        return values
            .iter()
            .map(|value| format!("`{}`", value.as_str().unwrap_or("null")))
            .collect::<Vec<_>>()
            .join(", ");
    }
    match &field["type"] {
        Value::Array(kinds) => kinds.iter().map(one).collect::<Vec<_>>().join(" or "),
        kind => one(kind),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_schema_is_sound() {
        for (file, schema) in SCHEMAS {
            let schema = serde_json::from_str(schema).unwrap();
            assert!(jsonschema::meta::is_valid(&schema), "{file}");
        }
    }

    #[test]
    fn every_field_has_a_meaning() {
        for line in field_dictionary().lines().filter(|line| line.starts_with("| `")) {
            assert!(!line.ends_with("|  |"), "{line}");
        }
    }

    /// `docs/fields.md` is this dictionary; write it anew with `FALLWRIGHT_WRITE_DOCS=1 cargo test -p fallwright-report`.
    #[test]
    fn the_docs_hold_this_dictionary() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/fields.md");
        if std::env::var_os("FALLWRIGHT_WRITE_DOCS").is_some() {
            std::fs::write(path, field_dictionary()).unwrap();
        }
        let is_current = std::fs::read_to_string(path).unwrap_or_default() == field_dictionary();
        assert!(is_current, "docs/fields.md is out of date; write it anew as said above");
    }
}
