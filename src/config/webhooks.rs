//! How targets of webhooks are called.

use std::time::Duration;

use super::{Network, Reader};

/// How targets of webhooks are called.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Webhooks {
    /// Networks that may be called whatever they are, also without TLS.
    pub networks: Vec<Network>,
    /// Time for connecting.
    pub connect_timeout: Duration,
    /// Time until the answer.
    pub timeout: Duration,
}

impl Reader<'_> {
    /// What is set for webhooks.
    pub(super) fn webhooks(&mut self) -> Option<Webhooks> {
        let networks = self.networks("webhook_networks");
        let connect_timeout = self.seconds("webhook_connect_timeout_s", 30);
        // A try has to be over before the lease on its target ends.
        let timeout = self.seconds("webhook_timeout_s", 30);
        Some(Webhooks { networks: networks?, connect_timeout: connect_timeout?, timeout: timeout? })
    }
}
