//! An answer on a terminal.

use super::say;
use super::table::{table, told};
use serde_json::{Map, Value};
use std::io::Write;

/// A terminal has no room for more; `--json` has them all.
const MOST_COLUMNS: usize = 12;

/// Writes the bytes of an answer, or what they say, for a person.
pub(super) fn show(body: &[u8], json: bool) {
    if json {
        let _ = std::io::stdout().write_all(body);
        return;
    }
    let Ok(answer) = serde_json::from_slice::<Value>(body) else {
        return;
    };
    let features = answer["features"]
        .as_array()
        .map(Vec::as_slice)
        .unwrap_or_default();
    // Features of one kind stand together: one table for each kind, one list for what is alone of its kind.
    for run in features.chunk_by(same_kind) {
        match run {
            [one] => say(&list(one)),
            many => {
                say(&format!(
                    "{}: {}",
                    told(&many[0]["properties"]["part"]),
                    many.len()
                ));
                say(&one_table(many));
            }
        }
    }
    if features.is_empty() {
        say("nothing found");
    }
    let method = &answer["method"];
    say(&format!(
        "method: {} ({})",
        told(&method["name"]),
        told(&method["source"])
    ));
    if let Some(caution) = answer["caution"].as_str() {
        say(&format!("caution: {caution}"));
    }
}

fn same_kind(one: &Value, other: &Value) -> bool {
    let [one, other] = [one, other].map(|feature| &feature["properties"]);
    let names = |properties: &Value| {
        properties
            .as_object()
            .map(|fields| fields.keys().cloned().collect::<Vec<_>>())
    };
    one["part"] == other["part"] && names(one) == names(other)
}

/// One feature, a line for each property that is known; tables for lists of steps and the like.
fn list(feature: &Value) -> String {
    let none = Map::new();
    let properties = feature["properties"].as_object().unwrap_or(&none);
    let heading = match feature["id"].as_str() {
        Some(id) => format!("{} {id}", told(&properties["part"])),
        None => told(&properties["part"]),
    };
    let mut lines = vec![heading];
    let mut tables = Vec::new();
    for (name, value) in properties
        .iter()
        .filter(|(name, value)| *name != "part" && !value.is_null())
    {
        match value {
            Value::Array(rows) if rows.iter().any(Value::is_object) => {
                tables.push(format!("  {name}:\n{}", table_of(rows)));
            }
            Value::Array(texts)
                if texts
                    .iter()
                    .all(|text| text.as_str().is_some_and(|text| text.contains(' '))) =>
            {
                lines.extend(texts.iter().map(|text| format!("  {name}: {}", told(text))));
            }
            Value::Object(parts) if parts.values().any(is_long) => {
                lines.extend(
                    parts
                        .iter()
                        .map(|(part, value)| format!("  {name}, {part}: {}", told(value))),
                );
            }
            // The mean's line tells its spread and number too.
            _ if is_told_with_mean(name, properties) => {}
            value => lines.push(format!("  {name}: {}{}", told(value), spread(name, properties))),
        }
    }
    lines.extend(tables);
    lines.join("\n")
}

fn is_told_with_mean(name: &str, properties: &Map<String, Value>) -> bool {
    ["_sd", "_n"].iter().any(|end| {
        name.strip_suffix(end)
            .is_some_and(|mean| properties.get(mean).is_some_and(|mean| !mean.is_null()))
    })
}

fn spread(name: &str, properties: &Map<String, Value>) -> String {
    let part = |end: &str| {
        properties
            .get(&format!("{name}_{end}"))
            .filter(|part| !part.is_null())
            .map(told)
    };
    match (part("sd"), part("n")) {
        (Some(sd), Some(n)) => format!(" (sd {sd}, n {n})"),
        (Some(sd), None) => format!(" (sd {sd})"),
        (None, Some(n)) if n != "0" => format!(" (n {n})"),
        _ => String::new(),
    }
}

fn is_sentence(value: &Value) -> bool {
    value.as_str().is_some_and(|text| text.contains(' '))
}

/// Whether a part of an object needs a line of its own.
fn is_long(value: &Value) -> bool {
    value.is_array() || value.is_object() || value.as_str().is_some_and(|text| text.len() > 60)
}

fn one_table(features: &[Value]) -> String {
    let rows: Vec<Value> = features
        .iter()
        .map(|feature| feature["properties"].clone())
        .collect();
    table_of(&rows)
}

/// Rows of one kind as a table. What is unknown in all of them, needs sentences, or repeats the query, only takes
/// room on a terminal.
fn table_of(rows: &[Value]) -> String {
    let none = Map::new();
    let first = rows.first().and_then(Value::as_object).unwrap_or(&none);
    let has_words = |value: &Value| match value {
        Value::Array(parts) => parts.iter().all(|part| is_sentence(part) || part.is_object()),
        Value::Object(parts) => parts.is_empty() || parts.values().all(is_sentence),
        _ => value.is_null(),
    };
    let shown = |name: &&String| {
        !["part", "site", "surface", "ungrouped"].contains(&name.as_str())
            && !is_told_with_mean(name, first)
            && !rows.iter().all(|row| has_words(&row[name.as_str()]))
    };
    let mut names: Vec<&String> = first.keys().filter(shown).collect();
    let left_out = names.len().saturating_sub(MOST_COLUMNS);
    names.truncate(MOST_COLUMNS);
    let mut lines = table(names.iter().map(|name| name.as_str()));
    for row in rows {
        let fields = row.as_object().unwrap_or(&none);
        lines.add_row(
            names
                .iter()
                .map(|name| told(&row[name.as_str()]) + &spread(name, fields)),
        );
    }
    if left_out > 0 {
        format!("{lines}\n({left_out} more properties with --json)")
    } else {
        lines.to_string()
    }
}
