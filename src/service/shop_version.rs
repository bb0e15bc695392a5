//! The version of the shop's tables, read once for all who ask for it at the same time.

use std::fmt;
use std::future::Future;
use std::pin::Pin;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use futures_util::FutureExt;
use futures_util::future::Shared;

use crate::store::{self, Store};

/// A reading that has not begun, or is under way; whoever waits for it drives it on.
type Reading = Shared<Pin<Box<dyn Future<Output = Result<i64, Arc<store::Error>>> + Send>>>;

/// Readings of the version. One is under way at most; all who ask meanwhile share the next, which begins after they asked:
/// so nobody is told a version older than the last change that was answered before, and a busy service still asks
/// the database far less often than it is asked.
#[derive(Clone, Default)]
pub(super) struct Readings(Arc<Inner>);

#[derive(Default)]
struct Inner {
    /// The reading that has not begun yet.
    next: Mutex<Option<Reading>>,
    /// Held by the reading that is under way.
    turn: tokio::sync::Mutex<()>,
}

impl fmt::Debug for Readings {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Readings")
    }
}

impl Inner {
    fn next(&self) -> MutexGuard<'_, Option<Reading>> {
        self.next.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Readings {
    /// The version as the database has it at some time after this call.
    pub(super) async fn version(&self, store: &Store) -> Result<i64, store::Error> {
        let store = store.clone();
        let reading = self.next_reading(|| async move { store::shop::version(&store).await });
        reading.await.map_err(store::Error::Shared)
    }

    /// The reading that begins next; made if there is none yet.
    fn next_reading<F>(&self, read: impl FnOnce() -> F + Send + 'static) -> Reading
    where
        F: Future<Output = Result<i64, store::Error>> + Send + 'static,
    {
        let inner = self.0.clone();
        let begin = || {
            let reading = async move {
                let _turn = inner.turn.lock().await;
                // Whoever asks from here on needs a reading that begins later.
                *inner.next() = None;
                read().await.map_err(Arc::new)
            };
            let reading: Pin<Box<dyn Future<Output = _> + Send>> = Box::pin(reading);
            reading.shared()
        };
        self.0.next().get_or_insert_with(begin).clone()
    }
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicI64, Ordering};

    use tokio::sync::Notify;

    use super::*;

    /// A database whose version moves with every change, and that answers when it is let.
    #[derive(Default)]
    struct Slow {
        version: AtomicI64,
        reads: AtomicI64,
        go: Notify,
    }

    fn asked(readings: &Readings, slow: &Arc<Slow>) -> Reading {
        let slow = slow.clone();
        readings.next_reading(move || async move {
            slow.reads.fetch_add(1, Ordering::SeqCst);
            let version = slow.version.load(Ordering::SeqCst);
            slow.go.notified().await;
            Ok(version)
        })
    }

    #[tokio::test]
    async fn who_asks_after_a_change_is_told_of_it_and_who_asks_together_shares() {
        let (readings, slow) = (Readings::default(), Arc::new(Slow::default()));
        let first = tokio::spawn(asked(&readings, &slow));
        while slow.reads.load(Ordering::SeqCst) == 0 {
            tokio::task::yield_now().await;
        }
        // The first reading has looked already; all of these ask after the change.
        slow.version.store(1, Ordering::SeqCst);
        let later: Vec<_> = (0..100).map(|_| tokio::spawn(asked(&readings, &slow))).collect();
        for _ in 0..200 {
            tokio::task::yield_now().await;
        }
        assert_eq!(slow.reads.load(Ordering::SeqCst), 1, "the second waits for its turn");
        slow.go.notify_one();
        assert_eq!(first.await.unwrap().unwrap(), 0);
        slow.go.notify_one();
        for one in later {
            assert_eq!(one.await.unwrap().unwrap(), 1);
        }
        assert_eq!(slow.reads.load(Ordering::SeqCst), 2);
    }

    #[tokio::test]
    async fn who_goes_away_holds_up_nobody() {
        let (readings, slow) = (Readings::default(), Arc::new(Slow::default()));
        let gone = tokio::spawn(asked(&readings, &slow));
        while slow.reads.load(Ordering::SeqCst) == 0 {
            tokio::task::yield_now().await;
        }
        let waiting = tokio::spawn(asked(&readings, &slow));
        tokio::task::yield_now().await;
        gone.abort();
        drop(asked(&readings, &slow));
        slow.go.notify_one();
        assert_eq!(waiting.await.unwrap().unwrap(), 0);
        slow.go.notify_one();
        assert_eq!(asked(&readings, &slow).await.unwrap(), 0);
    }
}
