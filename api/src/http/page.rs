//! Every resource as a plain page for a reader: made from the same document that clients get.

use super::asked::Asked;
use super::media::{GEOJSON, HTML, JSON, Media, SCHEMA};
use crate::feature::same_kind;
use actix_web::HttpResponse;
use actix_web::http::header::CONTENT_TYPE;
use serde_json::{Map, Value};
use std::fmt::Write;

/// A resource, ready to be written in the form that the asker wants.
pub struct Document {
    title: String,
    body: Value,
    media: &'static str,
    picture: Option<String>,
}

impl Document {
    /// A JSON document.
    pub fn json(title: &str, body: Value) -> Self {
        Self {
            title: title.to_owned(),
            body,
            media: JSON,
            picture: None,
        }
    }

    /// A GeoJSON document.
    pub fn features(title: &str, body: Value) -> Self {
        Self {
            media: GEOJSON,
            ..Self::json(title, body)
        }
    }

    /// A JSON Schema.
    pub fn schema(title: &str, body: Value) -> Self {
        Self {
            media: SCHEMA,
            ..Self::json(title, body)
        }
    }

    /// The same with an SVG picture on its page.
    pub fn with_picture(mut self, picture: Option<String>) -> Self {
        self.picture = picture;
        self
    }

    /// The response in the form that was asked for.
    pub fn respond(&self, asked: &Asked) -> HttpResponse {
        match asked.media {
            // A picture is no document: whoever has one answers with it himself.
            Media::Json | Media::Svg => HttpResponse::Ok()
                .insert_header((CONTENT_TYPE, self.media))
                .body(format!("{}\n", self.body)),
            Media::Html => HttpResponse::Ok()
                .insert_header((CONTENT_TYPE, HTML))
                .body(self.page(asked)),
        }
    }

    fn page(&self, asked: &Asked) -> String {
        let title = escaped(&self.title);
        let mut out = format!(
            "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" \
             content=\"width=device-width\"><title>{title} – Stridebed</title><style>{STYLE}</style></head><body>\n"
        );
        trail(&mut out, asked);
        let _ = writeln!(out, "<h1>{title}</h1>");
        if let Some(about) = self.body["description"].as_str() {
            let _ = writeln!(out, "<p>{}</p>", escaped(about));
        }
        if let Some(picture) = &self.picture {
            let _ = writeln!(out, "<figure>{picture}</figure>");
        }
        // What the reader came for stands first, what only programs need below it.
        let told = ["title", "description", "type"];
        let fields = self
            .body
            .as_object()
            .into_iter()
            .flatten()
            .filter(|(name, _)| !told.contains(&name.as_str()));
        let (first, rest): (Vec<_>, Vec<_>) = fields.partition(|(name, _)| FIRST.contains(&name.as_str()));
        first
            .into_iter()
            .chain(rest)
            .for_each(|(name, value)| section(&mut out, name, value, asked));
        out.push_str("</body></html>\n");
        out
    }
}

/// The parts of a document that a reader came for.
const FIRST: [&str; 6] = [
    "features",
    "properties",
    "collections",
    "queries",
    "processes",
    "jobs",
];

/// Plain, printable, legible on a phone in the sun.
const STYLE: &str = "body{font:1rem/1.5 system-ui,sans-serif;color:#1c1c1c;background:#fff;max-width:75rem;margin:0 auto;\
    padding:1rem}nav{font-size:.9rem}h1{font-size:1.6rem;margin:.6rem 0}h2{font-size:1.1rem;margin:1.4rem 0 .3rem}h3{font-size:1rem;margin:1rem 0 .3rem}\
    a{color:#0b4f6c}table{border-collapse:collapse;font-size:.9rem}th,td{border:1px solid #c9c4ba;padding:.2rem .5rem;\
    text-align:left;vertical-align:top}th{background:#f3f0ea}.wide{overflow-x:auto}figure{margin:1rem 0}\
    figure svg{max-width:100%;height:auto;border:1px solid #c9c4ba}.none{color:#767069}.said li{margin:.6rem 0}.said p{margin:0}.said .sure{color:#5b554d;font-size:.9rem}.said .weak{color:#5b554d}\
    .said details{font-size:.9rem}";

/// The way back up, one link for each part of the path.
fn trail(out: &mut String, asked: &Asked) {
    let _ = write!(out, "<nav><a href=\"{}/\">Stridebed</a>", escaped(&asked.base));
    let mut path = String::new();
    for part in asked.path.split('/').filter(|part| !part.is_empty()) {
        let _ = write!(path, "/{part}");
        let _ = write!(
            out,
            " / <a href=\"{}{}\">{}</a>",
            escaped(&asked.base),
            escaped(&path),
            escaped(part)
        );
    }
    out.push_str("</nav>\n");
}

fn section(out: &mut String, name: &str, value: &Value, asked: &Asked) {
    let _ = write!(
        out,
        "<h2>{}</h2>\n<div class=\"wide\">",
        escaped(&name.replace('_', " "))
    );
    match value {
        Value::Array(list) if name == "links" => links(out, list),
        Value::Array(list) if name == "features" => features(out, list, asked),
        other => cell(out, other),
    }
    out.push_str("</div>\n");
}

