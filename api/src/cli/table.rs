//! Tables for people on a terminal.

use comfy_table::{ContentArrangement, Table, presets};
use serde_json::Value;

/// A table with these headings.
pub(super) fn table<'a>(headings: impl IntoIterator<Item = &'a str>) -> Table {
    let mut table = Table::new();
    table
        .load_style(presets::ASCII_MARKDOWN)
        .set_content_arrangement(ContentArrangement::Dynamic);
    table.set_header(headings);
    table
}

/// A value as a person reads it in a cell: long lists by their length, numbers with few decimals.
pub(super) fn told(value: &Value) -> String {
    match value {
        Value::Null => "–".to_owned(),
        Value::String(text) => text.clone(),
        Value::Number(number) if number.is_f64() => {
            let number = number.as_f64().unwrap_or_default();
            let rounded = format!("{number:.3}");
            rounded.trim_end_matches('0').trim_end_matches('.').to_owned()
        }
        Value::Array(list) if list.len() > 3 => format!("{} values", list.len()),
        Value::Array(list) => list.iter().map(told).collect::<Vec<_>>().join(", "),
        other => other.to_string(),
    }
}

/// A count with its noun.
pub(super) fn counted(count: u64, noun: &str) -> String {
    format!("{count} {noun}{}", if count == 1 { "" } else { "s" })
}
