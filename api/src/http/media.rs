//! Media types, link relations and conformance classes: the standards' names in one place.

use actix_web::http::header::HeaderName;

/// The header that names the CRS of an answer's coordinates.
pub const CONTENT_CRS: HeaderName = HeaderName::from_static("content-crs");

/// JSON.
pub const JSON: &str = "application/json";
/// GeoJSON.
pub const GEOJSON: &str = "application/geo+json";
/// A JSON Schema.
pub const SCHEMA: &str = "application/schema+json";
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
    "http://www.opengis.net/spec/ogcapi-processes-1/1.0/conf/core",
    "http://www.opengis.net/spec/ogcapi-processes-1/1.0/conf/ogc-process-description",
    "http://www.opengis.net/spec/ogcapi-processes-1/1.0/conf/json",
    "http://www.opengis.net/spec/ogcapi-processes-1/1.0/conf/oas30",
    "http://www.opengis.net/spec/ogcapi-processes-1/1.0/conf/job-list",
    "http://www.opengis.net/spec/ogcapi-processes-1/1.0/conf/dismiss",
    "http://www.opengis.net/spec/ogcapi-features-3/1.0/conf/queryables",
    "http://www.opengis.net/spec/ogcapi-features-3/1.0/conf/filter",
    "http://www.opengis.net/spec/ogcapi-features-3/1.0/conf/features-filter",
    // The draft's names (20-002r1).
    "http://www.opengis.net/spec/ogcapi-features-4/1.0/conf/create-replace-delete",
    "http://www.opengis.net/spec/ogcapi-features-4/1.0/conf/update",
    "http://www.opengis.net/spec/ogcapi-features-4/1.0/conf/optimistic-locking-etags",
    "http://www.opengis.net/spec/ogcapi-features-4/1.0/conf/features",
    "http://www.opengis.net/spec/cql2/1.0/conf/cql2-text",
    "http://www.opengis.net/spec/cql2/1.0/conf/cql2-json",
    "http://www.opengis.net/spec/cql2/1.0/conf/basic-cql2",
    "http://www.opengis.net/spec/cql2/1.0/conf/advanced-comparison-operators",
    "http://www.opengis.net/spec/cql2/1.0/conf/case-insensitive-comparison",
    "http://www.opengis.net/spec/cql2/1.0/conf/basic-spatial-functions",
    "http://www.opengis.net/spec/cql2/1.0/conf/basic-spatial-functions-plus",
];

/// Link relations of OGC API Processes.
pub mod rel {
    /// The list of processes.
    pub const PROCESSES: &str = "http://www.opengis.net/def/rel/ogc/1.0/processes";
    /// Where a process is executed.
    pub const EXECUTE: &str = "http://www.opengis.net/def/rel/ogc/1.0/execute";
    /// The list of jobs.
    pub const JOBS: &str = "http://www.opengis.net/def/rel/ogc/1.0/job-list";
    /// The result of a job.
    pub const RESULTS: &str = "http://www.opengis.net/def/rel/ogc/1.0/results";
    /// The conformance declaration, as OGC API Processes calls it.
    pub const CONFORMANCE: &str = "http://www.opengis.net/def/rel/ogc/1.0/conformance";
}

/// The forms in which a resource can be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Media {
    /// JSON or GeoJSON.
    Json,
    /// A page for a browser.
    Html,
    /// A picture.
    Svg,
}

impl Media {
    /// The forms that every resource has.
    pub const READABLE: &[Self] = &[Self::Json, Self::Html];
    /// The forms of what also has a picture.
    pub const DRAWN: &[Self] = &[Self::Json, Self::Html, Self::Svg];

    /// The value of the parameter `f`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Json => "json",
            Self::Html => "html",
            Self::Svg => "svg",
        }
    }

    /// What an `Accept` header asks for of some forms: a page or a picture where it ranks that above any kind of
    /// JSON; JSON otherwise, also for `*/*` and for what the service does not have.
    #[must_use]
    pub fn accepted(header: &str, forms: &[Self]) -> Self {
        let (mut best, mut highest) = (Self::Json, 0.0f32);
        for part in header.split(',') {
            let mut pieces = part.split(';').map(str::trim);
            let form = match pieces.next().unwrap_or_default() {
                "text/html" | "application/xhtml+xml" => Self::Html,
                "application/json" | "application/geo+json" | "application/*" => Self::Json,
                "image/svg+xml" => Self::Svg,
                _ => continue,
            };
            let quality = pieces
                .filter_map(|piece| piece.strip_prefix("q="))
                .find_map(|q| q.parse().ok())
                .unwrap_or(1.0);
            let better = quality > highest || (quality >= highest && form == Self::Json);
            if forms.contains(&form) && better {
                (best, highest) = (form, quality);
            }
        }
        best
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn json_unless_a_browser_asks() {
        let accepted = |header| Media::accepted(header, Media::READABLE);
        assert_eq!(accepted(""), Media::Json);
        assert_eq!(accepted("*/*"), Media::Json);
        let browser = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8";
        assert_eq!(accepted(browser), Media::Html);
        assert_eq!(accepted("text/html;q=0.5, application/geo+json"), Media::Json);
        assert_eq!(accepted("text/html, application/json"), Media::Json);
        assert_eq!(accepted("text/xml"), Media::Json);
        assert_eq!(accepted("image/svg+xml"), Media::Json);
    }

    #[test]
    fn a_picture_where_there_is_one() {
        let accepted = |header| Media::accepted(header, Media::DRAWN);
        assert_eq!(accepted("image/svg+xml"), Media::Svg);
        assert_eq!(accepted("image/svg+xml;q=0.3, text/html;q=0.4"), Media::Html);
        assert_eq!(accepted("image/*"), Media::Json);
    }
}
