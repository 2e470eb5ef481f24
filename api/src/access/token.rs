//! Tokens of the store: random, shown once, kept as hashes.

use super::{Grants, Role};
use jiff::Timestamp;
use sha2::{Digest as _, Sha256};
use spatial::model::Slug;
use std::fmt;

/// How a token is kept: SHA-256 of its text. It is of 256 random bits, so that nothing slower is needed.
pub type Digest = [u8; 32];

/// The text that opens: it is shown once, and goes into no log and no store.
#[derive(Clone, PartialEq, Eq)]
pub struct Secret(String);

impl Secret {
    /// What every token starts with, so that people and scanners know one where it lies.
    pub const PREFIX: &str = "stridebed_";

    /// A new one of 256 bits from the system's own randomness.
    ///
    /// # Errors
    /// When the system has none to give.
    pub fn random() -> Result<Self, getrandom::Error> {
        let mut bits = [0; 32];
        getrandom::fill(&mut bits)?;
        Ok(Self(format!("{}{}", Self::PREFIX, hex(&bits))))
    }

    /// One that somebody has sent; `None` where it cannot be one.
    #[must_use]
    pub fn sent(text: &str) -> Option<Self> {
        let digits = text.strip_prefix(Self::PREFIX)?;
        let fits = digits.len() == 64 && digits.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
        fits.then(|| Self(text.to_owned()))
    }

    /// What is kept of it.
    #[must_use]
    pub fn digest(&self) -> Digest {
        Sha256::digest(self.0.as_bytes()).into()
    }

    /// Its text, to be shown to its holder and nobody else.
    #[must_use]
    pub fn reveal(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secret(…)")
    }
}

/// A token as the store has it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Token {
    /// Its name in lists, for revoking it: 12 hexadecimal digits that open nothing.
    pub id: String,
    /// Who holds it; stands beside each revision that he makes.
    pub holder: String,
    /// What he may do.
    pub role: Role,
    /// Where; empty for everywhere.
    pub sites: Vec<Slug>,
    /// When it was issued.
    pub issued: Timestamp,
    /// From when on it opens nothing; `None` for never.
    pub expires: Option<Timestamp>,
    /// When it was revoked.
    pub revoked: Option<Timestamp>,
    /// When it was last used, to the minute.
    pub used: Option<Timestamp>,
}

impl Token {
    /// A new one, issued now.
    ///
    /// # Errors
    /// When the system has no randomness to give.
    pub fn new(
        holder: String,
        role: Role,
        sites: Vec<Slug>,
        expires: Option<Timestamp>,
    ) -> Result<Self, getrandom::Error> {
        let mut bits = [0; 6];
        getrandom::fill(&mut bits)?;
        Ok(Self {
            id: hex(&bits),
            holder,
            role,
            sites,
            // To the microsecond: as exact as every store keeps it.
            issued: Timestamp::from_microsecond(Timestamp::now().as_microsecond()).unwrap_or_default(),
            expires,
            revoked: None,
            used: None,
        })
    }

    /// Whether it opens anything at a moment.
    #[must_use]
    pub fn holds_at(&self, moment: Timestamp) -> bool {
        self.revoked.is_none() && self.expires.is_none_or(|expires| moment < expires)
    }

    /// What it gives.
    #[must_use]
    pub fn grants(&self) -> Grants {
        Grants::of(self.role, &self.sites)
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn secrets_are_long_and_never_the_same() {
        let (one, other) = (Secret::random().unwrap(), Secret::random().unwrap());
        assert_eq!(one.reveal().len(), Secret::PREFIX.len() + 64);
        assert_ne!(one, other);
        assert_ne!(one.digest(), other.digest());
        assert_eq!(Secret::sent(one.reveal()), Some(one.clone()));
        assert!(!format!("{one:?}").contains(&one.reveal()[10..]));
        for text in [
            "",
            "stridebed_",
            "stridebed_XYZ",
            &one.reveal()[1..],
            &format!("{}0", one.reveal()),
        ] {
            assert_eq!(Secret::sent(text), None, "{text}");
        }
    }

    // FIPS 180-4's example "abc", from NIST's published test values.
    #[test]
    fn digests_are_sha_256() {
        let digest = Secret("abc".to_owned()).digest();
        assert_eq!(
            hex(&digest),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }

    #[test]
    fn tokens_end() {
        let at = |text: &str| text.parse::<Timestamp>().unwrap();
        let mut token = Token::new(
            "party".into(),
            Role::Reader,
            vec![],
            Some(at("2026-05-02T00:00:00Z")),
        )
        .unwrap();
        assert!(token.holds_at(at("2026-05-01T23:59:59Z")));
        assert!(!token.holds_at(at("2026-05-02T00:00:00Z")));
        token.revoked = Some(at("2026-04-01T00:00:00Z"));
        assert!(!token.holds_at(at("2026-05-01T00:00:00Z")));
    }
}
