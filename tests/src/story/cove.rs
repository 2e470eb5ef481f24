//! A cove whose records are edited one by one.

use super::{Answer, Ledger, Server, walk};
use cluster::{Cluster, Database};
use serde_json::{Value, json};

/// The media type of a feature.
pub const FEATURE: &str = "application/geo+json";
/// The media type of a patch.
pub const PATCH: &str = "application/merge-patch+json";

/// A cove with ten prints on S1, in a file or in a database.
pub struct Cove {
    /// The folder of its file.
    _ledger: Ledger,
    /// Serves it.
    pub server: Server,
    database: Option<Database>,
}

impl Cove {
    /// The file alone.
    #[must_use]
    pub fn ledger() -> Ledger {
        let ledger = Ledger::with_site("cove");
        ledger.import("cove", "sheet.csv", walk("S1", 0, 10)).done();
        ledger
    }

    /// In a file.
    #[must_use]
    pub fn in_a_file() -> Self {
        let ledger = Self::ledger();
        let server = ledger.serve(&[]);
        Self {
            _ledger: ledger,
            server,
            database: None,
        }
    }

    /// In a database.
    ///
    /// # Panics
    /// When there is none.
    #[must_use]
    pub fn in_a_database() -> Self {
        let ledger = Self::ledger();
        let database = Cluster::shared().database();
        ledger.copy_to(database.url());
        let command = ledger.command_on(database.url(), &["serve", "--listen", "127.0.0.1:0"]);
        Self {
            server: Server::start(command),
            _ledger: ledger,
            database: Some(database),
        }
    }

    /// Sends a feature, or a patch.
    pub fn ask(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &Value) -> Answer {
        let media = if method == "PATCH" { PATCH } else { FEATURE };
        let headers = [headers, &[("content-type", media)]].concat();
        self.server
            .client
            .ask(method, path, &headers, body.to_string().as_bytes())
    }

    /// Makes a record.
    pub fn post(&self, collection: &str, body: &Value) -> Answer {
        self.ask("POST", &format!("/collections/{collection}/items"), &[], body)
    }

    /// Reads a record.
    pub fn item(&self, collection: &str, id: &str) -> Answer {
        self.server.get(&item(collection, id))
    }
}

impl Drop for Cove {
    fn drop(&mut self) {
        if let Some(database) = &self.database {
            Cluster::shared().drop(database);
        }
    }
}

/// The path of a record.
#[must_use]
pub fn item(collection: &str, id: &str) -> String {
    format!("/collections/{collection}/items/{id}")
}

/// A print of the cove as a feature.
#[must_use]
pub fn print(label: &str, easting_m: f64) -> Value {
    json!({
        "type": "Feature",
        "geometry": null,
        "properties": {
            "surface": "cove:S1", "print": label, "easting_m": easting_m, "northing_m": 4_790_001.0, "length_m": 0.3,
            "side": "left", "overlies": ["cove:S1:P0000001"], "further": { "mould": "latex" },
        },
    })
}
