//! JSON Schemas of the outputs, and the field dictionary made from them.

use std::fmt::Write;

use schemars::{JsonSchema, Schema, json_schema};
use serde_json::{Value, json};

use crate::record_schema::record;
use crate::records::buffer::BufferProperties;
use crate::records::capacity::CapacityProperties;
use crate::records::crossing::CrossingProperties;
use crate::records::link::LinkProperties;
use crate::records::parcel::ParcelProperties;
use crate::records::path::PathProperties;
use crate::records::petition::{PetitionLandProperties, PetitionRecord, SuggestedLandProperties};
use crate::records::reach::ReachProperties;
use crate::records::run::RunProperties;
use crate::records::terrain_change::TerrainChangeProperties;
use crate::records::watershed::{WatershedPartProperties, WatershedProperties};
use crate::tables::petition::{PetitionRow, PetitionTestRow, SignatureRow};
use crate::tables::{FallRow, ProfileRow, WatershedLandRow, WatershedParcelRow};

/// Each output file with its schema (JSON Schema, draft 2020-12), derived from the records of this crate.
pub fn schemas() -> Vec<(&'static str, Schema)> {
    vec![
        ("parcels.geojson", collection::<ParcelProperties>(&AREAS)),
        ("paths.geojson", collection::<PathProperties>(&["LineString"])),
        ("crossings.geojson", collection::<CrossingProperties>(&["Point"])),
        ("reaches.geojson", collection::<ReachProperties>(&["LineString"])),
        ("watersheds.geojson", collection::<WatershedProperties>(&AREAS)),
        ("watershed.geojson", collection::<WatershedPartProperties>(&AREAS)),
        ("links.geojson", collection::<LinkProperties>(&["LineString"])),
        ("capacity.geojson", collection::<CapacityProperties>(&["LineString"])),
        ("buffers.geojson", collection::<BufferProperties>(&AREAS)),
        (
            "terrain_changes.geojson",
            collection::<TerrainChangeProperties>(&["Polygon", "MultiPolygon", "LineString", "MultiLineString"]),
        ),
        ("petition.json", record::<PetitionRecord>()),
        ("petition.geojson", collection::<PetitionLandProperties>(&AREAS)),
        ("area.geojson", collection::<SuggestedLandProperties>(&AREAS)),
        ("run.json", record::<RunProperties>()),
    ]
    .into_iter()
    .map(|(file, schema)| (file, published(file, schema)))
    .collect()
}

const DIALECT: &str = "https://json-schema.org/draft/2020-12/schema";
const AREAS: [&str; 2] = ["Polygon", "MultiPolygon"];

/// The schema of a `FeatureCollection` (RFC 7946) whose features have the properties `P` and one of the geometries or none.
fn collection<P: JsonSchema>(geometries: &[&str]) -> Schema {
    let mut properties = record::<P>();
    properties.remove("title");
    let description = properties.remove("description");
    let geometries = geometries.iter().map(|kind| {
        json!({
            "type": "object",
            "required": ["type", "coordinates"],
            "properties": { "type": { "const": kind }, "coordinates": { "type": "array" } },
        })
    });
    let geometries: Vec<Value> = std::iter::once(json!({ "type": "null" })).chain(geometries).collect();
    json_schema!({
        "description": description,
        "type": "object",
        "required": ["type", "features"],
        "not": { "required": ["crs"] },
        "properties": {
            "type": { "const": "FeatureCollection", "description": "RFC 7946" },
            "name": { "type": "string" },
            "features": {
                "type": "array",
                "items": {
                    "type": "object",
                    "required": ["type", "geometry", "properties"],
                    "properties": {
                        "type": { "const": "Feature" },
                        "geometry": { "oneOf": geometries },
                        "properties": properties,
                    },
                },
            },
        },
    })
}

/// With its dialect and the name of its file.
fn published(file: &str, mut schema: Schema) -> Schema {
    let members = schema.ensure_object();
    members.shift_remove("title");
    members.shift_insert(0, "$schema".to_owned(), json!(DIALECT));
    members.shift_insert(1, "title".to_owned(), json!(stem(file)));
    schema
}

