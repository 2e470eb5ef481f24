//! Tokens and the ledger.

use super::PostgresStore;
use super::column::{as_integer, integer, json, parsed, required};
use super::failure::{Doing, Given};
use crate::access::{Digest, Token};
use crate::store::StoreError;
use crate::store::access::{AccessStore, LedgerEntry};
use jiff::Timestamp;
use postgres::Row;
use serde_json::json;

const ISSUE: &str = "INSERT INTO token (id, digest, holder, role, sites, issued, expires) \
     VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT DO NOTHING";
const ANY: &str = "SELECT EXISTS (SELECT 1 FROM token)";
const FIND: &str =
    "SELECT id, holder, role, sites, issued, expires, revoked, used FROM token WHERE digest = $1";
const ALL: &str = "SELECT id, holder, role, sites, issued, expires, revoked, used FROM token ORDER BY number";
const REVOKE: &str = "UPDATE token SET revoked = coalesce(revoked, $2) WHERE id = $1 \
     RETURNING id, holder, role, sites, issued, expires, revoked, used";
const USE: &str = "UPDATE token SET used = $2 WHERE id = $1 AND (used IS NULL OR used < $2)";
const ENTER: &str =
    "INSERT INTO ledger (at, who, address, method, path, site, status) VALUES ($1, $2, $3, $4, $5, $6, $7)";
const STRIKE: &str = "DELETE FROM ledger WHERE status >= 400 AND number <= ( \
     SELECT number FROM ledger WHERE status >= 400 ORDER BY number DESC LIMIT 1 OFFSET $1)";
const LEDGER: &str =
    "SELECT at, who, address, method, path, site, status::bigint FROM ledger ORDER BY number DESC LIMIT $1";

impl AccessStore for PostgresStore {
    fn issue(&self, token: &Token, digest: &Digest) -> Result<(), StoreError> {
        let added = self.writers.ask("keeping a token", |conn| {
            let sites = json!(token.sites).to_string();
            let expires = token.expires.map(|moment| moment.to_string());
            Ok(conn.execute(
                ISSUE,
                &[
                    &token.id,
                    &digest.as_slice(),
                    &token.holder,
                    &token.role.name(),
                    &sites,
                    &token.issued.to_string(),
                    &expires,
                ],
            )?)
        });
        match added? {
            0 => Err(StoreError::Exists(format!("token {}", token.id))),
            _ => Ok(()),
        }
    }

    fn has_tokens(&self) -> Result<bool, StoreError> {
        self.readers.ask("asking for tokens", |conn| {
            Ok(conn.query_one(ANY, &[])?.try_get(0)?)
        })
    }

    fn token(&self, digest: &Digest) -> Result<Option<Token>, StoreError> {
        self.readers.ask("reading a token", |conn| {
            let row = conn.query_opt(FIND, &[&digest.as_slice()])?;
            row.as_ref().map(read).transpose()
        })
    }

    fn tokens(&self) -> Result<Vec<Token>, StoreError> {
        self.readers.ask("reading tokens", |conn| {
            conn.query(ALL, &[])?.iter().map(read).collect()
        })
    }

    fn revoke(&self, id: &str, at: Timestamp) -> Result<Token, StoreError> {
        let token = self.writers.ask("revoking a token", |conn| {
            let row = conn.query_opt(REVOKE, &[&id, &at.to_string()])?;
            row.as_ref().map(read).transpose()
        });
        token?.ok_or_else(|| StoreError::Missing(format!("token {id}")))
    }

    fn note_use(&self, id: &str, at: Timestamp) -> Result<(), StoreError> {
        self.writers.ask("noting the use of a token", |conn| {
            conn.execute(USE, &[&id, &at.to_string()])?;
            Ok(())
        })
    }

    fn enter(&self, entries: &[LedgerEntry]) -> Result<(), StoreError> {
        const DOING: &str = "writing the ledger";
        let mut writing = self.writers.begin()?;
        for entry in entries {
            let (at, status) = (entry.at.to_string(), i32::from(entry.status));
            writing
                .execute(
                    ENTER,
                    &[
                        &at,
                        &entry.who,
                        &entry.address,
                        &entry.method,
                        &entry.path,
                        &entry.site,
                        &status,
                    ],
                )
                .doing(DOING)?;
        }
        writing.commit().doing(DOING)
    }

    fn strike(&self, most: u64) -> Result<u64, StoreError> {
        self.writers.ask("striking old lines out of the ledger", |conn| {
            Ok(conn.execute(STRIKE, &[&as_integer(most)])?)
        })
    }

    fn ledger(&self, most: usize) -> Result<Vec<LedgerEntry>, StoreError> {
        self.readers.ask("reading the ledger", |conn| {
            let rows = conn.query(LEDGER, &[&as_integer(most as u64)])?;
            rows.iter().map(entry).collect()
        })
    }
}

fn entry(row: &Row) -> Given<LedgerEntry> {
    Ok(LedgerEntry {
        at: required(row, 0)?,
        who: row.try_get(1)?,
        address: row.try_get(2)?,
        method: row.try_get(3)?,
        path: row.try_get(4)?,
        site: row.try_get(5)?,
        status: integer(row, 6)?.unwrap_or_default(),
    })
}

fn read(row: &Row) -> Given<Token> {
    Ok(Token {
        id: row.try_get(0)?,
        holder: row.try_get(1)?,
        role: required(row, 2)?,
        sites: json(row, 3)?.unwrap_or_default(),
        issued: required(row, 4)?,
        expires: parsed(row, 5)?,
        revoked: parsed(row, 6)?,
        used: parsed(row, 7)?,
    })
}
