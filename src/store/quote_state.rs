//! Where a quote can be in its life.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Where a quote is in its life. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum QuoteState {
    /// Being worked on: it can still be replaced and deleted.
    Draft,
    /// Sent to the customer: it stands as it is.
    Issued,
    /// The customer said yes.
    Accepted,
    /// The customer said no.
    Declined,
    /// Its last day went by unanswered.
    Lapsed,
    /// The shop took it back.
    Withdrawn,
    /// A later revision stands in its place.
    Superseded,
}

impl QuoteState {
    /// All states, in the order of a quote's life.
    pub const ALL: [QuoteState; 7] = [
        QuoteState::Draft,
        QuoteState::Issued,
        QuoteState::Accepted,
        QuoteState::Declined,
        QuoteState::Lapsed,
        QuoteState::Withdrawn,
        QuoteState::Superseded,
    ];

    /// As it is written in JSON.
    pub const fn as_str(self) -> &'static str {
        match self {
            QuoteState::Draft => "draft",
            QuoteState::Issued => "issued",
            QuoteState::Accepted => "accepted",
            QuoteState::Declined => "declined",
            QuoteState::Lapsed => "lapsed",
            QuoteState::Withdrawn => "withdrawn",
            QuoteState::Superseded => "superseded",
        }
    }
}

impl fmt::Display for QuoteState {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// A text that is no quote state.
#[derive(Debug, thiserror::Error)]
#[error("'{0}' is not a quote state: expected draft, issued, accepted, declined, lapsed, withdrawn or superseded")]
pub struct NotAQuoteState(String);

impl FromStr for QuoteState {
    type Err = NotAQuoteState;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let found = QuoteState::ALL.into_iter().find(|state| state.as_str() == text);
        found.ok_or_else(|| NotAQuoteState(text.to_owned()))
    }
}
