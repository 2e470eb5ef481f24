//! Tokens of an identity provider: OpenID Connect Core 1.0 and Discovery 1.0, JWT (RFC 7519) signed with a key of the
//! provider's JWK Set (RFC 7517).

use super::{Asker, Denied, Grants};
use jsonwebtoken::jwk::{AlgorithmParameters, EllipticCurve, Jwk, JwkSet};
use jsonwebtoken::{Algorithm, DecodingKey, Validation, decode, decode_header};
use serde_json::{Map, Value};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Keys are fetched anew when they are older than this,
const FRESH: Duration = Duration::from_secs(3600);
/// or when a token names one that is not among them, but no sooner than this after the last time.
const BETWEEN_FETCHES: Duration = Duration::from_secs(30);
/// While the provider is away its keys are believed for so long.
const BELIEVED: Duration = Duration::from_secs(24 * 3600);
/// How long the provider may take.
const PATIENCE: Duration = Duration::from_secs(10);
/// The largest answer of the provider that is read, bytes.
const LARGEST: u64 = 1 << 20;
/// By how much the provider's clock may differ, seconds.
const LEEWAY_S: u64 = 30;

/// An identity provider, and what its tokens must say.
pub struct OpenId {
    issuer: String,
    audience: String,
    roles: String,
    keys: Mutex<Option<Keys>>,
}

struct Keys {
    set: JwkSet,
    fetched: Instant,
    /// When they were last asked for, be it in vain.
    tried: Instant,
}

/// Why an identity provider cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum OpenIdFault {
    /// Its address is not one that can be trusted.
    #[error("the issuer {0} must be an https:// address; http:// is taken from this machine only")]
    Plain(String),
    /// It does not answer as it should.
    #[error("{0}")]
    Unfit(String),
}

impl OpenId {
    /// A provider by its issuer's address; its tokens must be for `audience`, and `roles` is the claim that lists grants,
    /// as in `["reader", "steward:gannet-ledge"]`.
    ///
    /// # Errors
    /// [`OpenIdFault::Plain`].
    pub fn new(issuer: &str, audience: &str, roles: &str) -> Result<Self, OpenIdFault> {
        check_address(issuer)?;
        Ok(Self {
            issuer: issuer.to_owned(),
            audience: audience.to_owned(),
            roles: roles.to_owned(),
            keys: Mutex::default(),
        })
    }

    /// The holder of a token of this provider.
    ///
    /// # Errors
    /// When the token opens nothing, or the provider's keys cannot be had.
    pub fn admit(&self, token: &str) -> Result<Asker, Denied> {
        const NONE: Denied = Denied::BadToken("it is neither this service's nor the identity provider's");
        let header = decode_header(token).map_err(|_| NONE)?;
        let key = self.key(header.kid.as_deref())?.ok_or(NONE)?;
        // The key says which algorithms are taken, never the token.
        let allowed = algorithms(&key);
        if !allowed.contains(&header.alg) {
            return Err(NONE);
        }
        let mut validation = Validation::new(header.alg);
        validation.algorithms = vec![header.alg];
        validation.set_issuer(&[&self.issuer]);
        validation.set_audience(&[&self.audience]);
        validation.set_required_spec_claims(&["exp", "iss", "aud", "sub"]);
        validation.validate_nbf = true;
        validation.leeway = LEEWAY_S;
        let decoding = DecodingKey::from_jwk(&key).map_err(|_| NONE)?;
        let claims = decode::<Map<String, Value>>(token, &decoding, &validation).map_err(|error| {
            use jsonwebtoken::errors::ErrorKind;
            match error.kind() {
                ErrorKind::ExpiredSignature => Denied::BadToken("it has expired"),
                ErrorKind::ImmatureSignature => Denied::BadToken("it does not hold yet"),
                ErrorKind::InvalidAudience => Denied::BadToken("it is for another service"),
                _ => NONE,
            }
        })?;
        let claims = claims.claims;
        let name = claims.get("sub").and_then(Value::as_str).ok_or(NONE)?;
        Ok(Asker::holder(name.to_owned(), self.grants(&claims)))
    }

    /// A list of texts, or one text with blanks between; anything else grants nothing.
    fn grants(&self, claims: &Map<String, Value>) -> Grants {
        match claims.get(&self.roles) {
            Some(Value::String(text)) => Grants::read(text.split_whitespace()),
            Some(Value::Array(list)) => Grants::read(list.iter().filter_map(Value::as_str)),
            _ => Grants::default(),
        }
    }

