//! An identity provider's tokens, and a line that is kept secret. Provider and certificates are made by the test itself.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use jsonwebtoken::jwk::Jwk;
use jsonwebtoken::{Algorithm, EncodingKey, Header, encode};
use rcgen::{KeyPair, PKCS_ECDSA_P256_SHA256};
use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{SystemTime, UNIX_EPOCH};
use tests::story::{Answer, Holder, Ledger, Server, features, problem, walk};
use ureq::tls::{Certificate, RootCerts, TlsConfig};

/// A key of the provider and the name that its tokens give it.
struct Key {
    name: &'static str,
    signs: EncodingKey,
}

impl Key {
    fn new(name: &'static str) -> Self {
        let pair = KeyPair::generate_for(&PKCS_ECDSA_P256_SHA256).unwrap();
        Self {
            name,
            signs: EncodingKey::from_ec_der(&pair.serialize_der()),
        }
    }

    fn public(&self) -> Value {
        let mut jwk = json!(Jwk::from_encoding_key(&self.signs, Algorithm::ES256).unwrap());
        jwk["kid"] = json!(self.name);
        jwk
    }

    fn token(&self, claims: &Value) -> String {
        let header = Header {
            kid: Some(self.name.to_owned()),
            ..Header::new(Algorithm::ES256)
        };
        encode(&header, claims, &self.signs).unwrap()
    }
}

/// A provider on this machine: its configuration and its keys, and nothing else.
struct Provider {
    issuer: String,
    keys: Arc<Mutex<Vec<Value>>>,
    asked: Arc<AtomicUsize>,
    stop: Arc<AtomicBool>,
}

impl Provider {
    fn start(keys: Vec<Value>) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let issuer = format!("http://{}/realm", listener.local_addr().unwrap());
        let provider = Self {
            issuer: issuer.clone(),
            keys: Arc::new(Mutex::new(keys)),
            asked: Arc::default(),
            stop: Arc::default(),
        };
        let (keys, asked, stop) = (
            provider.keys.clone(),
            provider.asked.clone(),
            provider.stop.clone(),
        );
        std::thread::spawn(move || {
            for line in listener.incoming().map_while(Result::ok) {
                if stop.load(Ordering::SeqCst) {
                    return;
                }
                asked.fetch_add(1, Ordering::SeqCst);
                let told = match path(&line).as_str() {
                    "/realm/.well-known/openid-configuration" => {
                        json!({ "issuer": issuer, "jwks_uri": format!("{issuer}/keys") })
                    }
                    "/realm/keys" => json!({ "keys": *keys.lock().unwrap() }),
                    _ => Value::Null,
                };
                answer(line, &told.to_string());
            }
        });
        provider
    }

    fn serve(&self, ledger: &Ledger) -> Server {
        ledger.serve(&["--oidc-issuer", &self.issuer, "--oidc-audience", "tracks"])
    }

    fn claims(&self, roles: &Value) -> Value {
        let now = SystemTime::now().duration_since(UNIX_EPOCH).unwrap().as_secs();
        json!({
            "iss": self.issuer, "aud": "tracks", "sub": "invented-person", "exp": now + 600, "nbf": now - 10,
            "stridebed_roles": roles,
        })
    }

    fn address(&self) -> &str {
        self.issuer
            .trim_start_matches("http://")
            .trim_end_matches("/realm")
    }

    fn end(&self) {
        self.stop.store(true, Ordering::SeqCst);
        // Wakes the thread, which then gives its port up.
        let _ = TcpStream::connect(self.address());
    }
}

impl Drop for Provider {
    fn drop(&mut self) {
        self.end();
    }
}

fn path(line: &TcpStream) -> String {
    let mut lines = BufReader::new(line).lines().map_while(Result::ok);
    let first = lines.next().unwrap_or_default();
    lines.find(String::is_empty);
    first.split(' ').nth(1).unwrap_or_default().to_owned()
}

fn answer(mut line: TcpStream, body: &str) {
    let head = "HTTP/1.1 200 OK\r\nContent-Type: application/json\r\nConnection: close";
    let _ = write!(line, "{head}\r\nContent-Length: {}\r\n\r\n{body}", body.len());
}

