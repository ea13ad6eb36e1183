//! The JSON Schema of one record, derived from its struct.

use schemars::generate::SchemaSettings;
use schemars::transform::{Transform, transform_subschemas};
use schemars::{JsonSchema, Schema};
use serde_json::{Value, json};

/// Closed objects, no formats of one programming language.
pub(crate) fn record<R: JsonSchema>() -> Schema {
    SchemaSettings::draft2020_12()
        .for_serialize()
        .with(|settings| {
            settings.inline_subschemas = true;
            settings.meta_schema = None;
        })
        .with_transform(Closed)
        .into_generator()
        .into_root_schema_for::<R>()
}

/// The names of a record's members, in the order in which they are written.
pub(crate) fn member_names<R: JsonSchema>() -> Vec<String> {
    let schema = record::<R>();
    schema
        .get("properties")
        .and_then(Value::as_object)
        .into_iter()
        .flat_map(|members| members.keys().cloned())
        .collect()
}

/// The values of a code that may be absent.
pub(crate) fn or_null<const N: usize>(codes: [&'static str; N]) -> Vec<Option<&'static str>> {
    codes.into_iter().map(Some).chain([None]).collect()
}

/// Closes every object with named members, writes descriptions on one line and leaves out number formats.
#[derive(Clone, Debug)]
struct Closed;

impl Transform for Closed {
    fn transform(&mut self, schema: &mut Schema) {
        transform_subschemas(self, schema);
        schema.remove("format");
        if let Some(description) = schema.get("description").and_then(Value::as_str) {
            let on_one_line = description.replace('\n', " ");
            schema.insert("description".to_owned(), json!(on_one_line));
        }
        if schema.get("properties").is_some() {
            schema.insert("additionalProperties".to_owned(), json!(false));
        }
    }
}
