//! HTTP as browsers, caches, proxies and scripts know it: forms, headers, statuses.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use tests::story::{Answer, Ledger, Server, features, problem};

const COLLECTIONS: [&str; 5] = ["sites", "surfaces", "extents", "prints", "trackways"];

fn served(story: impl FnOnce(&Server)) {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    story(&server);
}

fn one_id(server: &Server, collection: &str) -> String {
    let page = server.get(&format!("/collections/{collection}/items?limit=1"));
    let page = page.with_status(200).json();
    features(&page)[0]["id"].as_str().unwrap().to_owned()
}

#[test]
fn a_browser_gets_pages_and_a_machine_json() {
    served(|server| {
        let browser = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8";
        let mut paths = vec![
            "/".to_owned(),
            "/conformance".into(),
            "/api".into(),
            "/collections".into(),
        ];
        paths.extend([
            "/queries".to_owned(),
            "/queries/grouping?surface=gannet-ledge:S1".into(),
        ]);
        for collection in COLLECTIONS {
            let at = format!("/collections/{collection}");
            paths.push(format!("{at}/items?limit=3"));
            paths.push(format!("{at}/items/{}", one_id(server, collection)));
            paths.push(at);
        }
        for path in paths {
            let by_header = server
                .client
                .get_with(&path, &[("accept", browser)])
                .with_status(200);
            let glue = if path.contains('?') { '&' } else { '?' };
            let by_name = server.get(&format!("{path}{glue}f=html")).with_status(200);
            for page in [&by_header, &by_name] {
                assert_eq!(page.media(), "text/html", "{path}");
                let text = page.text().to_lowercase();
                assert!(
                    text.starts_with("<!doctype html>") && text.contains("</html>"),
                    "{path}"
                );
            }
            for accept in ["*/*", "application/json", "application/geo+json", "text/xml", ""] {
                let answer = server
                    .client
                    .get_with(&path, &[("accept", accept)])
                    .with_status(200);
                assert!(
                    answer.media().ends_with("json"),
                    "{path} for {accept:?}: {}",
                    answer.media()
                );
            }
            let named = format!("{path}{glue}f=json");
            let named = server
                .client
                .get_with(&named, &[("accept", browser)])
                .with_status(200);
            assert!(named.media().ends_with("json"), "{path}");
            problem(&server.get(&format!("{path}{glue}f=xml")), 400);
        }
        let surface = server.get("/collections/surfaces/items/gannet-ledge:S1?f=html");
        assert!(
            surface.text().contains("<svg"),
            "the surface's page shows its plan"
        );
        let plan = server.get("/surfaces/gannet-ledge:S1/plan.svg").with_status(200);
        assert_eq!(plan.media(), "image/svg+xml");
    });
}

#[test]
fn text_of_a_sheet_is_shown_and_not_run() {
    let ledger = Ledger::with_site("gull-ledge");
    let note = "<script>alert(1)</script>\"'&";
    let sheet = format!(
        "surface,print,easting_m,northing_m,length_m,note\nS1,P1,480000,4790000,0.3,\"{}\"\n",
        note.replace('"', "\"\"")
    );
    ledger.import("gull-ledge", "sheet.csv", sheet).done();
    let server = ledger.serve(&[]);
    for path in [
        "/collections/prints/items",
        "/collections/prints/items/gull-ledge:S1:P1",
    ] {
        let page = server.get(&format!("{path}?f=html")).with_status(200);
        assert!(!page.text().contains("<script>alert"), "{path}");
        assert!(page.text().contains("&lt;script&gt;alert"), "{path}");
    }
    let one = server.get("/collections/prints/items/gull-ledge:S1:P1").json();
    assert_eq!(one["properties"]["note"], note);
}

fn manners(answer: &Answer) {
    let vary = answer.header("vary").unwrap().to_lowercase();
    assert!(
        vary.contains("accept") && vary.contains("accept-encoding"),
        "{vary}"
    );
    assert_eq!(answer.header("x-content-type-options"), Some("nosniff"));
}

