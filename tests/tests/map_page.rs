//! A track worker with a browser: looks at a surface, comes nearer, asks what lies where and what it means, and judges
//! what was proposed.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::Value;
use tests::story::{Browser, Holder, Ledger, Server, features, problem, walk};

/// The surface of these stories; its trackways are proposals.
const SURFACE: &str = "gannet-ledge:S1";
const GRID: &str = "http://www.opengis.net/def/crs/EPSG/0/25830";

/// Opens the map at what stands behind the `#`.
fn open(browser: &Browser, server: &Server, at: &str) {
    browser.go(&format!("{}/map#{at}", server.base()));
}

/// Waits for the plan, and gives the place in the window of an easting and northing.
fn place(browser: &Browser, [east, north]: [f64; 2]) -> [f64; 2] {
    browser.until("document.querySelector('#plan:not(.waits) svg') !== null");
    let script = format!(
        "(() => {{ const svg = document.querySelector('#plan svg');
            const numbers = (name) => svg.getAttribute(name).split(' ').map(Number);
            const [w, s, e, n] = numbers('data-window'), [x, y, width, height] = numbers('data-frame');
            const at = new DOMPoint(x + ({east} - w) / (e - w) * width, y + (n - {north}) / (n - s) * height);
            svg.scrollIntoView();
            const on = at.matrixTransform(svg.getScreenCTM());
            return [on.x, on.y]; }})()"
    );
    let found = browser.value(&script);
    [0, 1].map(|axis: usize| found[axis].as_f64().unwrap())
}

fn window(browser: &Browser) -> Vec<f64> {
    browser.until("document.querySelector('#plan:not(.waits) svg') !== null");
    let text = browser.value("document.querySelector('#plan svg').getAttribute('data-window')");
    let numbers = text.as_str().unwrap().split(' ');
    numbers.map(|number| number.parse().unwrap()).collect()
}

/// Comes nearer, and waits until the plan is drawn anew.
fn nearer(browser: &Browser) {
    window(browser);
    let before = browser.value("document.querySelector('#plan svg').getAttribute('data-window')");
    browser.click("[name=nearer]");
    browser.until(&format!(
        "document.querySelector('#plan svg').getAttribute('data-window') !== {before}"
    ));
}

fn trackway(server: &Server, label: &str) -> Value {
    let path = format!("/collections/trackways/items/{SURFACE}:{label}");
    server.get(&path).with_status(200).json()
}

#[test]
fn a_place_that_is_touched_tells_its_print_and_trackways() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let browser = Browser::start();
    open(&browser, &server, "");
    browser.until_told("#surfaces", "tussock-quarry:Q2");
    browser.click(&format!("a[href='#surface={}']", SURFACE.replace(':', "%3A")));

    let print = server.get(&format!("/collections/prints/items/{SURFACE}:P052?crs={GRID}"));
    let print = print.with_status(200).json();
    let at = [0, 1].map(|axis: usize| print["geometry"]["coordinates"][axis].as_f64().unwrap());
    let touched = place(&browser, at);
    browser.drag(touched, [0.0, 0.0]);
    browser.until_told("#here", &format!("nearest print: {SURFACE}:P052"));
    browser.until_told("#here", "broad-toed");
    browser.until_told("#here", &format!("trackway {SURFACE}:G4"));
    browser.click("#here .past summary");
    browser.until_told("#here .past", "demo");
    let marked = browser.value("document.querySelectorAll('#plan .laid > *').length");
    assert_eq!(marked, 2, "the print and its trackway stand out");
    assert_eq!(browser.complaints(), [""; 0]);

    // The address leads to the same view.
    let address = browser.value("location.href");
    browser.go(address.as_str().unwrap());
    browser.until_told("#here", &format!("nearest print: {SURFACE}:P052"));
}

#[test]
fn the_plan_is_moved_and_drawn_anew_as_far_as_the_hand_has_moved_it() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let browser = Browser::start();
    open(&browser, &server, &format!("surface={SURFACE}"));
    let whole = window(&browser);
    nearer(&browser);
    let near = window(&browser);
    let width_m = |window: &[f64]| window[2] - window[0];
    assert!(
        (width_m(&whole) / width_m(&near) - 1.6).abs() < 0.01,
        "{whole:?} {near:?}"
    );

    let middle = [0, 1].map(|axis| f64::midpoint(near[axis], near[axis + 2]));
    let [x, y] = place(&browser, middle);
    let two_metres_east = place(&browser, [middle[0] + 2.0, middle[1]]);
    browser.drag([x, y], [x - two_metres_east[0], 0.0]);
    browser.until(&format!("Math.abs(Number(document.querySelector('#plan svg').getAttribute('data-window').split(' ')[0]) - {}) > 1", near[0]));
    let moved = window(&browser);
    assert!((moved[0] - near[0] - 2.0).abs() < 0.05, "{near:?} {moved:?}");
    assert!((moved[1] - near[1]).abs() < 0.05, "{near:?} {moved:?}");
    assert!((width_m(&moved) - width_m(&near)).abs() < 0.01);

    browser.click("[name=whole]");
    browser.until(&format!("Math.abs(Number(document.querySelector('#plan svg').getAttribute('data-window').split(' ')[0]) - {}) < 1e-6", whole[0]));
    assert_eq!(window(&browser), whole);
}

