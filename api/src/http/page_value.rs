//! Any value of a document as part of a page.

use serde_json::{Map, Value};
use std::fmt::Write;

/// Any value: objects as tables of two columns, lists of objects as one table, long lists folded, the rest as text.
pub(super) fn cell(out: &mut String, value: &Value) {
    match value {
        Value::Null => out.push_str("<span class=\"none\">–</span>"),
        Value::String(text) if text.starts_with("http://") || text.starts_with("https://") => {
            let _ = write!(out, "<a href=\"{0}\">{0}</a>", escaped(text));
        }
        Value::String(text) => out.push_str(&escaped(text)),
        Value::Number(number) => out.push_str(&rounded(number)),
        Value::Array(list) if list.iter().any(Value::is_object) => rows(out, list),
        Value::Array(list) if list.is_empty() => out.push_str("<span class=\"none\">none</span>"),
        Value::Array(list) if list.len() > MOST_UNFOLDED => {
            folded(out, list.len(), "values", |out| inline(out, list));
        }
        Value::Array(list) => inline(out, list),
        Value::Object(fields) => {
            out.push_str("<table>");
            for (name, value) in fields {
                let _ = write!(out, "<tr><th>{}</th><td>", escaped(name));
                cell(out, value);
                out.push_str("</td></tr>");
            }
            out.push_str("</table>");
        }
        Value::Bool(value) => {
            let _ = write!(out, "{value}");
        }
    }
}

/// A value in a row among others: what is a table itself, or a list of more than a few, is folded, or the row would be as tall and as
/// wide as that.
fn narrow(out: &mut String, value: &Value) {
    match value {
        Value::Array(list) if list.len() > MOST_UNFOLDED || are_links(list) => cell(out, value),
        Value::Array(list) if list.iter().any(Value::is_object) => {
            folded(out, list.len(), "rows", |out| cell(out, value));
        }
        Value::Array(list) if list.len() > MOST_IN_A_ROW => {
            folded(out, list.len(), "values", |out| cell(out, value));
        }
        Value::Object(fields) => folded(out, fields.len(), "values", |out| cell(out, value)),
        other => cell(out, other),
    }
}

/// Longer lists are folded: a reader wants them seldom.
const MOST_UNFOLDED: usize = 8;
/// In a row there is room for an interval or a few labels.
const MOST_IN_A_ROW: usize = 3;

/// What a reader opens to see.
fn folded(out: &mut String, count: usize, what: &str, inside: impl FnOnce(&mut String)) {
    let _ = write!(out, "<details><summary>{count} {what}</summary>");
    inside(out);
    out.push_str("</details>");
}

fn inline(out: &mut String, list: &[Value]) {
    for (place, part) in list.iter().enumerate() {
        out.push_str(if place > 0 { ", " } else { "" });
        cell(out, part);
    }
}

/// Objects as the rows of one table, or as links where they are such.
fn rows(out: &mut String, list: &[Value]) {
    if are_links(list) {
        return links(out, list);
    }
    let mut names: Vec<&String> = Vec::new();
    for name in list.iter().filter_map(Value::as_object).flat_map(Map::keys) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    if list.len() > MOST_UNFOLDED {
        folded(out, list.len(), "rows", |out| table(out, &names, list));
    } else {
        table(out, &names, list);
    }
}

fn table(out: &mut String, names: &[&String], list: &[Value]) {
    out.push_str("<table><tr>");
    heads(out, names);
    for row in list {
        out.push_str("<tr>");
        cells(out, names, row);
    }
    out.push_str("</table>");
}

/// The names of a table's columns; the row ends with them.
pub(super) fn heads(out: &mut String, names: &[&String]) {
    for name in names {
        let _ = write!(out, "<th>{}</th>", escaped(name));
    }
    out.push_str("</tr>\n");
}

/// The values of a row under those names; the row ends with them.
pub(super) fn cells(out: &mut String, names: &[&String], row: &Value) {
    for name in names {
        out.push_str("<td>");
        narrow(out, &row[name.as_str()]);
        out.push_str("</td>");
    }
    out.push_str("</tr>\n");
}

/// Four decimals, which of metres and of degrees is more than a field party can measure; three digits of what is
/// smaller. Programs that need every digit ask for JSON.
pub(super) fn rounded(number: &serde_json::Number) -> String {
    match number.as_f64() {
        Some(value) if number.is_f64() && value != 0.0 && value.abs() < 0.001 => format!("{value:.2e}"),
        Some(value) if number.is_f64() => {
            let text = format!("{value:.4}");
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        }
        _ => number.to_string(),
    }
}

pub(super) fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            other => safe.push(other),
        }
    }
    safe
}

fn are_links(list: &[Value]) -> bool {
    list.iter().all(|part| part["href"].is_string())
}

/// Links, one below the other.
pub(super) fn links(out: &mut String, list: &[Value]) {
    out.push_str("<ul>");
    for link in list {
        let text = |name: &str| escaped(link[name].as_str().unwrap_or_default());
        let _ = write!(
            out,
            "<li><a href=\"{}\" rel=\"{}\">{}</a> <span class=\"none\">{}</span></li>",
            text("href"),
            text("rel"),
            text("title"),
            text("type")
        );
    }
    out.push_str("</ul>");
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn what_a_field_party_wrote_cannot_become_markup() {
        let mut out = String::new();
        cell(
            &mut out,
            &json!({ "note": "<script>alert('x')</script>", "list": ["a\"b", { "x": "<b>" }] }),
        );
        assert!(
            !out.contains("<script") && !out.contains("<b>") && !out.contains("a\"b"),
            "{out}"
        );
    }

    #[test]
    fn steps_are_rows_of_one_table_and_long_lists_are_folded() {
        let mut out = String::new();
        cell(
            &mut out,
            &json!([{ "print": "P1", "pace_m": null }, { "print": "P2", "pace_m": 0.123_456 }]),
        );
        assert_eq!(out.matches("<table>").count(), 1, "{out}");
        assert_eq!(out.matches("<th>print</th>").count(), 1, "{out}");
        assert!(out.contains("<td>0.1235</td>"), "{out}");
        out.clear();
        cell(&mut out, &json!((0..9).collect::<Vec<_>>()));
        assert!(
            out.starts_with("<details><summary>9 values</summary>0, 1"),
            "{out}"
        );
        out.clear();
        cell(&mut out, &json!([1.5e-7, 12.0, 3]));
        assert_eq!(out, "1.50e-7, 12, 3");
    }

    #[test]
    fn a_table_in_a_row_is_folded() {
        let mut out = String::new();
        cell(
            &mut out,
            &json!([{ "trackway": "T1", "steps": [{ "pace_m": 1.2 }], "none": [] }]),
        );
        assert!(
            out.contains("<td><details><summary>1 rows</summary><table>"),
            "{out}"
        );
        assert!(out.contains(">none</span>"), "{out}");
        out.clear();
        narrow(&mut out, &json!(["P1", "P2", "P3", "P4"]));
        assert_eq!(
            out,
            "<details><summary>4 values</summary>P1, P2, P3, P4</details>"
        );
        out.clear();
        narrow(&mut out, &json!([1.5, 2.25]));
        assert_eq!(out, "1.5, 2.25");
        out.clear();
        narrow(&mut out, &json!([{ "href": "a", "title": "b" }]));
        assert!(!out.contains("details"), "{out}");
    }

    #[test]
    fn only_web_addresses_become_links() {
        let mut out = String::new();
        cell(&mut out, &json!("javascript:alert(1)"));
        assert!(!out.contains("href"), "{out}");
    }
}
