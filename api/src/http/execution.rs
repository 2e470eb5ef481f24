//! The body of an execution: which inputs, and how the answer is wanted.

use super::Problem;
use super::media::{GEOJSON, JSON};
use actix_web::HttpRequest;
use actix_web::http::StatusCode;
use actix_web::http::header::CONTENT_TYPE;
use actix_web::web::Bytes;
use serde_json::{Map, Value};

/// The one output of each process.
pub const ANSWER: &str = "answer";

/// What an execution asks for.
#[derive(Debug)]
pub struct Execution {
    /// The inputs, by value.
    pub inputs: Map<String, Value>,
    /// Whether the answer is wanted as a document; raw otherwise.
    pub document: bool,
}

impl Execution {
    /// Reads a request's body.
    ///
    /// # Errors
    /// When it is too large, is no JSON, or asks for what there is not.
    pub fn read(request: &HttpRequest, body: Result<Bytes, actix_web::Error>) -> Result<Self, Problem> {
        // A page of another site can send other types without asking first, but not this one.
        let media = request
            .headers()
            .get(CONTENT_TYPE)
            .and_then(|media| media.to_str().ok());
        let media = media
            .unwrap_or_default()
            .split(';')
            .next()
            .unwrap_or_default()
            .trim();
        if !media.eq_ignore_ascii_case(JSON) {
            let detail = format!("Send the inputs as {JSON}; this came as {media:?}.");
            return Err(Problem::new(StatusCode::UNSUPPORTED_MEDIA_TYPE, detail));
        }
        let body = body.map_err(|error| {
            let status = error.as_response_error().status_code();
            Problem::new(status, format!("The body cannot be taken: {error}."))
        })?;
        let body: Value = serde_json::from_slice(&body)
            .map_err(|error| Problem::bad_request(format!("The body is no JSON: {error}.")))?;
        match body {
            Value::Object(members) => Self::of(members),
            _ => Err(Problem::bad_request(
                "The body is no object: expected {\"inputs\": {…}}.",
            )),
        }
    }

    fn of(mut members: Map<String, Value>) -> Result<Self, Problem> {
        let document = match members.remove("response") {
            None => false,
            Some(Value::String(word)) if word == "raw" => false,
            Some(Value::String(word)) if word == "document" => true,
            Some(other) => return refused(format!("response is {other}: expected \"raw\" or \"document\".")),
        };
        check_outputs(members.remove("outputs"))?;
        let inputs = match members.remove("inputs") {
            None => Map::new(),
            Some(Value::Object(inputs)) => inputs,
            Some(_) => return refused("inputs is no object: expected {\"name\": value, …}."),
        };
        if members.contains_key("subscriber") {
            return refused(
                "This service calls nobody back; leave out subscriber, and look at the job instead.",
            );
        }
        if let Some(name) = members.keys().next() {
            return refused(format!(
                "There is no {name:?} here; there are inputs, outputs, response."
            ));
        }
        let inputs = inputs.into_iter().map(|(name, input)| {
            let value = value(&name, input)?;
            Ok((name, value))
        });
        Ok(Self {
            inputs: inputs.collect::<Result<_, Problem>>()?,
            document,
        })
    }
}

/// An input's plain value, whether it comes bare, with its media type, or in a link that carries it.
fn value(name: &str, input: Value) -> Result<Value, Problem> {
    match input {
        Value::Object(mut qualified) if qualified.contains_key("value") => {
            Ok(qualified.remove("value").unwrap_or_default())
        }
        Value::Object(link) if link.contains_key("href") => {
            let href = link["href"].as_str().unwrap_or_default();
            carried(href).ok_or_else(|| {
                Problem::bad_request(format!(
                    "The input {name} is a link to elsewhere: this service fetches nothing; give the value itself, or a link that \
                     carries it, as in data:,gannet-ledge:S2."
                ))
            })
        }
        plain => Ok(plain),
    }
}

/// What a `data:` link (RFC 2397) carries: JSON where it says so, else a text.
fn carried(href: &str) -> Option<Value> {
    let (media, data) = href.strip_prefix("data:")?.split_once(',')?;
    if media.ends_with(";base64") {
        return None;
    }
    let text = percent_encoding::percent_decode_str(data).decode_utf8().ok()?;
    if media.split(';').next() == Some(JSON) {
        serde_json::from_str(&text).ok()
    } else {
        Some(Value::from(text))
    }
}

/// There is one output, it comes by value, and it is GeoJSON.
fn check_outputs(outputs: Option<Value>) -> Result<(), Problem> {
    let outputs = match outputs {
        None => return Ok(()),
        Some(Value::Object(outputs)) => outputs,
        Some(_) => return refused("outputs is no object: expected {\"answer\": {}}."),
    };
    for (name, output) in &outputs {
        if name != ANSWER {
            return refused(format!("There is no output {name:?}; there is {ANSWER:?}."));
        }
        if !matches!(output["transmissionMode"].as_str(), None | Some("value")) {
            return refused(
                "transmissionMode: expected \"value\"; answers are not kept elsewhere to be linked to.",
            );
        }
        if !matches!(
            output["format"]["mediaType"].as_str(),
            None | Some(GEOJSON | JSON)
        ) {
            return refused(format!("The answer is {GEOJSON}; no other mediaType can be had."));
        }
    }
    Ok(())
}

fn refused<T>(detail: impl Into<String>) -> Result<T, Problem> {
    Err(Problem::bad_request(detail))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn read(body: Value) -> Result<Execution, Problem> {
        match body {
            Value::Object(members) => Execution::of(members),
            _ => unreachable!("the tests give objects"),
        }
    }

    #[test]
    fn raw_is_the_default() {
        assert!(!read(json!({})).unwrap().document);
        assert!(
            !read(json!({ "response": "raw", "outputs": {} }))
                .unwrap()
                .document
        );
        let read = read(json!({ "inputs": { "k": 3 }, "outputs": { "answer": {} }, "response": "document" }))
            .unwrap();
        assert!(read.document);
        assert_eq!(read.inputs["k"], 3);
    }

    #[test]
    fn values_come_bare_qualified_or_in_a_link_that_carries_them() {
        let inputs = json!({
            "bare": [1, 2],
            "qualified": { "value": 2.5, "mediaType": "application/json" },
            "text": { "href": "data:,gannet-ledge:S2%20a" },
            "json": { "href": "data:application/json,%5B1%2C2%5D" },
        });
        let read = read(json!({ "inputs": inputs })).unwrap();
        let expected =
            json!({ "bare": [1, 2], "qualified": 2.5, "text": "gannet-ledge:S2 a", "json": [1, 2] });
        assert_eq!(Value::from(read.inputs), expected);
    }

    #[test]
    fn what_there_is_not_is_refused() {
        for body in [
            json!({ "response": "pictures" }),
            json!({ "outputs": { "picture": {} } }),
            json!({ "outputs": [] }),
            json!({ "outputs": { "answer": { "transmissionMode": "reference" } } }),
            json!({ "outputs": { "answer": { "format": { "mediaType": "image/tiff" } } } }),
            json!({ "inputs": [] }),
            json!({ "inputs": { "k": { "href": "http://127.0.0.1/secret" } } }),
            json!({ "inputs": { "k": { "href": "file:///etc/hostname" } } }),
            json!({ "inputs": { "k": { "href": "data:;base64,MQ==" } } }),
            json!({ "subscriber": { "successUri": "http://example.com/" } }),
            json!({ "mode": "async" }),
        ] {
            assert!(read(body.clone()).is_err(), "{body}");
        }
    }
}
