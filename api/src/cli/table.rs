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

/// A value as a person reads it in a cell: long lists by their length, numbers with few decimals, the parts
/// of an object after their names.
pub(super) fn told(value: &Value) -> String {
    match value {
        Value::Null => "–".to_owned(),
        Value::String(text) => text.clone(),
        Value::Number(number) if number.is_f64() => rounded(number.as_f64().unwrap_or_default()),
        Value::Array(list) if list.len() > 3 => format!("{} values", list.len()),
        Value::Array(list) => list.iter().map(told).collect::<Vec<_>>().join(", "),
        Value::Object(parts) => {
            let part = |(name, value): (&String, &Value)| format!("{name} {}", told(value));
            parts.iter().map(part).collect::<Vec<_>>().join(", ")
        }
        other => other.to_string(),
    }
}

/// Three decimals; three digits where those would all be zeros.
fn rounded(number: f64) -> String {
    if number != 0.0 && number.abs() < 0.001 {
        return format!("{number:.2e}");
    }
    let text = format!("{number:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A count with its noun.
pub(super) fn counted(count: u64, noun: &str) -> String {
    format!("{count} {noun}{}", if count == 1 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn values_as_people_read_them() {
        let cases = [
            (json!(null), "–"),
            (json!(2.0), "2"),
            (json!(0.000_012_345), "1.23e-5"),
            (json!(0.0), "0"),
            (json!([1.25, 2]), "1.25, 2"),
            (json!([1, 2, 3, 4]), "4 values"),
            (json!({ "statistic": 3.5, "p": null }), "statistic 3.5, p –"),
        ];
        for (value, expected) in cases {
            assert_eq!(told(&value), expected);
        }
    }
}
