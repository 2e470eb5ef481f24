//! The open standards' schemas as judges of answers.

use super::Answer;
use jsonschema::{Registry, Validator};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};

/// The schema of one kind of document.
pub struct Schema {
    validator: Validator,
    file: String,
}

impl Schema {
    /// A schema by its file in `fixtures/standards`, with all that it refers to.
    ///
    /// # Panics
    /// When it cannot be read.
    #[must_use]
    pub fn of(file: &str) -> Self {
        let mut registry = Registry::new();
        let folder = PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/standards"));
        for part in ["features-1-1.0.1", "features-2-1.0.1", "processes-1-1.0"] {
            for entry in fs::read_dir(folder.join(part)).expect("the schemas are there") {
                let path = entry.expect("the folder can be read").path();
                let name = path
                    .file_name()
                    .and_then(|name| name.to_str())
                    .expect("plain names");
                registry = registry
                    .add(format!("{ROOT}{part}/{name}"), read(&path))
                    .expect("a schema's address is one");
            }
        }
        let registry = registry.prepare().expect("the schemas refer to one another");
        let validator = jsonschema::options()
            .with_registry(&registry)
            .with_base_uri(format!("{ROOT}{file}"))
            .should_validate_formats(true)
            .build(&read(&folder.join(file)))
            .unwrap_or_else(|error| panic!("{file}: {error}"));
        Self {
            validator,
            file: file.to_owned(),
        }
    }

    /// GeoJSON's own schema of collections of features.
    #[must_use]
    pub fn geojson() -> Self {
        Self::of("geojson-rfc7946/FeatureCollection.json")
    }

    /// Judges a document.
    ///
    /// # Panics
    /// When it does not fit.
    pub fn fits(&self, document: &Value) {
        let faults = self.validator.iter_errors(document).take(5);
        let faults: Vec<String> = faults
            .map(|fault| format!("{} at {}", fault.masked(), fault.instance_path()))
            .collect();
        assert!(faults.is_empty(), "{}: {faults:#?}", self.file);
    }
}

const ROOT: &str = "urn-of-fixtures:/";

fn read(path: &Path) -> Value {
    let text = fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    serde_json::from_str(&text).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// The problem document (RFC 9457) of an answer that must have this status.
///
/// # Panics
/// When the status is another or the document is none.
pub fn problem(answer: &Answer, status: u16) -> Value {
    assert_eq!(answer.status, status, "{}", answer.text());
    assert_eq!(answer.media(), "application/problem+json", "{}", answer.text());
    let document = answer.json();
    Schema::of("problem.json").fits(&document);
    assert_eq!(document["status"], status);
    for member in ["type", "title", "detail"] {
        assert!(
            document[member].as_str().is_some_and(|words| !words.is_empty()),
            "no {member}: {document}"
        );
    }
    document
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn the_judges_refuse_what_does_not_fit() {
        let bad_point = json!({ "type": "Feature", "id": "a", "properties": {},
            "geometry": { "type": "Point", "coordinates": ["east", "north"] }, "links": [] });
        let bad_page = json!({ "type": "FeatureCollection", "features": [bad_point.clone()] });
        let bad_crs = json!({ "id": "prints", "links": [], "crs": [7] });
        for (file, document) in [
            ("features-1-1.0.1/featureCollectionGeoJSON.json", &bad_page),
            ("features-1-1.0.1/featureGeoJSON.json", &bad_point),
            ("features-2-1.0.1/collection.json", &bad_crs),
            (
                "features-2-1.0.1/collections.json",
                &json!({ "links": [], "collections": [bad_crs] }),
            ),
            ("geojson-rfc7946/FeatureCollection.json", &bad_page),
            (
                "openapi/oas30.json",
                &json!({ "openapi": "3.1.0", "info": {}, "paths": {} }),
            ),
            ("problem.json", &json!({ "status": "four hundred" })),
            (
                "processes-1-1.0/process.json",
                &json!({ "id": "gait", "version": "1", "inputs": { "k": {} } }),
            ),
            (
                "processes-1-1.0/statusInfo.json",
                &json!({ "jobID": "a", "type": "process", "status": "done" }),
            ),
            (
                "processes-1-1.0/jobList.json",
                &json!({ "jobs": [{ "jobID": "a" }], "links": [] }),
            ),
            (
                "processes-1-1.0/processList.json",
                &json!({ "processes": [{ "id": "gait" }], "links": [] }),
            ),
            (
                "processes-1-1.0/results.json",
                &json!({ "answer": { "values": 1 } }),
            ),
            ("processes-1-1.0/execute.json", &json!({ "response": "picture" })),
        ] {
            assert!(
                !Schema::of(file).validator.is_valid(document),
                "{file} takes {document}"
            );
        }
    }
}
