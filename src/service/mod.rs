//! One function for each thing that a user can do: load, calculate, save, in one transaction. No HTTP here, and no
//! database entity: handlers above, the store below.

pub mod access;
mod calculated;
mod checks;
pub mod choices;
pub mod events;
pub mod imports;
mod issue;
pub mod items;
pub mod keys;
pub mod life;
pub mod links;
mod numbering;
pub mod once;
pub mod quote_request;
pub mod quotes;
pub mod readiness;
pub mod shop_documents;
mod shop_version;
mod snapshot;
pub mod stock;
pub mod take_offs;
mod told;
pub mod webhooks;

use std::sync::Arc;

use access::Principal;

use crate::calc::difference::Difference;
use crate::calc::findings::{Fault, Gap};
use crate::clock::Clock;
use crate::outbound::inventory::Inventory;
use crate::outbound::webhooks::Sender;
use crate::store::{self, Store};

pub use crate::store::{Error as StoreError, Stored, Trouble};
pub use told::Listening;

/// What a user can do. Cheap to clone; all clones share one store, one snapshot of the shop and one memory of keys.
#[derive(Clone, Debug)]
pub struct Service {
    store: Store,
    clock: Clock,
    snapshot: Arc<snapshot::Cache>,
    shop_version: shop_version::Readings,
    keys: Arc<keys::Cache>,
    principal: Arc<Principal>,
    /// Where that is what knows what is on the shelf.
    inventory: Option<Arc<Inventory>>,
    /// What tells targets of events.
    sender: Arc<Sender>,
    /// How far events have come, for those who listen.
    told: told::Told,
}

impl Service {
    /// A service on a store whose schema is up to date.
    pub fn new(store: Store, clock: Clock) -> Self {
        let principal = Arc::new(Principal::command_line());
        let shop_version = shop_version::Readings::default();
        Service {
            store,
            clock,
            snapshot: Arc::default(),
            shop_version,
            keys: Arc::default(),
            principal,
            inventory: None,
            sender: Arc::default(),
            told: told::Told::default(),
        }
    }

    /// The same service, writing in the name of another principal.
    pub fn by(&self, principal: Principal) -> Self {
        Service { principal: Arc::new(principal), ..self.clone() }
    }

    /// The same service, reading what is on the shelf from the shop's inventory system.
    pub fn with_inventory(self, inventory: Inventory) -> Self {
        Service { inventory: Some(Arc::new(inventory)), ..self }
    }

    /// The same service, telling targets of events by these settings.
    pub fn with_sender(self, sender: Sender) -> Self {
        Service { sender: Arc::new(sender), ..self }
    }

    /// A row as it is written now, in the name of the principal.
    fn written_now<T>(&self, value: T, version: i64) -> Stored<T> {
        Stored { value, version, updated_at: self.clock.now(), changed_by: Some(self.principal.name.clone()) }
    }

    /// In whose name it writes; the command line's, until [`Service::by`] says otherwise.
    pub fn principal(&self) -> &Principal {
        &self.principal
    }

    /// The store it works on.
    pub fn store(&self) -> &Store {
        &self.store
    }

    /// The clock it goes by.
    pub fn clock(&self) -> &Clock {
        &self.clock
    }
}

/// One page of a list, in keyset order.
#[derive(Clone, Debug, PartialEq)]
pub struct Page<T> {
    /// The rows.
    pub rows: Vec<T>,
    /// Key of the last row when more follow: the next page starts after it.
    pub next_after: Option<String>,
}

/// A page of no more than `limit` rows, from one row more than that if there are more.
fn page<T>(mut rows: Vec<T>, limit: u32, key: impl Fn(&T) -> String) -> Page<T> {
    let limit = usize::try_from(limit).unwrap_or(usize::MAX);
    let more = rows.len() > limit;
    rows.truncate(limit);
    let next_after = rows.last().filter(|_| more).map(key);
    Page { rows, next_after }
}

/// Which versions of a thing the caller has seen: it is changed only while it is at one of them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Seen {
    /// Whichever: it is changed as long as it is there.
    Any,
    /// One of these.
    These(Vec<i64>),
}

impl From<i64> for Seen {
    fn from(version: i64) -> Self {
        Seen::These(vec![version])
    }
}

/// Refuses a version that the caller did not see.
fn stale(kind: &'static str, id: &str, current: i64, seen: &Seen) -> Result<(), Error> {
    match seen {
        Seen::These(versions) if !versions.contains(&current) => Err(Error::Stale { kind, id: id.to_owned(), current }),
        _ => Ok(()),
    }
}

/// Why a thing could not be done. It knows no HTTP status.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// Nothing by that name.
    #[error("there is no {kind} '{id}'")]
    NotFound {
        /// What kind of thing.
        kind: &'static str,
        /// Its identifier.
        id: String,
    },
    /// Something by that name is there already.
    #[error("there is a {kind} '{id}' already")]
    AlreadyThere {
        /// What kind of thing.
        kind: &'static str,
        /// Its identifier.
        id: String,
    },
    /// The thing is at no version that the caller has seen: someone else changed it.
    #[error("the {kind} '{id}' is at version {current} now, which is none that was named: read it again")]
    Stale {
        /// What kind of thing.
        kind: &'static str,
        /// Its identifier.
        id: String,
        /// The version it has now.
        current: i64,
    },
    /// The move is not allowed in the state it is in.
    #[error("{0}")]
    NotAllowed(String),
    /// The quote is in a state in which this cannot be done with it.
    #[error("{told}")]
    WrongMove {
        /// What stands in the way, and what is allowed now.
        told: String,
        /// What can be done with the quote now.
        allowed: Vec<life::Step>,
    },
    /// A draft is no longer what it was when it was calculated, so that it cannot be issued as it was seen.
    #[error("{told}")]
    Moved {
        /// What moved, and what to do.
        told: String,
        /// The draft against what it would be now; absent when it can no longer be calculated.
        difference: Option<Box<Difference>>,
    },
    /// Gaps stand that nothing was decided about.
    #[error("{} gap(s) stand: settle each with a line of its own or an exclusion, and issue what then stands", .0.len())]
    GapsStand(Vec<Gap>),
    /// The client's key was used for another request already.
    #[error("the Idempotency-Key came with another request before")]
    KeyReused,
    /// It was done before, but its answer held a secret and was not kept.
    #[error("this was done before, and its answer, which held a secret, is shown only once")]
    ShownOnce {
        /// Address of what was made then.
        location: Option<String>,
    },
    /// What was sent cannot be read or makes no sense; all faults are listed.
    #[error("{} fault(s) in what was sent", .0.len())]
    Faults(Vec<Fault>),
    /// No secret could be made.
    #[error("no secret could be made")]
    Randomness(#[from] keys::NoRandomness),
    /// The store failed.
    #[error("the database could not do it")]
    Store(#[from] store::Error),
}
