//! Tokens and the ledger.

use super::Trial;
use crate::access::{Digest, Role, Token};
use crate::store::StoreError;
use crate::store::access::LedgerEntry;
use jiff::Timestamp;

fn at(text: &str) -> Timestamp {
    text.parse().unwrap()
}

fn token(holder: &str, sites: &[&str]) -> Token {
    let sites = sites.iter().map(|site| site.parse().unwrap()).collect();
    let expires = Some(at("2030-01-01T00:00:00Z"));
    Token::new(holder.to_owned(), Role::Contributor, sites, expires).unwrap()
}

const ONE: Digest = [1; 32];
const OTHER: Digest = [2; 32];

pub(crate) fn a_token_reads_back_as_issued(trial: &impl Trial) {
    let store = trial.store().gatekeeper();
    assert!(!store.has_tokens().unwrap());
    let (one, other) = (token("Party, \"north\"", &["cove", "bay"]), token("Árbol", &[]));
    store.issue(&one, &ONE).unwrap();
    store.issue(&other, &OTHER).unwrap();
    assert!(trial.again().gatekeeper().has_tokens().unwrap());
    assert_eq!(store.token(&ONE).unwrap(), Some(one.clone()));
    assert_eq!(store.token(&[3; 32]).unwrap(), None);
    assert_eq!(store.tokens().unwrap(), [one, other]);
}

pub(crate) fn no_token_is_issued_twice(trial: &impl Trial) {
    let store = trial.store().gatekeeper();
    let one = token("party", &[]);
    store.issue(&one, &ONE).unwrap();
    let same_id = store.issue(&one, &OTHER);
    assert!(matches!(same_id, Err(StoreError::Exists(_))), "{same_id:?}");
    let same_digest = store.issue(&token("other", &[]), &ONE);
    assert!(
        matches!(same_digest, Err(StoreError::Exists(_))),
        "{same_digest:?}"
    );
    assert_eq!(store.tokens().unwrap(), [one]);
}

pub(crate) fn a_revoked_token_stays_revoked(trial: &impl Trial) {
    let store = trial.store().gatekeeper();
    let one = token("party", &[]);
    store.issue(&one, &ONE).unwrap();
    let first = store.revoke(&one.id, at("2026-05-01T10:00:00Z")).unwrap();
    assert_eq!(first.revoked, Some(at("2026-05-01T10:00:00Z")));
    assert_eq!(store.revoke(&one.id, at("2026-06-01T10:00:00Z")).unwrap(), first);
    let seen = trial.again().gatekeeper().token(&ONE).unwrap().unwrap();
    assert!(!seen.holds_at(at("2026-05-02T00:00:00Z")));
    assert!(store.has_tokens().unwrap(), "revoking the last one opens no door");
    let missing = store.revoke("none", at("2026-05-01T10:00:00Z"));
    assert!(matches!(missing, Err(StoreError::Missing(_))), "{missing:?}");
}

pub(crate) fn the_last_use_of_a_token_is_known(trial: &impl Trial) {
    let store = trial.store().gatekeeper();
    let one = token("party", &[]);
    store.issue(&one, &ONE).unwrap();
    for moment in [
        "2026-05-01T10:01:00Z",
        "2026-05-01T10:03:00Z",
        "2026-05-01T10:02:00Z",
    ] {
        store.note_use(&one.id, at(moment)).unwrap();
    }
    let used = store.token(&ONE).unwrap().unwrap().used;
    assert_eq!(used, Some(at("2026-05-01T10:03:00Z")));
    store.note_use("none", at("2026-05-01T10:03:00Z")).unwrap();
}

fn line(number: u16, status: u16) -> LedgerEntry {
    LedgerEntry {
        at: at("2026-05-01T10:00:00.123456Z"),
        who: number.is_multiple_of(2).then(|| format!("party {number}")),
        address: Some("192.0.2.7".to_owned()),
        method: "POST".to_owned(),
        path: format!("/sites/cove-{number}/imports"),
        site: Some(format!("cove-{number}")),
        status,
    }
}

pub(crate) fn the_ledger_keeps_every_write_and_the_newest_refusals(trial: &impl Trial) {
    let store = trial.store().gatekeeper();
    let lines: Vec<LedgerEntry> = (0..10)
        .map(|number| line(number, if number % 3 == 0 { 200 } else { 403 }))
        .collect();
    store.enter(&lines).unwrap();
    store.enter(&[]).unwrap();
    let newest: Vec<LedgerEntry> = lines.iter().rev().cloned().collect();
    assert_eq!(trial.again().gatekeeper().ledger(100).unwrap(), newest);
    assert_eq!(store.ledger(2).unwrap(), newest[..2]);
    assert_eq!(store.strike(6).unwrap(), 0);
    assert_eq!(store.strike(2).unwrap(), 4);
    let left = store.ledger(100).unwrap();
    assert_eq!(left.iter().filter(|line| !line.refused()).count(), 4);
    let refused: Vec<&LedgerEntry> = left.iter().filter(|line| line.refused()).collect();
    assert_eq!(refused, [&lines[8], &lines[7]]);
}

pub(crate) fn tokens_and_ledger_are_no_change_of_the_record(trial: &impl Trial) {
    let store = trial.store();
    let mark = store.mark().unwrap();
    store.gatekeeper().issue(&token("party", &[]), &ONE).unwrap();
    store.gatekeeper().enter(&[line(1, 200)]).unwrap();
    assert!(store.sites().unwrap().is_empty());
    assert_eq!(trial.again().mark().unwrap(), mark);
}
