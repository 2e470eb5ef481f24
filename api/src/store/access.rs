//! Tokens and the ledger of who asked for what, beside the record. `store copy` leaves both behind: another store is
//! another house.

use super::StoreError;
use crate::access::{Digest, Token};
use jiff::Timestamp;
use serde::Serialize;

/// One line of the ledger: a write, or an access that was refused.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LedgerEntry {
    /// When it was answered.
    pub at: Timestamp,
    /// Who asked, as far as that is known.
    pub who: Option<String>,
    /// The address that it came from.
    pub address: Option<String>,
    /// The method.
    pub method: String,
    /// The path, without what is asked of it.
    pub path: String,
    /// The slug of the site that it is about, where there is one.
    pub site: Option<String>,
    /// The status of the answer.
    pub status: u16,
}

impl LedgerEntry {
    /// Whether it was refused; of refusals only the newest are kept, since anybody can cause them.
    #[must_use]
    pub fn refused(&self) -> bool {
        self.status >= 400
    }
}

/// A keeper of tokens and of the ledger.
pub trait AccessStore {
    /// Keeps a new token.
    ///
    /// # Errors
    /// [`StoreError::Exists`] when there is one with its id or its digest, or when the store fails.
    fn issue(&self, token: &Token, digest: &Digest) -> Result<(), StoreError>;

    /// Whether any token was ever issued.
    ///
    /// # Errors
    /// When the store fails.
    fn has_tokens(&self) -> Result<bool, StoreError>;

    /// The token with this digest, whether it still holds or not.
    ///
    /// # Errors
    /// When the store fails.
    fn token(&self, digest: &Digest) -> Result<Option<Token>, StoreError>;

    /// All tokens, in the order in which they were issued.
    ///
    /// # Errors
    /// When the store fails.
    fn tokens(&self) -> Result<Vec<Token>, StoreError>;

    /// Revokes a token for ever; one that is revoked already stays as it is.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when there is no such token, or when the store fails.
    fn revoke(&self, id: &str, at: Timestamp) -> Result<Token, StoreError>;

    /// Notes that a token was used.
    ///
    /// # Errors
    /// When the store fails.
    fn note_use(&self, id: &str, at: Timestamp) -> Result<(), StoreError>;

    /// Writes lines into the ledger; when it returns, they are on disk.
    ///
    /// # Errors
    /// When the store fails.
    fn enter(&self, entries: &[LedgerEntry]) -> Result<(), StoreError>;

    /// Strikes out the oldest refusals beyond so many; gives how many.
    ///
    /// # Errors
    /// When the store fails.
    fn strike(&self, most: u64) -> Result<u64, StoreError>;

    /// The newest lines of the ledger, newest first.
    ///
    /// # Errors
    /// When the store fails.
    fn ledger(&self, most: usize) -> Result<Vec<LedgerEntry>, StoreError>;
}
