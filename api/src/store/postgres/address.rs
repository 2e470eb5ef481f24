//! The address of a database, as users write it, and what of it may be shown.

use crate::store::StoreError;
use postgres::config::{Host, SslMode};
use postgres::{Client, Config};
use std::fmt;
use std::sync::Arc;
use std::time::Duration;
use tokio_postgres_rustls::MakeRustlsConnect;

/// How long a connection may take to come about.
const CONNECT_PATIENCE: Duration = Duration::from_secs(10);

/// Where a PostgreSQL database is, and as whom to enter it. Shown without its password.
#[derive(Clone)]
pub struct PostgresAddress {
    config: Box<Config>,
}

impl PostgresAddress {
    /// Whether a text is meant as such an address.
    #[must_use]
    pub fn is_meant(text: &str) -> bool {
        let scheme = text.split_once("://").map(|(scheme, _)| scheme);
        scheme.is_some_and(|scheme| scheme == "postgres" || scheme == "postgresql")
    }

    /// Reads an address such as `postgres://party@db.example:5432/ledges?sslmode=require`. Where it has no
    /// password, the one in `$PGPASSWORD` is taken.
    ///
    /// # Errors
    /// [`StoreError::Unfit`], in words that repeat nothing of the address: any part of one that is written
    /// wrongly may be the password.
    pub fn parse(text: &str) -> Result<Self, StoreError> {
        let unfit = |why: &str| StoreError::Unfit(format!("the store's address cannot be read: {why}"));
        let query = text.rsplit_once('?').map_or("", |(_, query)| query);
        if let Some(mode) = query.split('&').find_map(|part| part.strip_prefix("sslmode="))
            && !["disable", "prefer", "require"].contains(&mode)
        {
            return Err(unfit(
                "sslmode is one of disable, prefer and require (which also checks the server's certificate)",
            ));
        }
        let mut config: Config = text.parse().map_err(|_| {
            unfit(
                "expected postgres://USER@HOST:PORT/DATABASE, with special characters in the user or password as %XX",
            )
        })?;
        if config.get_password().is_none()
            && let Ok(password) = std::env::var("PGPASSWORD")
        {
            config.password(password);
        }
        if config.get_hosts().is_empty() {
            config.host("localhost");
        }
        Ok(Self {
            config: Box::new(config),
        })
    }

    /// The name of the database; the user's where the address has none.
    pub(super) fn database(&self) -> &str {
        let user = self.config.get_user().unwrap_or_default();
        self.config.get_dbname().unwrap_or(user)
    }

    /// The address with what every connection of the program needs.
    pub(super) fn settled(&self, patience: Duration) -> Config {
        let mut config = Config::clone(&self.config);
        if config.get_connect_timeout().is_none() {
            config.connect_timeout(CONNECT_PATIENCE);
        }
        if config.get_application_name().is_none() {
            config.application_name("stridebed");
        }
        // TLS where it is asked for: with `prefer`, most servers would offer a certificate that nobody can check.
        if config.get_ssl_mode() != SslMode::Require {
            config.ssl_mode(SslMode::Disable);
        }
        let given = config.get_options().unwrap_or_default();
        // The keepalives end the transaction of a machine that died with a site's lock in its hands.
        let options = format!(
            "{given} -c search_path=stridebed -c lock_timeout={} -c synchronous_commit=on \
             -c client_min_messages=warning -c tcp_keepalives_idle=60 -c tcp_keepalives_interval=10 \
             -c tcp_keepalives_count=6",
            patience.as_millis()
        );
        config.options(options.trim());
        config
    }

    /// What makes encrypted connections, where the address asks for them.
    pub(super) fn tls(&self) -> Result<MakeRustlsConnect, StoreError> {
        let mut roots = rustls::RootCertStore::empty();
        if self.config.get_ssl_mode() == SslMode::Require {
            let found = rustls_native_certs::load_native_certs();
            roots.add_parsable_certificates(found.certs);
            if roots.is_empty() {
                return Err(StoreError::Unfit(format!(
                    "{self} asks for TLS, and this machine has no certificates to check the server's with; \
                     name a file of them in $SSL_CERT_FILE"
                )));
            }
        }
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let config = rustls::ClientConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .map_err(|error| StoreError::Unfit(format!("TLS cannot be set up: {error}")))?
            .with_root_certificates(roots)
            .with_no_client_auth();
        Ok(MakeRustlsConnect::new(config))
    }

    /// One connection, or in clear words why there is none.
    pub(super) fn connect(&self, patience: Duration) -> Result<Client, StoreError> {
        let tls = self.tls()?;
        self.settled(patience)
            .connect(tls)
            .map_err(|error| super::failure::no_connection(self, &error))
    }
}

impl fmt::Display for PostgresAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("postgres://")?;
        if let Some(user) = self.config.get_user() {
            write!(f, "{user}@")?;
        }
        let ports = self.config.get_ports();
        for (no, host) in self.config.get_hosts().iter().enumerate() {
            f.write_str(if no > 0 { "," } else { "" })?;
            match host {
                Host::Tcp(name) => f.write_str(name)?,
                Host::Unix(path) => write!(f, "{}", path.display())?,
            }
            if let Some(port) = ports.get(no).or(ports.first()) {
                write!(f, ":{port}")?;
            }
        }
        write!(f, "/{}", self.database())
    }
}

impl fmt::Debug for PostgresAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}
