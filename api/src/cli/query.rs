//! `stridebed query`.

use super::table::{table, told};
use super::{Desk, Done, Failure, for_machines, say};
use crate::problem::Problem;
use crate::query::{self, Inputs};
use clap::Args;
use serde_json::Value;
use std::io::Write;

#[derive(Args)]
pub(super) struct Query {
    /// The query; without it, all queries are listed with their inputs
    id: Option<String>,
    /// Its inputs, as in surface=gannet-ledge:S2
    #[arg(value_name = "NAME=VALUE", value_parser = input)]
    inputs: Vec<(String, String)>,
    /// Write the bytes of the HTTP answer
    #[arg(long)]
    json: bool,
}

fn input(text: &str) -> Result<(String, String), String> {
    let (name, value) = text
        .split_once('=')
        .ok_or("expected name=value, as in surface=gannet-ledge:S2")?;
    Ok((name.to_owned(), value.to_owned()))
}

impl Query {
    pub(super) fn run(self, desk: &Desk) -> Done {
        let json = self.json;
        match &self.id {
            None => {
                list();
                Ok(())
            }
            Some(id) => {
                let query = query::find(id).ok_or_else(|| {
                    let ids: Vec<&str> = query::ALL.iter().map(|query| query.id()).collect();
                    let problem = Problem::not_found(format!(
                        "There is no query {id:?}; there are {}.",
                        ids.join(", ")
                    ));
                    Failure { problem, json }
                })?;
                let inputs: Inputs = self
                    .inputs
                    .into_iter()
                    .map(|(name, text)| (name, Value::from(text)))
                    .collect();
                let reply = desk
                    .catalogue()
                    .and_then(|catalogue| Ok(query.ask(inputs, &catalogue)?));
                show(&for_machines(json, reply)?.body, json);
                Ok(())
            }
        }
    }
}

fn list() {
    for query in query::ALL {
        say(&format!("{} – {}", query.id(), query.title()));
        let schema = query.schema();
        let required = schema["required"].as_array().cloned().unwrap_or_default();
        for (name, input) in schema["properties"].as_object().into_iter().flatten() {
            let must = if required.contains(&Value::from(name.as_str())) {
                ", required"
            } else {
                ""
            };
            say(&format!(
                "    {name} ({}{must}): {}",
                told(&input["type"]),
                told(&input["description"])
            ));
        }
    }
}

fn show(body: &[u8], json: bool) {
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
    let mut rest = features;
    // Features of one part stand together and have the same properties: one table for each part.
    while let Some(first) = rest.first() {
        let part = &first["properties"]["part"];
        let run = rest
            .iter()
            .take_while(|feature| feature["properties"]["part"] == *part)
            .count();
        say(&format!("{}: {run}", told(part)));
        say(&one_table(&rest[..run]));
        rest = &rest[run..];
    }
    if features.is_empty() {
        say("nothing found");
    }
    say(&format!(
        "method: {} ({})",
        told(&answer["method"]["name"]),
        told(&answer["method"]["source"])
    ));
    if let Some(caution) = answer["caution"].as_str() {
        say(&format!("caution: {caution}"));
    }
}

/// A terminal has no room for more; `--json` has them all.
const MOST_COLUMNS: usize = 12;

fn one_table(features: &[Value]) -> String {
    let properties = features[0]["properties"].as_object();
    // What is unknown of all of them, or repeats the query, only takes room on a terminal.
    let shown = |name: &&String| {
        !["part", "site", "surface", "ungrouped"].contains(&name.as_str())
            && features
                .iter()
                .any(|feature| !feature["properties"][name.as_str()].is_null())
    };
    let mut names: Vec<&String> = properties
        .into_iter()
        .flat_map(|fields| fields.keys())
        .filter(shown)
        .collect();
    let left_out = names.len().saturating_sub(MOST_COLUMNS);
    names.truncate(MOST_COLUMNS);
    let mut rows = table(names.iter().map(|name| name.as_str()));
    for feature in features {
        rows.add_row(
            names
                .iter()
                .map(|name| told(&feature["properties"][name.as_str()])),
        );
    }
    if left_out > 0 {
        format!("{rows}\n({left_out} more properties with --json)")
    } else {
        rows.to_string()
    }
}