#[test]
fn a_grid_whose_authority_writes_the_northing_first_is_drawn_as_any_other() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let browser = Browser::start();
    // EPSG:2193 has the northing first.
    let id = "tussock-quarry:Q1:P100";
    let print = server
        .get(&format!("/collections/prints/items/{id}"))
        .with_status(200)
        .json();
    let at = ["easting_m", "northing_m"].map(|name| print["properties"][name].as_f64().unwrap());
    open(&browser, &server, "surface=tussock-quarry:Q1");
    nearer(&browser);
    let touched = place(&browser, at);
    browser.drag(touched, [0.0, 0.0]);
    browser.until_told("#here", &format!("nearest print: {id}"));
    // The ring around the print lies where the print was touched, and so does what is asked for at that place.
    for asked in ["", "&query=nearest&k=1"] {
        open(
            &browser,
            &server,
            &format!("surface=tussock-quarry:Q1&at={},{}{asked}", at[0], at[1]),
        );
        browser.until("document.querySelector('#plan .laid .print path.rim') !== null");
        let [x, y] = place(&browser, at);
        let ring = browser.value(
            "(({ x, y, width, height }) => [x + width / 2, y + height / 2])(document.querySelector('#plan .laid .print path.rim').getBoundingClientRect())",
        );
        let apart = (ring[0].as_f64().unwrap() - x).hypot(ring[1].as_f64().unwrap() - y);
        assert!(apart < 2.0, "{asked}: {ring} is not at {x}, {y}");
    }
    open(&browser, &server, "surface=tussock-quarry:Q1&query=grouping");
    browser.until("document.querySelectorAll('#plan .laid .trackway').length > 0");
    let shown = window(&browser);
    assert!(
        shown[2] - shown[0] < 100.0,
        "nothing of the answer lies far off: {shown:?}"
    );
    assert_eq!(browser.complaints(), [""; 0]);
}

#[test]
fn every_query_of_a_surface_is_asked_by_its_form() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let browser = Browser::start();
    open(&browser, &server, &format!("surface={SURFACE}"));
    browser.until("document.querySelector('#question select') !== null");
    let offered =
        browser.value("[...document.querySelector('#question select').options].map((one) => one.value)");
    let queries = server.get("/queries").with_status(200).json();
    let queries = queries["queries"].as_array().unwrap();
    let mapped: Vec<&Value> = queries
        .iter()
        .filter(|query| query["inputs"]["surface"].is_object() || query["inputs"]["trackway"].is_object())
        .collect();
    let ids: Vec<&Value> = mapped.iter().map(|query| &query["id"]).collect();
    assert_eq!(offered.as_array().unwrap().iter().collect::<Vec<_>>(), ids);
    for query in mapped {
        let id = query["id"].as_str().unwrap();
        let inputs = match id {
            "nearest" => "&at=447033.2,4813653.5".to_owned(),
            "continuation" => format!("&trackway={SURFACE}:G4&steps=2"),
            _ => String::new(),
        };
        open(
            &browser,
            &server,
            &format!("surface={SURFACE}&query={id}{inputs}"),
        );
        browser.until_told("#answer", "what was asked, and the method");
        let fault = browser.value("document.querySelector('.fault')?.innerText ?? ''");
        assert_eq!(fault, "", "{id}");
        // What has a place and a CRS of its own lies on the plan.
        let crs = query["inputs"]["crs"].is_object().then(|| format!("&crs={GRID}"));
        let asked = match id {
            "continuation" => inputs.trim_start_matches('&').to_owned(),
            _ => format!("surface={SURFACE}{inputs}"),
        };
        let answer = server.get(&format!(
            "/queries/{id}?{asked}{}",
            crs.clone().unwrap_or_default()
        ));
        let answer = answer.with_status(200).json();
        let placed = features(&answer)
            .iter()
            .filter(|feature| crs.is_some() && !feature["geometry"].is_null());
        let laid = browser.value("document.querySelectorAll('#plan .laid > *').length");
        assert_eq!(laid, placed.count(), "{id}");
        if let Some(caution) = answer["caution"].as_str().filter(|caution| !caution.is_empty()) {
            assert_eq!(browser.text("#answer .caution"), caution, "{id}");
        }
    }
    assert_eq!(browser.complaints(), [""; 0]);
}

