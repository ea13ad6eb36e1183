//! Tables as the sheets of one workbook: texts as texts, numbers as numbers, no formula.

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, Workbook, Worksheet, XlsxError};
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

use super::csv_text::plain_text;
use crate::record_schema::record;

/// A workbook in the making (Office Open XML, ECMA-376). The bytes depend on the tables alone.
pub(crate) struct Tables {
    workbook: Workbook,
}

impl Tables {
    pub(crate) fn new(title: &str) -> Result<Self, XlsxError> {
        // The day of making is part of the file; this one says nothing.
        let never = ExcelDateTime::from_ymd(2000, 1, 1)?;
        let mut workbook = Workbook::new();
        workbook.set_properties(&DocProperties::new().set_title(title).set_creation_datetime(&never));
        Ok(Self { workbook })
    }

    /// Adds a sheet with a heading and the rows under it.
    pub(crate) fn add<R: Serialize + JsonSchema>(&mut self, name: &str, rows: &[R]) -> Result<(), XlsxError> {
        let sheet = self.workbook.add_worksheet().set_name(name)?;
        let bold = Format::new().set_bold();
        let columns = columns::<R>();
        for (column, (heading, _)) in (0_u16..).zip(&columns) {
            sheet.write_string_with_format(0, column, heading, &bold)?;
        }
        for (number, row) in (1_u32..).zip(rows) {
            let Ok(Value::Object(cells)) = serde_json::to_value(row) else {
                unreachable!("rows are structs of plain values")
            };
            for (column, (value, (_, is_number))) in (0_u16..).zip(cells.values().zip(&columns)) {
                write(sheet, (number, column), value, *is_number)?;
            }
        }
        sheet.set_freeze_panes(1, 0)?;
        sheet.autofit();
        Ok(())
    }

    pub(crate) fn finish(mut self) -> Result<Vec<u8>, XlsxError> {
        self.workbook.save_to_buffer()
    }
}

/// The columns of a table by name, each with whether it holds numbers; rows write these as text with the decimals they have.
fn columns<R: JsonSchema>() -> Vec<(String, bool)> {
    let schema = record::<R>().to_value();
    let members = schema["properties"].as_object().cloned().unwrap_or_default();
    let is_number = |member: &Value| match &member["type"] {
        Value::Array(kinds) => kinds.iter().any(|kind| kind == "number"),
        kind => kind == "number",
    };
    members.into_iter().map(|(name, member)| (name, is_number(&member))).collect()
}

fn write(sheet: &mut Worksheet, (row, column): (u32, u16), value: &Value, is_number: bool) -> Result<(), XlsxError> {
    match value {
        Value::Null => Ok(()),
        Value::Bool(yes) => sheet.write_boolean(row, column, *yes).map(|_| ()),
        Value::Number(number) => sheet.write_number(row, column, number.as_f64().unwrap_or(0.0)).map(|_| ()),
        Value::String(text) => match text.parse::<f64>() {
            Ok(number) if is_number => sheet.write_number(row, column, number).map(|_| ()),
            _ => sheet.write_string(row, column, plain_text(text)).map(|_| ()),
        },
        Value::Array(_) | Value::Object(_) => unreachable!("cells are plain values"),
    }
}
