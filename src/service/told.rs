//! How far events have come, for those who listen: found out once for all of them.

use std::sync::Arc;

use tokio::sync::watch;

use super::Service;

/// What a listener hears of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct State {
    last: i64,
    ending: bool,
}

/// How far events have come, and whether the service is about to end.
#[derive(Clone, Debug)]
pub(super) struct Told(Arc<watch::Sender<State>>);

impl Default for Told {
    fn default() -> Self {
        Told(Arc::new(watch::Sender::new(State::default())))
    }
}

impl Told {
    /// Has listeners look for events up to a position.
    pub(super) fn come_to(&self, position: i64) {
        self.0.send_if_modified(|state| {
            let further = position > state.last;
            state.last = position.max(state.last);
            further
        });
    }
}

/// What someone holds who listens to events.
#[derive(Clone, Debug)]
pub struct Listening(watch::Receiver<State>);

impl Listening {
    /// Position of the last event that is known of; `None` when the service is about to end.
    pub fn last(&mut self) -> Option<i64> {
        let State { last, ending } = *self.0.borrow_and_update();
        (!ending).then_some(last)
    }

    /// Is done when there is more, or the service is about to end.
    pub async fn changed(&mut self) {
        // Without a sender there will never be more; whoever waits has a heartbeat beside this.
        if self.0.changed().await.is_err() {
            std::future::pending().await
        }
    }
}

impl Service {
    /// Begins to listen to events.
    pub fn listen(&self) -> Listening {
        Listening(self.told.0.subscribe())
    }

    /// Has all who listen end.
    pub fn end_listening(&self) {
        self.told.0.send_modify(|state| state.ending = true);
    }
}
