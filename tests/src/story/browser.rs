//! A browser that is led by hand: what a reader sees of a page, and what he does on it.
//!
//! Chromium is spoken to by the WebDriver protocol (W3C Recommendation, 2018) through `chromedriver`.

use super::{Answer, Client, until};
use serde_json::{Value, json};
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use tempfile::TempDir;

/// The key under which the protocol names an element of a page.
const ELEMENT: &str = "element-6066-11e4-a52e-4f735466cecf";
/// No sandbox: as root there is none, and it meets the pages of these tests only. Nothing is asked of other hosts.
const OPTIONS: &[&str] = &[
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--window-size=1400,1100",
];

/// A browser with one page.
pub struct Browser {
    driver: Child,
    client: Client,
    session: String,
    _profile: TempDir,
}

impl Browser {
    /// Starts one.
    ///
    /// # Panics
    /// When `chromedriver` or Chromium is missing or does not start.
    #[must_use]
    pub fn start() -> Self {
        let mut command = Command::new("chromedriver");
        command.arg("--port=0").stdout(Stdio::piped());
        let mut driver = command.spawn().expect("chromedriver is installed");
        let lines = BufReader::new(driver.stdout.take().expect("its output is piped")).lines();
        let port = lines.map_while(Result::ok).find_map(|line| {
            line.split("successfully on port ")
                .nth(1)?
                .trim_end_matches('.')
                .parse()
                .ok()
        });
        let port: u16 = port.expect("chromedriver tells its port");
        let profile = tempfile::tempdir().expect("there is a temporary folder");
        let mut options: Vec<String> = OPTIONS.iter().map(|&option| option.to_owned()).collect();
        options.push(format!("--user-data-dir={}", profile.path().display()));
        let wanted = json!({ "capabilities": { "alwaysMatch": {
            "goog:chromeOptions": { "args": options },
            "goog:loggingPrefs": { "browser": "ALL" },
        } } });
        let client = Client::new(format!("http://127.0.0.1:{port}"));
        let made = send(&client, "/session", &wanted).with_status(200).json();
        let id = made["value"]["sessionId"].as_str().expect("a session has an id");
        Self {
            driver,
            client,
            session: format!("/session/{id}"),
            _profile: profile,
        }
    }

    fn tell(&self, path: &str, body: &Value) -> Value {
        let answer = send(&self.client, &format!("{}/{path}", self.session), body);
        answer.with_status(200).json()["value"].take()
    }

    /// Goes to an address.
    pub fn go(&self, url: &str) {
        // The same page with another fragment would not be loaded anew.
        self.tell("url", &json!({ "url": "about:blank" }));
        self.tell("url", &json!({ "url": url }));
    }

    /// What an expression of the page's script gives.
    #[must_use]
    pub fn value(&self, expression: &str) -> Value {
        let script = format!("return {expression};");
        self.tell("execute/sync", &json!({ "script": script, "args": [] }))
    }

    /// Waits until an expression gives something else than false, null or an empty text.
    ///
    /// # Panics
    /// When it never does; what the page shows is told then.
    pub fn until(&self, expression: &str) -> Value {
        let empty = [json!(null), json!(false), json!("")];
        let what = || {
            format!(
                "{expression}; the page shows {}",
                self.value("document.body.innerText")
            )
        };
        let mut looks = 0;
        until(expression, || {
            looks += 1;
            assert!(looks < 3_000, "never: {}", what());
            Some(self.value(expression)).filter(|value| !empty.contains(value))
        })
    }

    /// The text of what a selector finds first, once it is there.
    pub fn text(&self, selector: &str) -> String {
        let found = self.until(&format!("document.querySelector({selector:?})?.innerText"));
        found.as_str().unwrap_or_default().to_owned()
    }

    /// Waits until a text stands in what a selector finds first.
    pub fn until_told(&self, selector: &str, text: &str) {
        self.until(&format!(
            "document.querySelector({selector:?})?.innerText.includes({text:?})"
        ));
    }

    fn element(&self, selector: &str) -> String {
        self.until(&format!("document.querySelector({selector:?}) !== null"));
        let found = self.tell("element", &json!({ "using": "css selector", "value": selector }));
        found[ELEMENT].as_str().expect("an element has an id").to_owned()
    }

    /// Clicks on what a selector finds first.
    pub fn click(&self, selector: &str) {
        let element = self.element(selector);
        self.tell(&format!("element/{element}/click"), &json!({}));
    }

    /// Types into what a selector finds first.
    pub fn write(&self, selector: &str, text: &str) {
        let element = self.element(selector);
        self.tell(&format!("element/{element}/value"), &json!({ "text": text }));
    }

    /// Empties the field that a selector finds first.
    pub fn clear(&self, selector: &str) {
        let element = self.element(selector);
        self.tell(&format!("element/{element}/clear"), &json!({}));
    }

    /// Presses the pointer at a place of the window, moves it by so much and lets it go.
    pub fn drag(&self, [x, y]: [f64; 2], [by_x, by_y]: [f64; 2]) {
        let to =
            |x: f64, y: f64| json!({ "type": "pointerMove", "duration": 50, "x": x.round(), "y": y.round() });
        self.tell(
            "actions",
            &json!({ "actions": [{ "type": "pointer", "id": "mouse", "actions": [
                to(x, y),
                { "type": "pointerDown", "button": 0 },
                to(x + by_x / 2.0, y + by_y / 2.0),
                to(x + by_x, y + by_y),
                { "type": "pointerUp", "button": 0 },
            ] }] }),
        );
    }

    /// What the page has complained of since it was last asked: errors of its scripts, and what its policy kept from it.
    #[must_use]
    pub fn complaints(&self) -> Vec<String> {
        let log = self.tell("se/log", &json!({ "type": "browser" }));
        let entries = log.as_array().into_iter().flatten();
        let severe = entries.filter(|entry| entry["level"] == "SEVERE");
        severe.map(|entry| entry["message"].to_string()).collect()
    }
}

fn send(client: &Client, path: &str, body: &Value) -> Answer {
    client.post(path, "application/json", body.to_string())
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.client.try_ask("DELETE", &self.session, &[], b"");
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }
}
