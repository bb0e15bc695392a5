//! Who may do what: roles, and the principal in whose name a request is done.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

/// What a key is for. A key has one role.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Quotes customers: sees prices, never cost.
    FrontDesk,
    /// Sets prices, labour and allowances, sees margin, makes keys.
    Owner,
    /// Takes lists to the boat and overrules what he knows better.
    Rigger,
    /// The shop's inventory system: items, costs, stock and demand.
    Inventory,
    /// Reads quotes and the catalogue without cost; changes nothing.
    Reader,
}

impl Role {
    /// All roles.
    pub const ALL: [Role; 5] = [Role::FrontDesk, Role::Owner, Role::Rigger, Role::Inventory, Role::Reader];

    /// The role's word, as JSON, the command line and the database have it.
    pub const fn as_str(self) -> &'static str {
        match self {
            Role::FrontDesk => "front_desk",
            Role::Owner => "owner",
            Role::Rigger => "rigger",
            Role::Inventory => "inventory",
            Role::Reader => "reader",
        }
    }
}

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

/// A word that is no role.
#[derive(Debug, thiserror::Error)]
#[error("'{0}' is no role: expected front_desk, owner, rigger, inventory or reader")]
pub struct NotARole(String);

impl FromStr for Role {
    type Err = NotARole;

    fn from_str(text: &str) -> Result<Self, NotARole> {
        Role::ALL.into_iter().find(|role| role.as_str() == text).ok_or_else(|| NotARole(text.to_owned()))
    }
}

/// In whose name something is done: the key that a request came with, or the command line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Principal {
    /// Identifier of the key.
    pub key: Uuid,
    /// Name that the owner gave the key: who or what uses it.
    pub name: String,
    /// Its role.
    pub role: Role,
}

/// The name under which the command line writes; no key may have it.
pub const COMMAND_LINE: &str = "command line";

/// The name under which stands what a customer did by the link that he was sent; no key may have it.
pub const CUSTOMER_LINK: &str = "customer link";

/// The name under which stands what telling targets of events brought about; no key may have it.
pub const DELIVERY: &str = "webhook delivery";

impl Principal {
    /// Whoever runs a command on the machine itself: there the file system is what guards the shop.
    pub fn command_line() -> Self {
        Principal { key: Uuid::nil(), name: COMMAND_LINE.to_owned(), role: Role::Owner }
    }

    /// Whoever came by a customer's link. He has no role: a link opens one quote, and no operation looks at what he is;
    /// the least of them stands here.
    pub fn customer(link: Uuid) -> Self {
        Principal { key: link, name: CUSTOMER_LINK.to_owned(), role: Role::Reader }
    }
}
