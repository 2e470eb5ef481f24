//! From what an asker writes to a query's typed input, by the input's own JSON Schema.

use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};
use std::any::TypeId;
use std::collections::HashMap;
use std::sync::{Arc, LazyLock, PoisonError, RwLock};

/// Inputs as they come: texts from a URL or the command line, or JSON values.
pub type Inputs = Vec<(String, Value)>;

/// One input that does not fit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct InputFault {
    /// The input's name.
    pub input: String,
    /// Its value as it came.
    pub value: Option<String>,
    /// What was expected.
    pub expected: String,
}

impl InputFault {
    /// A fault of one input.
    pub fn new(input: impl Into<String>, value: Option<String>, expected: impl Into<String>) -> Self {
        Self {
            input: input.into(),
            value,
            expected: expected.into(),
        }
    }
}

/// The JSON Schema of a query's input.
#[derive(Clone)]
pub(super) struct Schema(Arc<Value>);

impl Schema {
    /// Made once for each type: to make it costs more than to answer a small question.
    pub(super) fn of<Input: JsonSchema + 'static>() -> Self {
        static MADE: LazyLock<RwLock<HashMap<TypeId, Schema>>> = LazyLock::new(RwLock::default);
        let id = TypeId::of::<Input>();
        let made = MADE
            .read()
            .unwrap_or_else(PoisonError::into_inner)
            .get(&id)
            .cloned();
        made.unwrap_or_else(|| {
            let settings = SchemaSettings::openapi3().with(|settings| settings.inline_subschemas = true);
            let root = settings.into_generator().into_root_schema_for::<Input>();
            let made = Self(Arc::new(root.to_value()));
            MADE.write()
                .unwrap_or_else(PoisonError::into_inner)
                .insert(id, made.clone());
            made
        })
    }

    pub(super) fn to_value(&self) -> Value {
        Value::clone(&self.0)
    }

    /// Reads inputs into their type; every fault is told, not just the first.
    pub(super) fn read<Input: DeserializeOwned>(&self, inputs: Inputs) -> Result<Input, Vec<InputFault>> {
        let mut faults = Vec::new();
        let mut read = Map::new();
        for (name, value) in inputs {
            match self.value(&name, value, read.contains_key(&name)) {
                Ok(value) => {
                    read.insert(name, value);
                }
                Err(fault) => faults.push(fault),
            }
        }
        for name in self.0["required"]
            .as_array()
            .into_iter()
            .flatten()
            .filter_map(Value::as_str)
        {
            if !read.contains_key(name) && !faults.iter().any(|fault| fault.input == name) {
                let about = self.0["properties"][name]["description"]
                    .as_str()
                    .unwrap_or_default();
                faults.push(InputFault::new(
                    name,
                    None,
                    format!("a value, it is required: {}", sentence(about)),
                ));
            }
        }
        if faults.is_empty() {
            serde_json::from_value(Value::Object(read))
                .map_err(|error| vec![InputFault::new("", None, error.to_string())])
        } else {
            Err(faults)
        }
    }

    fn value(&self, name: &str, value: Value, again: bool) -> Result<Value, InputFault> {
        let fault = |expected: String| {
            let value = value.as_str().map_or_else(|| value.to_string(), str::to_owned);
            InputFault::new(name, Some(value), expected)
        };
        let Some(schema) = self.0["properties"].get(name) else {
            let names = self.0["properties"].as_object().into_iter().flat_map(Map::keys);
            let names: Vec<&str> = names.map(String::as_str).collect();
            return Err(fault(format!(
                "there is no such input; there are {}",
                names.join(", ")
            )));
        };
        if again {
            return Err(fault("this input comes twice; expected one value".to_owned()));
        }
        let typed = match &value {
            Value::String(text) => from_text(schema, text),
            other => Some(other.clone()),
        };
        typed
            .filter(|typed| fits(schema, typed))
            .ok_or_else(|| fault(expectation(schema)))
    }
}

fn from_text(schema: &Value, text: &str) -> Option<Value> {
    match schema["type"].as_str() {
        Some("integer") => {
            let whole = text.parse::<i64>().map(Value::from);
            whole.or_else(|_| text.parse::<u64>().map(Value::from)).ok()
        }
        Some("number") => text
            .parse::<f64>()
            .ok()
            .filter(|number| number.is_finite())
            .map(Value::from),
        Some("boolean") => text.parse::<bool>().ok().map(Value::from),
        Some("array") => text
            .split(',')
            .map(|part| from_text(&schema["items"], part.trim()))
            .collect(),
        _ => Some(Value::from(text)),
    }
}