fn closed_site() -> Ledger {
    let ledger = Ledger::new();
    ledger.add_site("shut-cove", "EPSG:25830", &["--policy", "closed"]);
    ledger.import("shut-cove", "sheet.csv", walk("S1", 0, 3)).done();
    ledger
}

fn sees(answer: &Answer) -> usize {
    assert_eq!(answer.status, 200, "{}", answer.text());
    features(&answer.json()).len()
}

const SITES: &str = "/collections/sites/items";

#[test]
fn a_providers_token_gives_the_roles_that_it_lists() {
    let (ledger, key) = (closed_site(), Key::new("one"));
    let odd = json!({ "kty": "new", "kid": "odd" });
    let provider = Provider::start(vec![odd, key.public()]);
    let server = provider.serve(&ledger);
    let holder = |roles: Value| Holder::of(&server, &key.token(&provider.claims(&roles)));
    assert_eq!(
        sees(&Holder::nobody(&server).get(SITES)),
        0,
        "with a provider nobody is of the house"
    );
    assert_eq!(sees(&holder(json!([])).get(SITES)), 0);
    assert_eq!(sees(&holder(json!(["reader:shut-cove"])).get(SITES)), 1);
    assert_eq!(sees(&holder(json!("reader")).get(SITES)), 1);
    let sheet = walk("S1", 0, 4);
    let path = "/sites/shut-cove/imports";
    problem(&holder(json!(["reader"])).post(path, "text/csv", &sheet), 403);
    holder(json!(["contributor:shut-cove"]))
        .post(path, "text/csv", &sheet)
        .with_status(200);
    let history = ledger
        .run(&["history", "shut-cove:S1:P0000003", "--json"])
        .done()
        .json();
    assert_eq!(history[0]["author"], "invented-person");
    assert_eq!(provider.asked.load(Ordering::SeqCst), 2, "keys are fetched once");
}

#[test]
fn tokens_that_are_not_right_open_nothing() {
    let (ledger, key, other) = (closed_site(), Key::new("one"), Key::new("one"));
    let provider = Provider::start(vec![key.public()]);
    let server = provider.serve(&ledger);
    let good = provider.claims(&json!(["admin"]));
    let with = |name: &str, value: Value| {
        let mut claims = good.clone();
        claims[name] = value;
        key.token(&claims)
    };
    assert_eq!(sees(&Holder::of(&server, &key.token(&good)).get(SITES)), 1);
    let parts: Vec<String> = key.token(&good).split('.').map(str::to_owned).collect();
    // {"alg":"none"} in base64url.
    let unsigned = format!("eyJhbGciOiJub25lIn0.{}.", parts[1]);
    let secret = EncodingKey::from_secret(key.public().to_string().as_bytes());
    let header = Header {
        kid: Some("one".to_owned()),
        ..Header::new(Algorithm::HS256)
    };
    let shared = encode(&header, &good, &secret).unwrap();
    for (what, token) in [
        ("expired", with("exp", json!(1_000_000_000))),
        ("not yet", with("nbf", json!(9_000_000_000_u64))),
        ("another service", with("aud", json!("elsewhere"))),
        ("another issuer", with("iss", json!("https://id.example"))),
        ("nobody", with("sub", Value::Null)),
        ("another key of the same name", other.token(&good)),
        ("a signature cut off", format!("{}.{}.", parts[0], parts[1])),
        ("unsigned", unsigned),
        ("signed with the public key as a secret", shared),
        ("an unknown key", Key::new("two").token(&good)),
    ] {
        let refused = Holder::of(&server, &token).get(SITES);
        assert_eq!(refused.status, 401, "{what}: {}", refused.text());
        problem(&refused, 401);
    }
    let mut without_end = good.clone();
    without_end.as_object_mut().unwrap().remove("exp");
    problem(&Holder::of(&server, &key.token(&without_end)).get(SITES), 401);
}

