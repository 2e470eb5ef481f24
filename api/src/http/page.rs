//! Every resource as a plain page for a reader: made from the same document that clients get.

use super::asked::Asked;
use super::media::{GEOJSON, HTML, JSON, Media, SCHEMA};
use super::page_value::{cell, cells, escaped, heads, links, rounded};
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
    a{color:#0b4f6c}table{border-collapse:collapse;font-size:.9rem}.wide>table{margin:0 0 1rem}th,td{border:1px solid #c9c4ba;padding:.2rem .5rem;\
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
    let have_ids = list.iter().any(|feature| feature["id"].is_string());
    out.push_str(if have_ids {
        "<table><tr><th>id</th>"
    } else {
        "<table><tr>"
    });
    heads(out, &names);
    for feature in list {
        let id = escaped(feature["id"].as_str().unwrap_or("–"));
        if asked.path.ends_with("/items") {
            let (base, path) = (escaped(&asked.base), escaped(&asked.path));
            let _ = write!(out, "<tr><td><a href=\"{base}{path}/{id}\">{id}</a></td>");
        } else if have_ids {
            let _ = write!(out, "<tr><td>{id}</td>");
        } else {
            out.push_str("<tr>");
        }
        cells(out, &names, &feature["properties"]);
    }
    out.push_str("</table>");
}