/// The name of a file's schema; a record beside a layer of the same name has one of its own.
fn stem(file: &str) -> &str {
    match file {
        "petition.json" => "petition_count",
        _ => file.split('.').next().unwrap_or(file),
    }
}

/// The field dictionary in Markdown: for each output its fields, types and meanings, as the schemas say them.
pub fn field_dictionary() -> String {
    let mut text = String::from(
        "# Field dictionary\n\nMade from the JSON Schemas under `crates/report/schema/` and the rows of the tables.\n",
    );
    let tables = [
        ("watershed_parcels.csv", record::<WatershedParcelRow>()),
        ("watershed_lands.csv", record::<WatershedLandRow>()),
        ("fall.csv", record::<FallRow>()),
        ("petition.csv", record::<PetitionRow>()),
        ("petition_tests.csv", record::<PetitionTestRow>()),
        ("signatures.csv", record::<SignatureRow>()),
        ("profile_*.csv", record::<ProfileRow>()),
    ];
    for (file, schema) in schemas().into_iter().chain(tables) {
        let schema = schema.to_value();
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
        for (file, schema) in schemas() {
            assert!(jsonschema::meta::is_valid(schema.as_value()), "{file}");
        }
    }

    #[test]
    fn every_field_has_a_meaning() {
        for line in field_dictionary().lines().filter(|line| line.starts_with("| `")) {
            assert!(!line.ends_with("|  |"), "{line}");
        }
    }

    /// The files made from the records; write them anew with `FALLWRIGHT_WRITE_DOCS=1 cargo test -p fallwright-report`.
    #[track_caller]
    fn check_published(path: &str, expected: &str) {
        let path = format!("{}/{path}", env!("CARGO_MANIFEST_DIR"));
        if std::env::var_os("FALLWRIGHT_WRITE_DOCS").is_some() {
            std::fs::write(&path, expected).unwrap();
        }
        let is_current = std::fs::read_to_string(&path).unwrap_or_default() == expected;
        assert!(is_current, "{path} is out of date; write it anew as said above");
    }

    #[test]
    fn published_schemas_are_current() {
        for (file, schema) in schemas() {
            let text = serde_json::to_string_pretty(&schema).unwrap() + "\n";
            check_published(&format!("schema/{}.schema.json", stem(file)), &text);
        }
    }

    #[test]
    fn published_dictionary_is_current() {
        check_published("../../docs/fields.md", &field_dictionary());
    }

    #[test]
    fn published_rules_are_current() {
        check_published("../../docs/rules.md", &crate::rules_page::rules_page());
    }

    /// One record of `watersheds.geojson` with a member changed.
    #[track_caller]
    fn check(change: impl Fn(&mut Value), is_valid: bool) {
        let properties = json!({ "outlet_id": "D-07", "name": null, "class": "municipal_drain", "area_ha": 1.5 });
        let feature = json!({ "type": "Feature", "geometry": null, "properties": properties });
        let mut layer = json!({ "type": "FeatureCollection", "features": [feature] });
        change(&mut layer);
        let schema = collection::<WatershedProperties>(&AREAS);
        assert_eq!(jsonschema::is_valid(schema.as_value(), &layer), is_valid, "{layer}");
    }

    #[test]
    fn layers_are_closed_and_complete() {
        let properties = "/features/0/properties";
        check(|_| (), true);
        check(|layer| layer["crs"] = json!({}), false);
        check(|layer| layer["features"][0]["geometry"] = json!({ "type": "Point", "coordinates": [0, 0] }), false);
        check(|layer| layer["features"][0]["geometry"] = json!({ "type": "Polygon", "coordinates": [] }), true);
        check(|layer| layer.pointer_mut(properties).unwrap()["extra"] = json!(1), false);
        check(|layer| layer.pointer_mut(properties).unwrap()["area_ha"] = json!(-1), false);
        check(|layer| layer.pointer_mut(properties).unwrap()["outlet_id"] = json!(null), false);
        check(|layer| layer.pointer_mut(properties).unwrap()["name"] = json!("Elm"), true);
        let without =
            |layer: &mut Value| layer.pointer_mut(properties).unwrap().as_object_mut().unwrap().remove("name");
        check(|layer| assert!(without(layer).is_some()), false);
    }
}
