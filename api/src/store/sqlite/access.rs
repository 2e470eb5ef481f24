//! Tokens and the ledger.

use super::SqliteStore;
use super::column::{json, parsed, required};
use super::failure::Doing;
use crate::access::{Digest, Token};
use crate::store::StoreError;
use crate::store::access::{AccessStore, LedgerEntry};
use jiff::Timestamp;
use rusqlite::{OptionalExtension, Row};
use serde_json::json;

const ISSUE: &str = "INSERT INTO token (id, digest, holder, role, sites, issued, expires) \
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT DO NOTHING";
const ANY: &str = "SELECT EXISTS (SELECT 1 FROM token)";
const FIND: &str =
    "SELECT id, holder, role, sites, issued, expires, revoked, used FROM token WHERE digest = ?1";
const ALL: &str = "SELECT id, holder, role, sites, issued, expires, revoked, used FROM token ORDER BY number";
const REVOKE: &str = "UPDATE token SET revoked = coalesce(revoked, ?2) WHERE id = ?1 \
     RETURNING id, holder, role, sites, issued, expires, revoked, used";
const USE: &str = "UPDATE token SET used = ?2 WHERE id = ?1 AND (used IS NULL OR used < ?2)";
const ENTER: &str =
    "INSERT INTO ledger (at, who, address, method, path, site, status) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)";
const STRIKE: &str = "DELETE FROM ledger WHERE status >= 400 AND number <= ( \
     SELECT number FROM ledger WHERE status >= 400 ORDER BY number DESC LIMIT 1 OFFSET ?1)";
const LEDGER: &str =
    "SELECT at, who, address, method, path, site, status FROM ledger ORDER BY number DESC LIMIT ?1";

impl AccessStore for SqliteStore {
    fn issue(&self, token: &Token, digest: &Digest) -> Result<(), StoreError> {
        const DOING: &str = "keeping a token";
        let writing = self.writer.begin()?;
        let values = (
            &token.id,
            digest,
            &token.holder,
            token.role.name(),
            json!(token.sites).to_string(),
            token.issued.to_string(),
            token.expires.map(|moment| moment.to_string()),
        );
        if writing.execute(ISSUE, values).doing(DOING)? == 0 {
            return Err(StoreError::Exists(format!("token {}", token.id)));
        }
        writing.commit().doing(DOING)
    }

    fn has_tokens(&self) -> Result<bool, StoreError> {
        self.readers.read("asking for tokens", |moment| {
            moment.query_row(ANY, [], |row| row.get(0))
        })
    }

    fn token(&self, digest: &Digest) -> Result<Option<Token>, StoreError> {
        self.readers.read("reading a token", |moment| {
            moment.prepare_cached(FIND)?.query_row([digest], read).optional()
        })
    }

    fn tokens(&self) -> Result<Vec<Token>, StoreError> {
        self.readers.read("reading tokens", |moment| {
            moment.prepare(ALL)?.query_map([], read)?.collect()
        })
    }

    fn revoke(&self, id: &str, at: Timestamp) -> Result<Token, StoreError> {
        const DOING: &str = "revoking a token";
        let writing = self.writer.begin()?;
        let revoked = writing.query_row(REVOKE, (id, at.to_string()), read).optional();
        let token = revoked.doing(DOING)?;
        writing.commit().doing(DOING)?;
        token.ok_or_else(|| StoreError::Missing(format!("token {id}")))
    }

    fn note_use(&self, id: &str, at: Timestamp) -> Result<(), StoreError> {
        const DOING: &str = "noting the use of a token";
        let writing = self.writer.begin()?;
        writing.execute(USE, (id, at.to_string())).doing(DOING)?;
        writing.commit().doing(DOING)
    }

    fn enter(&self, entries: &[LedgerEntry]) -> Result<(), StoreError> {
        const DOING: &str = "writing the ledger";
        let writing = self.writer.begin()?;
        for entry in entries {
            let at = entry.at.to_string();
            let values = (
                at,
                &entry.who,
                &entry.address,
                &entry.method,
                &entry.path,
                &entry.site,
                entry.status,
            );
            writing.execute(ENTER, values).doing(DOING)?;
        }
        writing.commit().doing(DOING)
    }

    fn strike(&self, most: u64) -> Result<u64, StoreError> {
        const DOING: &str = "striking old lines out of the ledger";
        let writing = self.writer.begin()?;
        let struck = writing.execute(STRIKE, [most]).doing(DOING)?;
        writing.commit().doing(DOING)?;
        Ok(struck as u64)
    }

    fn ledger(&self, most: usize) -> Result<Vec<LedgerEntry>, StoreError> {
        self.readers.read("reading the ledger", |moment| {
            let entry = |row: &Row<'_>| {
                Ok(LedgerEntry {
                    at: required(row, 0)?,
                    who: row.get(1)?,
                    address: row.get(2)?,
                    method: row.get(3)?,
                    path: row.get(4)?,
                    site: row.get(5)?,
                    status: row.get(6)?,
                })
            };
            moment.prepare(LEDGER)?.query_map([most], entry)?.collect()
        })
    }
}

fn read(row: &Row<'_>) -> rusqlite::Result<Token> {
    Ok(Token {
        id: row.get(0)?,
        holder: row.get(1)?,
        role: required(row, 2)?,
        sites: json(row, 3)?.unwrap_or_default(),
        issued: required(row, 4)?,
        expires: parsed(row, 5)?,
        revoked: parsed(row, 6)?,
        used: parsed(row, 7)?,
    })
}
