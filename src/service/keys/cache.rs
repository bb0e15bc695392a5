//! Keys as they were last read, for a second at most: so long may a key that another instance revoked still be taken.

use std::collections::BTreeMap;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use chrono::{DateTime, Utc};
use uuid::Uuid;

use crate::store::keys::KeyRow;

/// How old a key in memory may be.
const FRESH: Duration = Duration::from_secs(1);
/// Keys in memory at most; a shop has a handful.
const ROOM: usize = 1_000;

/// Keys that were read lately.
#[derive(Debug, Default)]
pub struct Cache {
    inner: Mutex<Inner>,
}

#[derive(Debug, Default)]
struct Inner {
    kept: BTreeMap<Uuid, (Instant, KeyRow)>,
    /// When the use of each key was last written down.
    noted: BTreeMap<Uuid, DateTime<Utc>>,
    /// Counts the changes that this instance made: what was read before one of them is not kept after it.
    changes: u64,
}

/// Says which changes had been made when something was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Before(u64);

impl Cache {
    fn inner(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The key, if it was read within the last second; otherwise what [`Cache::keep`] needs of the time before it is
    /// read now.
    pub(super) fn fresh(&self, id: Uuid) -> Result<KeyRow, Before> {
        let inner = self.inner();
        let found = inner.kept.get(&id).filter(|(read_at, _)| read_at.elapsed() < FRESH);
        found.map(|(_, row)| row.clone()).ok_or(Before(inner.changes))
    }

    /// Keeps a key that was read after `before`, at `read_at` at the earliest.
    pub(super) fn keep(&self, before: Before, read_at: Instant, row: KeyRow) {
        let mut inner = self.inner();
        if inner.changes != before.0 {
            return;
        }
        if inner.kept.len() >= ROOM && !inner.kept.contains_key(&row.id) {
            inner.kept.clear();
            inner.noted.clear();
        }
        inner.kept.insert(row.id, (read_at, row));
    }

    /// Forgets a key that this instance has just changed.
    pub(super) fn forget(&self, id: Uuid) {
        let mut inner = self.inner();
        inner.changes += 1;
        inner.kept.remove(&id);
    }

    /// Whether a use of the key at `now` is to be written down: when none was for `every`. Whoever is told so writes.
    pub(super) fn note_use(&self, row: &KeyRow, now: DateTime<Utc>, every: chrono::Duration) -> bool {
        let mut inner = self.inner();
        let noted = inner.noted.get(&row.id).copied().max(row.last_used_at);
        // A clock that was set back is no reason to stop noting.
        let due = noted.is_none_or(|noted| now - noted >= every || now < noted - every);
        if due {
            inner.noted.insert(row.id, now);
        }
        due
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::keys::SecretHash;

    fn row(id: Uuid, last_used_at: Option<DateTime<Utc>>) -> KeyRow {
        let at = "2026-11-25T12:00:00Z".parse().unwrap();
        KeyRow {
            id,
            name: "till".to_owned(),
            role: "front_desk".to_owned(),
            hash: SecretHash::new([1; 32]),
            earlier: None,
            created_at: at,
            created_by: "command line".to_owned(),
            updated_at: at,
            changed_by: "command line".to_owned(),
            expires_at: None,
            last_used_at,
            revoked_at: None,
            version: 1,
        }
    }

    #[test]
    fn what_was_read_before_a_change_is_not_kept_after_it() {
        let cache = Cache::default();
        let id = Uuid::from_u128(1);
        let before = cache.fresh(id).unwrap_err();
        cache.forget(id);
        cache.keep(before, Instant::now(), row(id, None));
        let before = cache.fresh(id).unwrap_err();
        cache.keep(before, Instant::now(), row(id, None));
        assert_eq!(cache.fresh(id).unwrap().id, id);
        cache.forget(id);
        assert!(cache.fresh(id).is_err());
    }

    #[test]
    fn what_is_a_second_old_is_read_again_and_memory_is_bounded() {
        let cache = Cache::default();
        let read_at = Instant::now().checked_sub(FRESH).unwrap();
        let before = cache.fresh(Uuid::nil()).unwrap_err();
        cache.keep(before, read_at, row(Uuid::nil(), None));
        assert!(cache.fresh(Uuid::nil()).is_err());
        for n in 0..ROOM as u128 * 2 {
            cache.keep(before, Instant::now(), row(Uuid::from_u128(n), None));
        }
        assert!(cache.inner().kept.len() <= ROOM);
    }

    #[test]
    fn a_use_is_noted_once_a_minute() {
        let cache = Cache::default();
        let (id, minute) = (Uuid::from_u128(1), chrono::Duration::minutes(1));
        let at = |text: &str| text.parse::<DateTime<Utc>>().unwrap();
        assert!(cache.note_use(&row(id, None), at("2026-11-25T12:00:00Z"), minute));
        assert!(!cache.note_use(&row(id, None), at("2026-11-25T12:00:59Z"), minute));
        assert!(cache.note_use(&row(id, None), at("2026-11-25T12:01:00Z"), minute));
        // Another instance has noted it.
        let noted = Some(at("2026-11-25T12:01:30Z"));
        assert!(!cache.note_use(&row(id, noted), at("2026-11-25T12:02:10Z"), minute));
    }
}