fn links(out: &mut String, list: &[Value]) {
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

/// Features of one kind as one table of their properties, each id a link to its own page where it has one; what
/// is alone of its kind as a list of its properties.
fn features(out: &mut String, list: &[Value], asked: &Asked) {
    if list.is_empty() {
        out.push_str("<p class=\"none\">nothing here</p>");
    }
    for run in list.chunk_by(same_kind) {
        match run {
            many if many[0]["properties"]["says"].is_string() => statements(out, many, asked),
            [one] if !asked.path.ends_with("/items") => alone(out, one),
            many => one_kind(out, many, asked),
        }
    }
}

/// Features that are sentences, as sentences: what is said, how sure it is, what it rests on and what it assumes.
fn statements(out: &mut String, list: &[Value], asked: &Asked) {
    out.push_str("<ol class=\"said\">\n");
    for feature in list {
        let told = &feature["properties"];
        let text = |name: &str| escaped(told[name].as_str().unwrap_or_default());
        let _ = write!(
            out,
            "<li class=\"{0}\"><p><b>{1}</b> <span class=\"sure\">{0}{2}</span><br>{3}</p>",
            text("strength"),
            text("about"),
            odds(told),
            text("says")
        );
        let _ = write!(
            out,
            "<details><summary>evidence and assumption</summary><p>{}</p><ul>",
            text("caution")
        );
        for evidence in told["evidence"].as_array().into_iter().flatten() {
            let of = |name: &str| escaped(evidence[name].as_str().unwrap_or_default());
            let _ = write!(
                out,
                "<li><a href=\"{}{}\">{}</a></li>",
                escaped(&asked.base),
                of("href"),
                of("title")
            );
        }
        out.push_str("</ul></details></li>\n");
    }
    out.push_str("</ol>");
}

/// The numbers behind how sure a statement is, where there are any.
fn odds(told: &Value) -> String {
    let numbers = [
        ("p", "p"),
        ("p_corrected", "corrected p"),
        ("probability", "probability"),
    ];
    let known = numbers.iter().filter_map(|(name, title)| match &told[*name] {
        Value::Number(number) => Some(format!(", {title} {}", rounded(number))),
        _ => None,
    });
    known.collect()
}

fn alone(out: &mut String, feature: &Value) {
    if let Some(id) = feature["id"].as_str() {
        let _ = write!(out, "<h3>{}</h3>", escaped(id));
    }
    cell(out, &feature["properties"]);
}

fn one_kind(out: &mut String, list: &[Value], asked: &Asked) {
    let fields = list.first().and_then(|feature| feature["properties"].as_object());
    let names: Vec<&String> = fields.into_iter().flat_map(Map::keys).collect();
    out.push_str("<table><tr><th>id</th>");
    names.iter().for_each(|name| {
        let _ = write!(out, "<th>{}</th>", escaped(name));
    });
    out.push_str("</tr>\n");
    for feature in list {
        let id = escaped(feature["id"].as_str().unwrap_or("–"));
        if asked.path.ends_with("/items") {
            let (base, path) = (escaped(&asked.base), escaped(&asked.path));
            let _ = write!(out, "<tr><td><a href=\"{base}{path}/{id}\">{id}</a></td>");
        } else {
            let _ = write!(out, "<tr><td>{id}</td>");
        }
        for name in &names {
            out.push_str("<td>");
            cell(out, &feature["properties"][name.as_str()]);
            out.push_str("</td>");
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</table>");
}

/// Any value: objects as tables of two columns, lists of objects as one table, long lists folded, the rest as text.
fn cell(out: &mut String, value: &Value) {
    match value {
        Value::Null => out.push_str("<span class=\"none\">–</span>"),
        Value::String(text) if text.starts_with("http://") || text.starts_with("https://") => {
            let _ = write!(out, "<a href=\"{0}\">{0}</a>", escaped(text));
        }
        Value::String(text) => out.push_str(&escaped(text)),
        Value::Number(number) => out.push_str(&rounded(number)),
        Value::Array(list) if list.iter().any(Value::is_object) => rows(out, list),
        Value::Array(list) if list.len() > MOST_UNFOLDED => {
            let _ = write!(out, "<details><summary>{} values</summary>", list.len());
            inline(out, list);
            out.push_str("</details>");
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

/// Longer lists are folded: a reader wants them seldom.
const MOST_UNFOLDED: usize = 8;

fn inline(out: &mut String, list: &[Value]) {
    for (place, part) in list.iter().enumerate() {
        out.push_str(if place > 0 { ", " } else { "" });
        cell(out, part);
    }
}

/// Objects as the rows of one table, or as links where they are such.
fn rows(out: &mut String, list: &[Value]) {
    if list.iter().all(|part| part["href"].is_string()) {
        return links(out, list);
    }
    let mut names: Vec<&String> = Vec::new();
    for name in list.iter().filter_map(Value::as_object).flat_map(Map::keys) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    if list.len() > MOST_UNFOLDED {
        let _ = write!(out, "<details><summary>{} rows</summary>", list.len());
    }
    out.push_str("<table><tr>");
    for name in &names {
        let _ = write!(out, "<th>{}</th>", escaped(name));
    }
    out.push_str("</tr>");
    for row in list {
        out.push_str("<tr>");
        for name in &names {
            out.push_str("<td>");
            cell(out, &row[name.as_str()]);
            out.push_str("</td>");
        }
        out.push_str("</tr>");
    }
    out.push_str("</table>");
    if list.len() > MOST_UNFOLDED {
        out.push_str("</details>");
    }
}

/// Four decimals, which of metres and of degrees is more than a field party can measure; three digits of what is
/// smaller. Programs that need every digit ask for JSON.
fn rounded(number: &serde_json::Number) -> String {
    match number.as_f64() {
        Some(value) if number.is_f64() && value != 0.0 && value.abs() < 0.001 => format!("{value:.2e}"),
        Some(value) if number.is_f64() => {
            let text = format!("{value:.4}");
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        }
        _ => number.to_string(),
    }
}

fn escaped(text: &str) -> String {
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
    fn only_web_addresses_become_links() {
        let mut out = String::new();
        cell(&mut out, &json!("javascript:alert(1)"));
        assert!(!out.contains("href"), "{out}");
    }
}