#[test]
fn a_form_that_is_filled_in_asks_and_its_faults_are_told() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let browser = Browser::start();
    open(&browser, &server, &format!("surface={SURFACE}"));
    // The form goes over to a query that takes a trackway, with the trackway filled in.
    browser.click(&format!("#trackways [name=take][data-of='{SURFACE}:G4']"));
    browser.until(&format!(
        "document.querySelector('#question [name=trackway]')?.value === '{SURFACE}:G4'"
    ));
    browser.click("#question option[value=continuation]");
    browser.click("#question summary");
    browser.click("#question [name=direction] option[value=before]");
    browser.write("#question [name=steps]", "none");
    browser.click("#question form > button");
    browser.until_told("#answer .fault", "steps");
    browser.clear("#question [name=steps]");
    browser.write("#question [name=steps]", "3");
    browser.click("#question form > button");
    browser.until("document.querySelectorAll('#plan .laid .predicted').length === 3");
    // The whole answer is shown, though it leads off the surface's map.
    let [_, _, _, north] = window(&browser)[..] else {
        panic!()
    };
    let address = browser.value("location.hash").as_str().unwrap().to_owned();
    assert!(
        address.contains("direction=before") && !address.contains("undefined"),
        "{address}"
    );
    browser.click("#answer tr.goes");
    browser.until("document.querySelector('#plan .laid .chosen') !== null");
    assert!(window(&browser)[3] >= north);
}

#[test]
fn a_proposal_is_accepted_as_it_was_seen() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let browser = Browser::start();
    open(&browser, &server, &format!("surface={SURFACE}"));
    let button =
        |verdict: &str, label: &str| format!("#trackways [name={verdict}][data-of='{SURFACE}:{label}']");
    browser.click(&button("accept", "G4"));
    browser.until_told("#told", "accepted");
    assert_eq!(trackway(&server, "G4")["properties"]["status"], "accepted");
    browser.until(&format!(
        "document.querySelector(\"{}\") === null",
        button("accept", "G4")
    ));
    browser.click(&button("reject", "G1"));
    browser.until_told("#told", "rejected");
    assert_eq!(trackway(&server, "G1")["properties"]["status"], "rejected");
    assert_eq!(browser.complaints(), [""; 0]);

    // Somebody else has judged meanwhile: the reader is told, and nothing of it is undone.
    let seen = trackway(&server, "G2")["properties"]["revision"].clone();
    let headers = [("if-match", &*format!("\"{seen}\""))];
    let elsewhere = server
        .client
        .ask("POST", &format!("/trackways/{SURFACE}:G2/reject"), &headers, b"");
    elsewhere.with_status(200);
    browser.click(&button("accept", "G2"));
    browser.until("document.querySelector('#told .fault') !== null");
    assert_eq!(trackway(&server, "G2")["properties"]["status"], "rejected");
    // Now that he sees how it stands, he may.
    browser.until_told("#trackways tr:last-child", "rejected");
    browser.until(&format!(
        "document.querySelector(\"{}\") === null",
        button("reject", "G2")
    ));
    browser.click(&button("accept", "G2"));
    browser.until_told("#told", "accepted");
    assert_eq!(trackway(&server, "G2")["properties"]["status"], "accepted");
    browser.click("[name=propose]");
    browser.until_told("#told", "trackways found");
}

