//! Media types, link relations and conformance classes: the standards' names in one place.

use actix_web::http::header::HeaderName;

/// The header that names the CRS of an answer's coordinates.
pub const CONTENT_CRS: HeaderName = HeaderName::from_static("content-crs");

/// JSON.
pub const JSON: &str = "application/json";
/// GeoJSON.
pub const GEOJSON: &str = "application/geo+json";
/// OpenAPI 3.0.
pub const OPENAPI: &str = "application/vnd.oai.openapi+json;version=3.0";
/// A page for a browser.
pub const HTML: &str = "text/html; charset=utf-8";
/// A picture.
pub const SVG: &str = "image/svg+xml";
/// A field sheet.
pub const CSV: &str = "text/csv";

/// The conformance classes that the service declares.
pub const CONFORMANCE: &[&str] = &[
    "http://www.opengis.net/spec/ogcapi-common-1/1.0/conf/core",
    "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/core",
    "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/geojson",
    "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/html",
    "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/oas30",
    "http://www.opengis.net/spec/ogcapi-features-2/1.0/conf/crs",
];

/// The two forms in which every resource can be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Media {
    /// JSON or GeoJSON.
    Json,
    /// A page for a browser.
    Html,
}

impl Media {
    /// The value of the parameter `f`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Json => "json",
            Self::Html => "html",
        }
    }

    /// What an `Accept` header asks for: a page where it ranks HTML above any kind of JSON; JSON
    /// otherwise, also for `*/*` and for what the service does not have.
    #[must_use]
    pub fn accepted(header: &str) -> Self {
        let (mut html, mut json) = (0.0f32, 0.0f32);
        for part in header.split(',') {
            let mut pieces = part.split(';').map(str::trim);
            let kind = pieces.next().unwrap_or_default();
            let quality = pieces
                .filter_map(|piece| piece.strip_prefix("q="))
                .find_map(|q| q.parse().ok())
                .unwrap_or(1.0);
            match kind {
                "text/html" | "application/xhtml+xml" => html = html.max(quality),
                "application/json" | "application/geo+json" | "application/*" => json = json.max(quality),
                _ => {}
            }
        }
        if html > json { Self::Html } else { Self::Json }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn json_unless_a_browser_asks() {
        assert_eq!(Media::accepted(""), Media::Json);
        assert_eq!(Media::accepted("*/*"), Media::Json);
        assert_eq!(
            Media::accepted("text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"),
            Media::Html
        );
        assert_eq!(
            Media::accepted("text/html;q=0.5, application/geo+json"),
            Media::Json
        );
        assert_eq!(Media::accepted("text/xml"), Media::Json);
    }
}