#[test]
fn a_provider_that_is_away_lets_known_keys_stand_and_nobody_new_in() {
    let (ledger, key) = (closed_site(), Key::new("one"));
    let provider = Provider::start(vec![key.public()]);
    let (server, late) = (provider.serve(&ledger), provider.serve(&ledger));
    let token = key.token(&provider.claims(&json!(["reader"])));
    assert_eq!(sees(&Holder::of(&server, &token).get(SITES)), 1);
    provider.end();
    assert_eq!(sees(&Holder::of(&server, &token).get(SITES)), 1);
    let refused = Holder::of(&late, &token).get(SITES);
    problem(&refused, 503);
    assert!(refused.header("retry-after").is_some());
    assert_eq!(
        sees(&Holder::nobody(&late).get(SITES)),
        0,
        "strangers need no provider"
    );
}

#[test]
fn a_provider_over_an_open_line_is_refused() {
    let ledger = closed_site();
    let ran = ledger.run(&[
        "serve",
        "--oidc-issuer",
        "http://id.example",
        "--oidc-audience",
        "tracks",
    ]);
    assert_eq!(ran.code, 1, "{ran:?}");
    assert!(ran.err.contains("https://"), "{ran:?}");
}

#[test]
fn the_service_speaks_tls() {
    let ledger = closed_site();
    let made = rcgen::generate_simple_self_signed(["localhost".to_owned()]).unwrap();
    let (cert, key) = (
        ledger.write("cert.pem", made.cert.pem()),
        ledger.write("key.pem", made.signing_key.serialize_pem()),
    );
    let (cert, key) = (cert.to_str().unwrap(), key.to_str().unwrap());
    let mut command = ledger.command(&[
        "serve",
        "--listen",
        "127.0.0.1:0",
        "--tls-cert",
        cert,
        "--tls-key",
        key,
    ]);
    let mut child = command.stderr(std::process::Stdio::piped()).spawn().unwrap();
    let mut lines = BufReader::new(child.stderr.take().unwrap())
        .lines()
        .map_while(Result::ok);
    let line = lines.find(|line| line.contains("Serving on")).unwrap();
    assert!(line.contains("https://127.0.0.1:"), "{line}");
    let port = line
        .split(':')
        .nth(2)
        .unwrap()
        .split('/')
        .next()
        .unwrap()
        .to_owned();
    let root = Certificate::from_der(made.cert.der()).to_owned();
    let agent = |roots: RootCerts| -> ureq::Agent {
        let tls = TlsConfig::builder().root_certs(roots).build();
        ureq::Agent::config_builder().tls_config(tls).build().into()
    };
    let knowing = agent(RootCerts::Specific(Arc::new(vec![root])));
    let mut answer = knowing.get(format!("https://localhost:{port}/")).call().unwrap();
    let landing: Value = serde_json::from_str(&answer.body_mut().read_to_string().unwrap()).unwrap();
    let href = landing["links"][0]["href"].as_str().unwrap().to_owned();
    let unknowing = agent(RootCerts::WebPki)
        .get(format!("https://localhost:{port}/"))
        .call();
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(href.starts_with(&format!("https://localhost:{port}/")), "{href}");
    assert!(unknowing.is_err(), "nobody should trust this certificate");
}

#[test]
fn certificates_that_do_not_fit_are_told() {
    let ledger = closed_site();
    let made = rcgen::generate_simple_self_signed(["localhost".to_owned()]).unwrap();
    let other = KeyPair::generate().unwrap();
    let cert = ledger.write("cert.pem", made.cert.pem());
    let key = ledger.write("key.pem", other.serialize_pem());
    let empty = ledger.write("empty.pem", "");
    let [cert, key, empty] = [&cert, &key, &empty].map(|path| path.to_str().unwrap());
    for (cert, key, told) in [
        (cert, key, "do not fit"),
        (empty, key, "no certificate"),
        (cert, empty, "cannot be read"),
        ("none.pem", key, "cannot be read"),
    ] {
        let ran = ledger.run(&[
            "serve",
            "--listen",
            "127.0.0.1:0",
            "--tls-cert",
            cert,
            "--tls-key",
            key,
        ]);
        assert_eq!(ran.code, 1, "{ran:?}");
        assert!(ran.err.contains(told), "{ran:?}");
    }
    assert_eq!(ledger.run(&["serve", "--tls-cert", cert]).code, 2);
}