#[test]
fn a_closed_site_is_there_for_whoever_has_a_token() {
    let ledger = Ledger::new();
    ledger.add_site("shut-cove", "EPSG:25830", &["--policy", "closed"]);
    let note = "<img src=x onerror=alert(1)>";
    let sheet = walk("S1", 1, 12).replace(",0.300\n", &format!(",0.300,{note}\n"));
    let sheet = sheet.replacen("length_m\n", "length_m,note\n", 1);
    ledger.import("shut-cove", "sheet.csv", sheet).done();
    let token = ledger.token("reader", "reader", &["shut-cove"]);
    let server = ledger.serve(&[]);
    let browser = Browser::start();
    open(&browser, &server, "");
    browser.until_told("#surfaces", "no surface that is shown to you");
    open(&browser, &server, "surface=shut-cove:S1");
    browser.until_told("#told .fault", "shut-cove:S1");

    browser.click("#token summary");
    browser.write("#token input", &token);
    browser.click("#token form button");
    let at = place(&browser, [480_002.1, 4_790_000.2]);
    browser.drag(at, [0.0, 0.0]);
    browser.until_told("#here", "nearest print: shut-cove:S1:P0000003");
    // What a sheet says is shown and not run.
    browser.until_told("#here", note);
    assert_eq!(browser.value("document.querySelector('#here img')"), Value::Null);
    // A reader may not propose.
    browser.click("[name=propose]");
    browser.until_told("#told .fault", "contributor");

    browser.click("#token summary");
    browser.click("[name=forget]");
    browser.until_told("#told .fault", "shut-cove:S1");
    assert_eq!(
        browser.value("document.querySelector('#plan svg')"),
        Value::Null,
        "nothing of it is left"
    );
    assert_eq!(browser.value("sessionStorage.length"), 0);
    let stranger = Holder::nobody(&server).get("/map").with_status(200);
    assert_eq!(
        stranger.body,
        Holder::of(&server, &token).get("/map").body,
        "the page tells nothing"
    );
}

#[test]
fn a_sheet_is_taken_whole_or_every_fault_of_it_is_told() {
    let ledger = Ledger::with_site("gull-ledge");
    let server = ledger.serve(&[]);
    let browser = Browser::start();
    let sheet = walk("S1", 1, 12);
    let good = ledger.write("good.csv", &sheet);
    let bad = ledger.write(
        "bad.csv",
        sheet.replacen("0.300", "long", 1).replacen("480002.100", "3", 1),
    );
    open(&browser, &server, "");
    browser.until_told("#surfaces", "no surface that is shown to you");
    browser.click("#intake summary");
    browser.write("#intake [name=sheet]", bad.to_str().unwrap());
    browser.click("#intake button");
    browser.until("document.querySelectorAll('#intake .fault td').length === 8");
    browser.until_told("#intake .fault", "length_m");
    assert_eq!(server.get("/collections/prints/items").json()["numberMatched"], 0);

    browser.clear("#intake [name=sheet]");
    browser.write("#intake [name=sheet]", good.to_str().unwrap());
    browser.click("#intake [name=north] option[value=true]");
    browser.click("#intake button");
    browser.until_told("#surfaces .wide", "gull-ledge:S1");
    browser.until_told("#intake dl", "12");
    assert_eq!(
        server.get("/collections/prints/items").json()["numberMatched"],
        12
    );
    let history = server
        .get("/collections/prints/items/gull-ledge:S1:P0000001/history")
        .with_status(200);
    assert!(history.text().contains("north=true"), "{}", history.text());
    browser.click("#surfaces table a");
    browser.until("document.querySelector('#plan:not(.waits) svg') !== null");
}

#[test]
fn the_page_is_whole_and_runs_nothing_of_others() {
    let ledger = Ledger::with_site("gull-ledge");
    let server = ledger.serve(&[]);
    let page = server.get("/map").with_status(200);
    assert_eq!(page.media(), "text/html");
    let policy = page.header("content-security-policy").unwrap();
    assert!(
        policy.starts_with("default-src 'none'; script-src 'self'; "),
        "{policy}"
    );
    assert!(!policy.contains("unsafe"), "{policy}");
    let api = server.get("/api").with_status(200).json();
    let files = api["paths"]["/map/{file}"]["get"]["parameters"][0]["schema"]["enum"].clone();
    let files: Vec<&str> = files
        .as_array()
        .unwrap()
        .iter()
        .map(|name| name.as_str().unwrap())
        .collect();
    let mut named: Vec<String> = names(page.text(), "\"map/");
    for file in &files {
        let answer = server.get(&format!("/map/{file}")).with_status(200);
        let media = match file.split('.').next_back() {
            Some("css") => "text/css",
            Some("svg") => "image/svg+xml",
            _ => "text/javascript",
        };
        assert_eq!(answer.media(), media);
        named.extend(names(answer.text(), "from \"./"));
    }
    named.sort_unstable();
    named.dedup();
    let mut sorted = files.clone();
    sorted.sort_unstable();
    assert_eq!(named, sorted, "each file is used, and each that is used is there");
    problem(&server.get("/map/none.js"), 404);
    problem(&server.get("/map?surface=gull-ledge:S1"), 400);
}

/// What stands between a beginning and the next quotation mark, each time.
fn names(text: &str, beginning: &str) -> Vec<String> {
    let found = text.split(beginning).skip(1);
    found
        .filter_map(|rest| Some(rest.split_once('"')?.0.to_owned()))
        .collect()
}
