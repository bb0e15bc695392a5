//! The secret of a key: made from the system's randomness, shown once, kept as a hash.
//!
//! Written `rigbill_` + the key's identifier (32 hex digits) + `_` + 32 random bytes (base64url, RFC 4648 section 5,
//! without padding). The identifier is no secret; with it the key is found by its primary key. The beginning lets a
//! person, or a search for secrets that slipped into a file, see what it is.

use std::fmt;

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use secrecy::{ExposeSecret, SecretString};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::store::keys::SecretHash;

const BEGINNING: &str = "rigbill_";
/// Hex digits of an identifier.
const ID_DIGITS: usize = 32;
/// Random bytes of a secret.
const RANDOM_BYTES: usize = 32;

/// A key's secret as its owner gets it, once. `Debug` does not show it, and it is wiped from memory when dropped.
#[derive(Clone)]
pub struct Secret(SecretString);

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secret(…)")
    }
}

/// The system has no random bytes to give.
#[derive(Debug, thiserror::Error)]
#[error("the operating system gave no random bytes")]
pub struct NoRandomness(#[from] getrandom::Error);

impl Secret {
    /// A new secret for a key, and its hash.
    ///
    /// # Errors
    /// [`NoRandomness`], which no system that runs this gives once it is up.
    pub(super) fn new(key: Uuid) -> Result<(Self, SecretHash), NoRandomness> {
        let (random, hash) = Secret::random()?;
        let text = format!("{BEGINNING}{}_{}", key.simple(), random.expose());
        Ok((Secret(text.into()), hash))
    }

    /// A new secret of the random part alone, and its hash.
    ///
    /// # Errors
    /// As [`Secret::new`].
    pub(in crate::service) fn random() -> Result<(Self, SecretHash), NoRandomness> {
        let random = random_bytes()?;
        Ok((Secret(URL_SAFE_NO_PAD.encode(random).into()), hash(&random)))
    }

    /// The secret itself: to be shown once, and never kept or logged.
    pub fn expose(&self) -> &str {
        self.0.expose_secret()
    }
}

/// Random bytes for a secret.
///
/// # Errors
/// As [`Secret::new`].
pub(in crate::service) fn random_bytes() -> Result<[u8; RANDOM_BYTES], NoRandomness> {
    let mut random = [0; RANDOM_BYTES];
    getrandom::fill(&mut random)?;
    Ok(random)
}

fn hash(random: &[u8]) -> SecretHash {
    SecretHash::new(Sha256::digest(random).into())
}

/// The key that a secret says it is of, and the hash of its random part. `None` when it is none of ours.
pub(super) fn read(text: &str) -> Option<(Uuid, SecretHash)> {
    let rest = text.strip_prefix(BEGINNING)?;
    let (id, rest) = rest.split_at_checked(ID_DIGITS)?;
    let hash = hash_of_random(rest.strip_prefix('_')?)?;
    Some((Uuid::try_parse(id).ok()?, hash))
}

/// The hash of a secret's random part. `None` when it cannot be one.
pub(in crate::service) fn hash_of_random(text: &str) -> Option<SecretHash> {
    let random = URL_SAFE_NO_PAD.decode(text).ok().filter(|random| random.len() == RANDOM_BYTES)?;
    Some(hash(&random))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_secret_is_read_as_it_was_written_and_no_two_are_the_same() {
        let key = Uuid::from_u128(7);
        let (one, hash) = Secret::new(key).unwrap();
        let (id, read_hash) = read(one.expose()).unwrap();
        assert_eq!(id, key);
        assert!(bool::from(hash.same(&read_hash)));
        let (other, other_hash) = Secret::new(key).unwrap();
        assert_ne!(one.expose(), other.expose());
        assert!(!bool::from(hash.same(&other_hash)));
    }

    #[test]
    fn what_is_none_of_ours_is_not_read() {
        let (secret, _) = Secret::new(Uuid::from_u128(7)).unwrap();
        let text = secret.expose();
        for other in ["", "rigbill_", "rigbill_7", &text[1..], &text[..text.len() - 1], "rigbill_äöüäöüäöüäöüäöüäöü_"]
        {
            let shorter = read(other).map(|(id, _)| id);
            assert_eq!(shorter, None, "{other}");
        }
    }

    #[test]
    fn no_text_shows_a_secret_or_its_hash() {
        let (secret, hash) = Secret::new(Uuid::from_u128(7)).unwrap();
        let told = format!("{secret:?} {hash:?}");
        assert_eq!(told, "Secret(…) SecretHash(…)");
    }
}
