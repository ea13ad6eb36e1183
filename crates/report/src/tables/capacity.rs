//! `capacity.csv`: the records of `capacity.geojson` as a table.

use serde_json::Value;

use super::csv_text::as_csv_text;
use super::rows::text_of;
use crate::layer::Record;
use crate::records::capacity::CapacityProperties;

/// The properties of all links but their cautions; lists have `; ` between their entries.
pub(crate) fn capacity_csv(records: &[Record<CapacityProperties>]) -> String {
    let mut csv = csv::Writer::from_writer(Vec::new());
    for (number, record) in records.iter().enumerate() {
        let Value::Object(mut properties) =
            serde_json::to_value(&record.properties).expect("plain values have a JSON form")
        else {
            unreachable!("properties are structs")
        };
        properties.shift_remove("caution");
        if number == 0 {
            csv.write_record(properties.keys()).expect("written to memory");
        }
        csv.write_record(properties.values().map(cell)).expect("rows of one length, written to memory");
    }
    text_of(csv)
}

fn cell(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => as_csv_text(text),
        Value::Array(list) => {
            let entries: Vec<&str> = list.iter().filter_map(Value::as_str).collect();
            as_csv_text(&entries.join("; "))
        }
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn values_become_cells() {
        let check = |value: Value, expected| assert_eq!(cell(&value), expected);
        check(json!(null), "");
        check(json!("=1+1"), "'=1+1");
        check(json!(["@a", "b"]), "'@a; b");
        check(json!([]), "");
        check(json!(-1.5), "-1.5");
        check(json!(12.0), "12.0");
    }
}
