//! What is done once, however often it is sent: a request that comes with a key of the client's choice claims that key
//! in the write that does its work, and a repeat is given the same answer.

use std::fmt;

use chrono::{DateTime, Duration, Utc};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::{Error, Service};
use crate::store::idempotency::Kept;
use crate::store::{self, Write};

pub use crate::store::idempotency::{Answer, Claim};

/// How long an answer is kept.
pub const KEPT_FOR: Duration = Duration::hours(24);

/// A claim whose body is still arriving.
#[derive(Clone)]
pub struct OpenClaim {
    principal: Uuid,
    key: String,
    fingerprint: Sha256,
}

// The text of a key may be anything, so it stays out of what is printed.
impl fmt::Debug for OpenClaim {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("OpenClaim").field("principal", &self.principal).finish_non_exhaustive()
    }
}

impl OpenClaim {
    /// Begins with whose claim it is and what is asked: `target` is the path with its query.
    pub fn new(principal: Uuid, key: String, method: &str, target: &str) -> Self {
        let mut fingerprint = Sha256::new();
        for part in [method, target] {
            // With their lengths, so that no two requests run together into the same bytes.
            fingerprint.update((part.len() as u64).to_le_bytes());
            fingerprint.update(part);
        }
        OpenClaim { principal, key, fingerprint }
    }

    /// Takes in a piece of the body.
    pub fn feed(&mut self, piece: &[u8]) {
        self.fingerprint.update(piece);
    }

    /// The claim, when the whole body has arrived.
    pub fn close(self) -> Claim {
        let OpenClaim { principal, key, fingerprint } = self;
        Claim { principal, key, fingerprint: fingerprint.finalize().into() }
    }
}

/// How often something is done: by a claim once, without one as often as it is asked for.
pub struct Once<'a, T>(Option<By<'a, T>>);

struct By<'a, T> {
    claim: &'a Claim,
    answer: &'a (dyn Fn(&T) -> Answer + Sync),
}

/// What became of something that is done once.
#[derive(Debug, PartialEq)]
pub enum Made<T> {
    /// It was done now.
    Now(T),
    /// It was done before, and answered so.
    Before(Answer),
}

impl<T> Made<T> {
    /// What was done without a claim.
    pub(super) fn unclaimed(self) -> T {
        match self {
            Made::Now(value) => value,
            Made::Before(_) => unreachable!("only a claim finds an answer from before"),
        }
    }
}

impl<'a, T: Sync> Once<'a, T> {
    /// As often as it is asked for.
    pub const fn unclaimed() -> Self {
        Once(None)
    }

    /// By a claim, if there is one; `answer` makes what is kept as its answer.
    pub fn by(claim: Option<&'a Claim>, answer: &'a (dyn Fn(&T) -> Answer + Sync)) -> Self {
        Once(claim.map(|claim| By { claim, answer }))
    }

    /// Claims within the write that does the work, before its other statements: whoever comes second waits here. The
    /// answer of whoever was first, or `None` when the work is to be done; dropping the write then drops the claim.
    ///
    /// # Errors
    /// [`Error::KeyReused`], [`Error::ShownOnce`], [`Error::Store`].
    pub(super) async fn claim(&self, write: &Write, made: &T, now: DateTime<Utc>) -> Result<Option<Answer>, Error> {
        let Some(By { claim, answer }) = &self.0 else { return Ok(None) };
        let answer = answer(made);
        if store::idempotency::claim(write, claim, &answer, now, now + KEPT_FOR).await? {
            return Ok(None);
        }
        let kept = store::idempotency::read(write, claim.principal, &claim.key, now).await?;
        kept.map(|kept| again(kept, claim)).transpose()
    }

    /// What became of work on something that moves: where it was refused because the thing had moved, and whoever moved
    /// it came with the same claim, that one's answer.
    ///
    /// # Errors
    /// The refusal, where it was another's move; as [`Once::claim`].
    pub(super) async fn or_before(&self, service: &Service, outcome: Result<Made<T>, Error>) -> Result<Made<T>, Error> {
        let moved = matches!(outcome, Err(Error::Stale { .. } | Error::WrongMove { .. } | Error::Moved { .. }));
        match &self.0 {
            Some(By { claim, .. }) if moved => match service.answered(claim).await? {
                Some(answer) => Ok(Made::Before(answer)),
                None => outcome,
            },
            _ => outcome,
        }
    }
}

/// The answer to a repeat.
fn again(kept: Kept, claim: &Claim) -> Result<Answer, Error> {
    let Kept { fingerprint, answer } = kept;
    if fingerprint != claim.fingerprint {
        return Err(Error::KeyReused);
    }
    if answer.shows_secret {
        return Err(Error::ShownOnce { location: answer.location });
    }
    Ok(answer)
}

impl Service {
    /// The answer that a claim was given already.
    ///
    /// # Errors
    /// [`Error::KeyReused`] when its key came with another request; [`Error::ShownOnce`] when the answer held a
    /// secret; [`Error::Store`].
    pub async fn answered(&self, claim: &Claim) -> Result<Option<Answer>, Error> {
        let kept = store::idempotency::read(&self.store, claim.principal, &claim.key, self.clock.now()).await?;
        kept.map(|kept| again(kept, claim)).transpose()
    }

    /// What was answered to the key of a claim that is not closed yet. To be compared when it is.
    pub(super) async fn answered_key(&self, claim: &OpenClaim) -> Result<Option<Kept>, Error> {
        Ok(store::idempotency::read(&self.store, claim.principal, &claim.key, self.clock.now()).await?)
    }

    /// Forgets the answers that are kept no longer. How many those were.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn forget_answers(&self) -> Result<u64, Error> {
        let write = self.store.write().await?;
        let gone = store::idempotency::forget(&write, self.clock.now()).await?;
        write.commit().await?;
        Ok(gone)
    }
}

/// The answer that an open claim gets when its body has arrived whole and its key was answered before.
pub(super) fn answered_before(kept: Kept, claim: OpenClaim) -> Result<Answer, Error> {
    again(kept, &claim.close())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn claim(method: &str, target: &str, pieces: &[&str]) -> Claim {
        let mut open = OpenClaim::new(Uuid::nil(), "k".to_owned(), method, target);
        for piece in pieces {
            open.feed(piece.as_bytes());
        }
        open.close()
    }

    #[test]
    fn a_fingerprint_tells_requests_apart_and_not_how_their_bodies_arrive() {
        let one = claim("POST", "/v1/items", &["abc"]);
        assert!(one == claim("POST", "/v1/items", &["a", "", "bc"]));
        for other in [
            claim("PUT", "/v1/items", &["abc"]),
            claim("POST", "/v1/items?", &["abc"]),
            claim("POST", "/v1/item", &["sabc"]),
            claim("POST", "/v1/items", &["abd"]),
            claim("POST", "/v1/items", &[]),
        ] {
            assert!(one.fingerprint != other.fingerprint);
        }
    }
}