#[test]
fn caches_proxies_and_pages_of_other_sites_are_served_well() {
    served(|server| {
        let path = "/collections/prints/items?limit=200";
        let plain = server.get(path).with_status(200);
        manners(&plain);
        let packed = server
            .client
            .get_with(path, &[("accept-encoding", "gzip")])
            .with_status(200);
        manners(&packed);
        assert_eq!(packed.header("content-encoding"), Some("gzip"));
        assert!(
            packed.carried * 4 < plain.carried,
            "{} of {}",
            packed.carried,
            plain.carried
        );
        assert_eq!(packed.json()["features"], plain.json()["features"]);

        for path in ["/", "/collections/prints", path, "/health/ready", "/api"] {
            let (head, get) = (server.client.ask("HEAD", path, &[], b""), server.get(path));
            assert_eq!((head.status, head.carried), (200, 0), "{path}");
            assert_eq!(head.header("content-type"), get.header("content-type"), "{path}");
        }
        let from_a_page = [("origin", "https://map.example")];
        let answer = server.client.get_with(path, &from_a_page).with_status(200);
        assert!(matches!(
            answer.header("access-control-allow-origin"),
            Some("*" | "https://map.example")
        ));
        let exposed = answer
            .header("access-control-expose-headers")
            .unwrap()
            .to_lowercase();
        assert!(
            exposed.contains("content-crs") && exposed.contains("etag"),
            "{exposed}"
        );
        let before = [
            ("origin", "https://map.example"),
            ("access-control-request-method", "GET"),
        ];
        let preflight = server.client.ask("OPTIONS", path, &before, b"");
        assert!(matches!(preflight.status, 200 | 204), "{}", preflight.status);
        problem(&server.client.get_with("/nothing", &from_a_page), 404);
    });
}

#[test]
fn what_cannot_be_done_is_told_as_a_problem() {
    served(|server| {
        for path in [
            "/",
            "/conformance",
            "/api",
            "/collections",
            "/queries",
            "/queries/nearest",
            "/health/live",
        ] {
            for method in ["POST", "PUT", "DELETE", "PATCH", "TRACE"] {
                let answer = server.client.ask(method, path, &[], b"");
                manners(&answer);
                problem(&answer, 405);
            }
        }
        for path in [
            "/nothing",
            "/collections/bones/items",
            "/collections/prints/items/gannet-ledge:S1:NONE",
            "/collections/prints/items/no-id",
            "/collections/sites/items/nowhere",
            "/collections/surfaces/items/gannet-ledge:S9",
            "/queries/fly",
            "/surfaces/gannet-ledge:S9/plan.svg",
        ] {
            problem(&server.get(path), 404);
        }
    });
}

/// RFC 9110, 15.5.6: an answer 405 names the methods that are allowed.
#[test]
fn a_refused_method_is_told_which_ones_there_are() {
    served(|server| {
        for (path, allowed) in [
            ("/", "GET"),
            ("/collections/prints/items", "GET"),
            ("/queries/nearest", "GET"),
        ] {
            let answer = server.client.ask("DELETE", path, &[], b"");
            assert!(
                answer.header("allow").unwrap_or_default().contains(allowed),
                "{path}"
            );
        }
        let answer = server.client.ask("GET", "/sites/gannet-ledge/imports", &[], b"");
        assert!(answer.header("allow").unwrap_or_default().contains("POST"));
    });
}

#[test]
fn told_to_stop_it_ends_well_and_its_log_has_no_query_strings() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let _ = server
        .get("/collections/prints/items?bbox=-3.7,43.4,-3.6,43.5")
        .with_status(200);
    let (status, log) = server.stop();
    assert!(status.success(), "{status}");
    let log = log.join("\n");
    assert!(log.contains("/collections/prints/items"), "{log}");
    assert!(
        !log.contains("43.4"),
        "a place that may be secret is in the log: {log}"
    );
}