fn fits(schema: &Value, value: &Value) -> bool {
    let bound = |name: &str| schema[name].as_f64();
    if let Some(choices) = choices(schema) {
        return choices.contains(&value);
    }
    match (schema["type"].as_str(), value) {
        (Some("integer"), Value::Number(number)) => !number.is_f64() && in_bounds(schema, number.as_f64()),
        (Some("number"), Value::Number(number)) => in_bounds(schema, number.as_f64()),
        (Some("array"), Value::Array(parts)) => {
            let count = parts.len() as f64;
            bound("minItems").is_none_or(|least| count >= least)
                && bound("maxItems").is_none_or(|most| count <= most)
                && parts.iter().all(|part| fits(&schema["items"], part))
        }
        (Some("string"), Value::String(_)) | (Some("boolean"), Value::Bool(_)) | (None, _) => true,
        _ => false,
    }
}

/// The values that an input can have where they are few; those with descriptions of their own stand apart.
fn choices(schema: &Value) -> Option<Vec<&Value>> {
    match schema["oneOf"].as_array() {
        Some(parts) => Some(
            parts
                .iter()
                .filter_map(|part| part["enum"].as_array())
                .flatten()
                .collect(),
        ),
        None => Some(schema["enum"].as_array()?.iter().collect()),
    }
}

fn in_bounds(schema: &Value, number: Option<f64>) -> bool {
    number.is_some_and(|number| {
        schema["minimum"].as_f64().is_none_or(|least| number >= least)
            && schema["maximum"].as_f64().is_none_or(|most| number <= most)
    })
}

fn expectation(schema: &Value) -> String {
    if let Some(choices) = choices(schema) {
        let names: Vec<&str> = choices.into_iter().filter_map(Value::as_str).collect();
        return format!("one of {}", names.join(", "));
    }
    let kind = match schema["type"].as_str() {
        Some("integer") => "a whole number",
        Some("number") => "a number",
        Some("boolean") => "true or false",
        Some("array") => "numbers separated by commas",
        _ => "a text",
    };
    let bounds = match (schema["minimum"].as_f64(), schema["maximum"].as_f64()) {
        (Some(least), Some(most)) => format!(" from {least} to {most}"),
        (Some(least), None) => format!(" of {least} or more"),
        (None, Some(most)) => format!(" of {most} or less"),
        (None, None) => String::new(),
    };
    let about = schema["description"].as_str().unwrap_or_default();
    format!("{kind}{bounds}: {}", sentence(about))
}

/// A description inside a longer sentence.
fn sentence(about: &str) -> &str {
    about.trim_end_matches('.')
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde::Deserialize;

    #[derive(Debug, Deserialize, Serialize, JsonSchema, PartialEq)]
    struct Walk {
        /// Where.
        at: [f64; 2],
        /// How many.
        #[serde(default = "ten")]
        #[schemars(range(min = 1, max = 20))]
        k: u32,
        /// How far.
        radius_m: Option<f64>,
    }

    fn ten() -> u32 {
        10
    }

    fn read(inputs: &[(&str, &str)]) -> Result<Walk, Vec<InputFault>> {
        let inputs = inputs
            .iter()
            .map(|(name, text)| ((*name).to_owned(), Value::from(*text)))
            .collect();
        Schema::of::<Walk>().read(inputs)
    }

    #[test]
    fn texts_become_typed_values_with_defaults() {
        let walk = read(&[("at", "1.5, -2"), ("radius_m", "3")]).unwrap();
        assert_eq!(
            walk,
            Walk {
                at: [1.5, -2.0],
                k: 10,
                radius_m: Some(3.0)
            }
        );
    }

    #[test]
    fn every_fault_is_told_at_once() {
        let faults = read(&[("k", "0"), ("radius_m", "NaN"), ("colour", "red")]).unwrap_err();
        let told: Vec<&str> = faults.iter().map(|fault| fault.input.as_str()).collect();
        assert_eq!(told, ["k", "radius_m", "colour", "at"]);
        assert!(
            faults[0].expected.contains("from 1 to 20"),
            "{}",
            faults[0].expected
        );
    }

    #[test]
    fn a_place_needs_two_numbers_and_comes_once() {
        assert!(read(&[("at", "1")]).is_err());
        assert!(read(&[("at", "1,2,3")]).is_err());
        assert!(read(&[("at", "1,2"), ("at", "1,2")]).is_err());
    }
}
