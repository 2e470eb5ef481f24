//! `stridebed query`.

use super::shown::show;
use super::table::told;
use super::{Desk, Done, for_machines, say};
use crate::problem::Problem;
use crate::query::{self, Inputs};
use clap::Args;
use jiff::Timestamp;
use serde_json::Value;
use std::path::PathBuf;

#[derive(Args)]
pub(super) struct Query {
    /// The query; without it, all queries are listed with their inputs
    id: Option<String>,
    /// Its inputs, as in surface=gannet-ledge:S2; name=@FILE takes the values from a file
    #[arg(value_name = "NAME=VALUE", value_parser = input)]
    inputs: Vec<(String, String)>,
    /// The record as it was then: a time as in 2026-05-01T16:30:00Z, or the end of a day
    #[arg(long, value_name = "TIME", value_parser = super::moment)]
    as_of: Option<Timestamp>,
    /// Draw the answer's picture into this file; - writes it to the standard output and nothing else
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Write the bytes of the HTTP answer
    #[arg(long)]
    json: bool,
}

fn input(text: &str) -> Result<(String, String), String> {
    let (name, value) = text
        .split_once('=')
        .ok_or("expected name=value, as in surface=gannet-ledge:S2")?;
    let value = match value.strip_prefix('@') {
        Some(file) => listed(file)?,
        None => value.to_owned(),
    };
    Ok((name.to_owned(), value))
}

/// The values in a file, separated by commas, blanks or line ends.
fn listed(file: &str) -> Result<String, String> {
    let text = std::fs::read_to_string(file).map_err(|error| format!("{file} cannot be read: {error}"))?;
    let values = text.split(|letter: char| letter == ',' || letter.is_whitespace());
    Ok(values
        .filter(|value| !value.is_empty())
        .collect::<Vec<_>>()
        .join(","))
}

impl Query {
    pub(super) fn run(self, desk: &Desk) -> Done {
        let json = self.json;
        match self.id {
            None => {
                list();
                Ok(())
            }
            Some(_) => for_machines(json, self.ask(desk)),
        }
    }

    fn ask(self, desk: &Desk) -> Result<(), Problem> {
        let id = self.id.unwrap_or_default();
        let query = query::find(&id).ok_or_else(|| {
            let ids: Vec<&str> = query::ALL.iter().map(|query| query.id()).collect();
            Problem::not_found(format!("There is no query {id:?}; there are {}.", ids.join(", ")))
        })?;
        if self.svg.is_some() && !query.has_picture() {
            return Err(Problem::bad_request(format!(
                "The query {id} has no picture; ask it without --svg."
            )));
        }
        let inputs: Inputs = self
            .inputs
            .into_iter()
            .map(|(name, text)| (name, Value::from(text)))
            .collect();
        let reply = query.ask(inputs, &desk.catalogue_as_of(self.as_of)?)?;
        let Some((file, draw)) = self.svg.zip(reply.picture) else {
            show(&reply.body, self.json);
            return Ok(());
        };
        let picture = draw();
        if file.as_os_str() == "-" {
            say(&picture);
            return Ok(());
        }
        std::fs::write(&file, picture).map_err(|error| {
            Problem::bad_request(format!("{} cannot be written: {error}.", file.display()))
        })?;
        show(&reply.body, self.json);
        if !self.json {
            say(&format!("Drew it into {}.", file.display()));
        }
        Ok(())
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