    /// The key of this name; the only one where none is named.
    fn key(&self, name: Option<&str>) -> Result<Option<Jwk>, Denied> {
        // Held while the keys are fetched: others wait for them and do not fetch them, too.
        let mut held = self.keys.lock().unwrap_or_else(PoisonError::into_inner);
        let found = held.as_ref().and_then(|keys| find(&keys.set, name));
        let fetch = held.as_ref().is_none_or(|keys| {
            (found.is_none() || keys.fetched.elapsed() > FRESH) && keys.tried.elapsed() > BETWEEN_FETCHES
        });
        if !fetch {
            return Ok(found);
        }
        let now = Instant::now();
        match (self.fetch(), held.as_mut()) {
            (Ok(set), _) => {
                let found = find(&set, name);
                *held = Some(Keys {
                    set,
                    fetched: now,
                    tried: now,
                });
                Ok(found)
            }
            (Err(fault), Some(keys)) if keys.fetched.elapsed() < BELIEVED => {
                tracing::warn!(%fault, "the identity provider's keys are those of before");
                keys.tried = now;
                Ok(found)
            }
            (Err(fault), _) => {
                tracing::error!(%fault, "the identity provider's keys cannot be had");
                Err(Denied::Unchecked(
                    "the identity provider does not answer".to_owned(),
                ))
            }
        }
    }

    fn fetch(&self) -> Result<JwkSet, OpenIdFault> {
        let unfit = |what: &str| OpenIdFault::Unfit(format!("{}: {what}", self.issuer));
        let at = format!(
            "{}/.well-known/openid-configuration",
            self.issuer.trim_end_matches('/')
        );
        let described: Value = get(&at)?;
        if described["issuer"].as_str() != Some(&self.issuer) {
            return Err(unfit("its configuration names another issuer"));
        }
        let keys = described["jwks_uri"]
            .as_str()
            .ok_or_else(|| unfit("its configuration names no keys"))?;
        check_address(keys)?;
        let set: Value = get(keys)?;
        // Keys of kinds that are not known here are left aside, or one of them would shut the others out.
        let known = set["keys"].as_array().into_iter().flatten();
        let keys: Vec<Jwk> = known
            .filter_map(|key| serde_json::from_value(key.clone()).ok())
            .collect();
        Ok(JwkSet { keys })
    }
}

fn find(set: &JwkSet, name: Option<&str>) -> Option<Jwk> {
    let found = match (name, set.keys.as_slice()) {
        (Some(name), _) => set.find(name),
        (None, [only]) => Some(only),
        _ => None,
    };
    found.cloned()
}

/// The algorithms that a key signs with; none for a shared secret.
fn algorithms(key: &Jwk) -> &'static [Algorithm] {
    use Algorithm::{ES256, ES384, EdDSA, PS256, PS384, PS512, RS256, RS384, RS512};
    match &key.algorithm {
        AlgorithmParameters::RSA(_) => &[RS256, RS384, RS512, PS256, PS384, PS512],
        AlgorithmParameters::EllipticCurve(curve) if curve.curve == EllipticCurve::P256 => &[ES256],
        AlgorithmParameters::EllipticCurve(curve) if curve.curve == EllipticCurve::P384 => &[ES384],
        AlgorithmParameters::OctetKeyPair(_) => &[EdDSA],
        _ => &[],
    }
}

fn check_address(address: &str) -> Result<(), OpenIdFault> {
    let here = ["http://127.0.0.1:", "http://[::1]:", "http://localhost:"];
    let fits = address.starts_with("https://") || here.iter().any(|start| address.starts_with(start));
    fits.then_some(())
        .ok_or_else(|| OpenIdFault::Plain(address.to_owned()))
}

fn get(address: &str) -> Result<Value, OpenIdFault> {
    let unfit = |error: ureq::Error| OpenIdFault::Unfit(format!("{address}: {error}"));
    let agent: ureq::Agent = ureq::Agent::config_builder()
        .timeout_global(Some(PATIENCE))
        .max_redirects(0)
        .build()
        .into();
    let mut answer = agent.get(address).call().map_err(unfit)?;
    let text = answer
        .body_mut()
        .with_config()
        .limit(LARGEST)
        .read_to_string()
        .map_err(unfit)?;
    serde_json::from_str(&text).map_err(|error| OpenIdFault::Unfit(format!("{address}: {error}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_provider_is_reached_safely() {
        for address in [
            "https://id.example/realm",
            "http://127.0.0.1:9000",
            "http://[::1]:9000/",
        ] {
            assert!(OpenId::new(address, "tracks", "roles").is_ok(), "{address}");
        }
        for address in [
            "http://id.example",
            "http://127.0.0.1.id.example",
            "ftp://id.example",
            "",
        ] {
            assert!(OpenId::new(address, "tracks", "roles").is_err(), "{address}");
        }
    }

    #[test]
    fn grants_come_as_a_list_or_as_one_text() {
        let openid = OpenId::new("https://id.example", "tracks", "roles").unwrap();
        let claims = |text: &str| serde_json::from_str::<Map<String, Value>>(text).unwrap();
        let expected = Grants::read(["reader", "steward:cove"]);
        assert_eq!(
            openid.grants(&claims(r#"{"roles": ["reader", "steward:cove", 7]}"#)),
            expected
        );
        assert_eq!(
            openid.grants(&claims(r#"{"roles": "reader  steward:cove"}"#)),
            expected
        );
        for nothing in [
            "{}",
            r#"{"roles": null}"#,
            r#"{"roles": {"admin": true}}"#,
            r#"{"roles": true}"#,
        ] {
            assert!(openid.grants(&claims(nothing)).is_empty(), "{nothing}");
        }
    }
}
