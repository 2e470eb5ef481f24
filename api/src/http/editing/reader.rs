//! The properties of a body, read one by one, and what is wrong with them.

use super::super::Problem;
use super::body::{Body, DERIVED};
use crate::intake::{Fault, Faults};
use serde_json::{Value, json};
use spatial::model::{Label, SurfaceId};

/// Reads properties one by one, and notes what is wrong with them.
pub(super) struct Reader<'b> {
    body: &'b Body,
    pub(super) known: Vec<&'static str>,
    faults: Vec<Fault>,
}

impl<'b> Reader<'b> {
    /// A reader of a body whose record is, or is on, what `name` says.
    pub(super) fn of(body: &'b Body, name: &'static str, expected: &str) -> Self {
        let mut reader = Self {
            body,
            known: DERIVED.to_vec(),
            faults: Vec::new(),
        };
        reader.is(name, expected);
        reader
    }

    /// A property that the request's path has told already: it may be left out, but not say anything else.
    pub(super) fn is(&mut self, name: &'static str, expected: &str) {
        self.known.push(name);
        let given = self.body.properties.get(name).filter(|value| !value.is_null());
        if given.is_some_and(|given| given.as_str() != Some(expected)) {
            self.fault(
                name,
                &format!("{expected}, as the path has it: an id stays as it is"),
            );
        }
    }

    pub(super) fn text(&mut self, name: &'static str) -> Option<String> {
        self.known.push(name);
        match self.body.properties.get(name) {
            None | Some(Value::Null) => None,
            Some(Value::String(text)) if text.contains('\0') => {
                self.fault(name, "text without NUL characters");
                None
            }
            Some(Value::String(text)) => Some(text.trim().to_owned()).filter(|text| !text.is_empty()),
            Some(_) => {
                self.fault(name, "a text, or null where it is unknown");
                None
            }
        }
    }

    pub(super) fn number(&mut self, name: &'static str) -> Option<f64> {
        self.known.push(name);
        match self.body.properties.get(name) {
            None | Some(Value::Null) => None,
            Some(value) => {
                let number = value.as_f64().filter(|number| number.is_finite());
                if number.is_none() {
                    self.fault(name, "a number, or null where it is unknown");
                }
                number
            }
        }
    }

    /// The prints of a trackway, by label or by id.
    pub(super) fn prints(&mut self, surface: &SurfaceId) -> Vec<Label> {
        let list = self.body.properties.get("prints").and_then(Value::as_array);
        let prefix = format!("{surface}:");
        let mut labels: Vec<Label> = Vec::new();
        for one in list.into_iter().flatten() {
            let text = one.as_str().unwrap_or_default();
            match text.strip_prefix(&prefix).unwrap_or(text).parse::<Label>() {
                Ok(label) if labels.contains(&label) => {
                    self.fault("prints", &format!("each print once, not {label} twice"))
                }
                Ok(label) => labels.push(label),
                Err(fault) => self.fault("prints", &fault.to_string()),
            }
        }
        if labels.is_empty() {
            self.fault("prints", "the ids of its prints in walking order, one at least");
        }
        labels
    }

    pub(super) fn fault(&mut self, name: &str, expected: &str) {
        let value = self.body.properties.get(name).map(|value| match value {
            Value::String(text) => text.clone(),
            other => other.to_string(),
        });
        let fault = Fault::of_cell(0, name, &value.unwrap_or_default(), expected);
        self.faults.push(Fault { row: None, ..fault });
    }

    pub(super) fn faults_alone(self) -> Result<(), Problem> {
        if self.faults.is_empty() {
            Ok(())
        } else {
            Err(told(self.faults))
        }
    }

    /// The record, where nothing is wrong and nothing is left.
    pub(super) fn done<T>(mut self, record: T) -> Result<T, Problem> {
        let left: Vec<String> = self
            .body
            .properties
            .keys()
            .filter(|name| !self.known.contains(&name.as_str()))
            .cloned()
            .collect();
        for name in left {
            self.fault(&name, &format!("one of {}", self.known.join(", ")));
        }
        self.faults_alone().map(|()| record)
    }
}

/// One fault as a problem.
pub(super) fn faulty(name: &str, value: &str, expected: &str) -> Problem {
    told(vec![Fault {
        row: None,
        ..Fault::of_cell(0, name, value, expected)
    }])
}

fn told(faults: Vec<Fault>) -> Problem {
    let total = faults.len() as u64;
    refused(&Faults { faults, total })
}

/// Faults of a record as a problem.
pub fn refused(faults: &Faults) -> Problem {
    let detail = format!(
        "{} fault{}; nothing was stored. Mend the record and send it again.",
        faults.total,
        if faults.total == 1 { "" } else { "s" }
    );
    Problem::bad_request(detail).with_faults("faulty-record", json!(faults.faults))
}
