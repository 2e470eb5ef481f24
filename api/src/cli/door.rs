//! Who is let in by `stridebed serve`, and how the line is kept secret.

use crate::access::{OpenId, Rates};
use crate::problem::Problem;
use clap::Args;
use rustls::ServerConfig;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use std::net::IpAddr;
use std::num::NonZeroU32;
use std::path::{Path, PathBuf};
use std::sync::Arc;

#[derive(Args)]
pub(super) struct Door {
    /// The certificate to speak TLS with, PEM, with those that lead to its root
    #[arg(long, env = "STRIDEBED_TLS_CERT", value_name = "FILE", requires = "tls_key")]
    tls_cert: Option<PathBuf>,
    /// The certificate's private key, PEM
    #[arg(long, env = "STRIDEBED_TLS_KEY", value_name = "FILE", requires = "tls_cert")]
    tls_key: Option<PathBuf>,
    /// How many requests a second are taken for each token, and from each address without one (four times as many in a
    /// burst); 0 is any number. Requests of this machine without a token are not counted
    #[arg(long, env = "STRIDEBED_RATE_LIMIT", default_value_t = 50, value_name = "N")]
    rate_limit: u32,
    /// A proxy before the service, whose X-Forwarded-For is believed; may be given several times
    #[arg(
        long,
        env = "STRIDEBED_TRUSTED_PROXY",
        value_delimiter = ',',
        value_name = "ADDRESS"
    )]
    pub(super) trusted_proxy: Vec<IpAddr>,
    /// An address besides this machine that may read /metrics; may be given several times
    #[arg(
        long,
        env = "STRIDEBED_METRICS_TO",
        value_delimiter = ',',
        value_name = "ADDRESS"
    )]
    pub(super) metrics_to: Vec<IpAddr>,
    /// An identity provider (OpenID Connect) whose tokens are taken besides those of `stridebed token issue`
    #[arg(
        long,
        env = "STRIDEBED_OIDC_ISSUER",
        value_name = "URL",
        requires = "oidc_audience"
    )]
    oidc_issuer: Option<String>,
    /// For whom its tokens must be: the name that the provider knows this service by
    #[arg(
        long,
        env = "STRIDEBED_OIDC_AUDIENCE",
        value_name = "NAME",
        requires = "oidc_issuer"
    )]
    oidc_audience: Option<String>,
    /// The claim of its tokens that lists roles, as in ["reader", "steward:gannet-ledge"]
    #[arg(
        long,
        env = "STRIDEBED_OIDC_ROLES",
        default_value = "stridebed_roles",
        value_name = "CLAIM"
    )]
    oidc_roles: String,
}

impl Door {
    /// Whether the line is kept secret.
    pub(super) fn is_secret(&self) -> bool {
        self.tls_cert.is_some()
    }

    /// The limits; `None` for any number of requests.
    pub(super) fn rates(&self) -> Option<Arc<Rates>> {
        NonZeroU32::new(self.rate_limit).map(|most| Arc::new(Rates::per_second(most)))
    }

    pub(super) fn openid(&self) -> Result<Option<OpenId>, Problem> {
        let (Some(issuer), Some(audience)) = (&self.oidc_issuer, &self.oidc_audience) else {
            return Ok(None);
        };
        OpenId::new(issuer, audience, &self.oidc_roles)
            .map(Some)
            .map_err(|fault| Problem::bad_request(format!("--oidc-issuer: {fault}.")))
    }

    /// What the service proves itself with; `None` where it speaks plain HTTP.
    pub(super) fn tls(&self) -> Result<Option<ServerConfig>, Problem> {
        let (Some(cert), Some(key)) = (&self.tls_cert, &self.tls_key) else {
            return Ok(None);
        };
        let chain = CertificateDer::pem_file_iter(cert)
            .and_then(Iterator::collect::<Result<Vec<_>, _>>)
            .map_err(|error| unreadable(cert, &error))?;
        if chain.is_empty() {
            return Err(unreadable(cert, &"it holds no certificate"));
        }
        let key_der = PrivateKeyDer::from_pem_file(key).map_err(|error| unreadable(key, &error))?;
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        ServerConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .and_then(|builder| builder.with_no_client_auth().with_single_cert(chain, key_der))
            .map(Some)
            .map_err(|error| {
                let detail = format!("{} and {} do not fit: {error}.", cert.display(), key.display());
                Problem::bad_request(detail)
            })
    }
}

fn unreadable(path: &Path, error: &dyn std::fmt::Display) -> Problem {
    Problem::bad_request(format!("{} cannot be read: {error}.", path.display()))
}
