//! The gate: from a request's credentials to who asks.

use super::{Asker, Audience, Denied, Digest, OpenId, Secret, Token};
use crate::store::{Store, StoreError};
use jiff::{Timestamp, ToSpan};
use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// So long a token is believed without asking the store again: within this time a revocation is felt.
const BELIEVED: Duration = Duration::from_secs(1);
/// How many tokens are remembered; more than that, and all are asked for anew.
const REMEMBERED: usize = 10_000;

/// What the gate goes by.
pub struct Terms {
    /// Whether the service is for others than the people of this machine.
    pub public: bool,
    /// Whether changes are refused from everybody.
    pub read_only: bool,
    /// The identity provider whose tokens are taken besides the store's.
    pub openid: Option<OpenId>,
}

/// What a request shows of who sends it.
#[derive(Debug, Clone)]
pub struct Knock {
    /// What stands after `Bearer` in its `Authorization`.
    pub bearer: Option<String>,
    /// Where it comes from.
    pub address: Option<IpAddr>,
    /// Whether a page of another site sends it through a browser of this machine.
    pub strange_page: bool,
}

/// Tells who asks.
pub struct Gate {
    store: Arc<dyn Store>,
    terms: Terms,
    /// Whether the store has tokens, and when it was asked. Once it has, it has for ever.
    has_tokens: Mutex<Option<(bool, Instant)>>,
    remembered: Mutex<HashMap<Digest, (Option<Token>, Instant)>>,
}

impl Gate {
    /// A gate before a store.
    #[must_use]
    pub fn new(store: Arc<dyn Store>, terms: Terms) -> Self {
        Self {
            store,
            terms,
            has_tokens: Mutex::default(),
            remembered: Mutex::default(),
        }
    }

    /// Who asks, where that can be told without waiting for anything.
    #[must_use]
    pub fn at_once(&self, knock: &Knock) -> Option<Asker> {
        if knock.bearer.is_some() {
            return None;
        }
        let known = *lock(&self.has_tokens);
        known
            .filter(|(has, asked)| *has || asked.elapsed() < BELIEVED)
            .map(|(has, _)| self.without_token(knock, has))
    }

    /// Who asks; may wait for the store or for the identity provider.
    ///
    /// # Errors
    /// When a token is sent that opens nothing, or none can be checked.
    pub fn admit(&self, knock: &Knock) -> Result<Asker, Denied> {
        let Some(bearer) = &knock.bearer else {
            return Ok(self.without_token(knock, self.has_tokens()?));
        };
        let asker = match (Secret::sent(bearer), &self.terms.openid) {
            (Some(secret), _) => self.with_token(&secret)?,
            (None, Some(openid)) => openid.admit(bearer)?,
            (None, None) => return Err(Denied::BadToken("it is none of this service's")),
        };
        Ok(if self.terms.read_only {
            asker.reading_only()
        } else {
            asker
        })
    }

    fn without_token(&self, knock: &Knock, has_tokens: bool) -> Asker {
        if has_tokens || self.terms.openid.is_some() {
            let why = if self.terms.read_only {
                Denied::ReadOnly
            } else {
                Denied::NoToken
            };
            return Asker::unknown(Audience::Public, why);
        }
        if knock.strange_page {
            return Asker::unknown(Audience::Public, Denied::StrangePage);
        }
        let here = knock.address.is_some_and(|address| address.is_loopback());
        let audience = if self.terms.public || !here {
            Audience::Public
        } else {
            Audience::Local
        };
        match (self.terms.read_only || self.terms.public, here) {
            (true, _) => Asker::unknown(audience, Denied::ReadOnly),
            (false, false) => Asker::unknown(audience, Denied::Elsewhere),
            (false, true) => Asker::house(),
        }
    }

    /// Whether there are tokens; while the store is away, what was known last. Where nothing was ever known, nobody is let in
    /// as one of the house.
    fn has_tokens(&self) -> Result<bool, Denied> {
        match self.store.gatekeeper().has_tokens() {
            Ok(has) => {
                *lock(&self.has_tokens) = Some((has, Instant::now()));
                Ok(has)
            }
            Err(error) => lock(&self.has_tokens)
                .map(|(has, _)| has)
                .ok_or_else(|| unchecked(&error)),
        }
    }

    fn with_token(&self, secret: &Secret) -> Result<Asker, Denied> {
        let digest = secret.digest();
        let found = self
            .find(&digest)?
            .ok_or(Denied::BadToken("it is none of this service's"))?;
        let now = Timestamp::now();
        if found.revoked.is_some() {
            return Err(Denied::BadToken("it has been revoked"));
        }
        if !found.holds_at(now) {
            return Err(Denied::BadToken("it has expired"));
        }
        self.note_use(&digest, &found, now);
        let grants = found.grants();
        Ok(Asker::holder(found.holder, grants))
    }

    fn find(&self, digest: &Digest) -> Result<Option<Token>, Denied> {
        let known = lock(&self.remembered).get(digest).cloned();
        match known {
            Some((token, asked)) if asked.elapsed() < BELIEVED => Ok(token),
            known => match (self.store.gatekeeper().token(digest), known) {
                (Ok(token), _) => {
                    self.remember(*digest, token.clone());
                    Ok(token)
                }
                // While the database is away, whoever was known stays known.
                (Err(StoreError::Unreachable(_)), Some((token, _))) => Ok(token),
                (Err(error), _) => Err(unchecked(&error)),
            },
        }
    }

    fn remember(&self, digest: Digest, token: Option<Token>) {
        let mut remembered = lock(&self.remembered);
        if remembered.len() >= REMEMBERED {
            remembered.clear();
        }
        remembered.insert(digest, (token, Instant::now()));
    }

    /// To the minute, so that a busy token costs a write a minute and not one a request.
    fn note_use(&self, digest: &Digest, token: &Token, now: Timestamp) {
        let minute = Timestamp::from_second(now.as_second() / 60 * 60).unwrap_or(now);
        if token.used.is_some_and(|used| used >= minute) || self.terms.read_only {
            return;
        }
        let mut noted = token.clone();
        noted.used = Some(minute);
        self.remember(*digest, Some(noted));
        if let Err(error) = self.store.gatekeeper().note_use(&token.id, minute) {
            tracing::warn!(%error, "the use of a token is not noted");
        }
    }
}

fn unchecked(error: &StoreError) -> Denied {
    tracing::error!(%error, "tokens cannot be checked");
    Denied::Unchecked("the store cannot be read".to_owned())
}

/// The end of a day that a token expires on: the first moment after it, in UTC.
///
/// # Errors
/// When there is no day after it.
pub fn end_of(day: jiff::civil::Date) -> Result<Timestamp, jiff::Error> {
    let next = day.checked_add(1.day())?;
    jiff::tz::Offset::UTC.to_timestamp(next.at(0, 0, 0, 0))
}

/// A thread that panicked while it held the lock left the value whole.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
