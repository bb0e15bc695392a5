//! Moves of quotes from state to state: only ever added to.

use chrono::{DateTime, Utc};
use sea_orm::ActiveValue::Set;
use sea_orm::{ColumnTrait, EntityTrait, QueryFilter, QueryOrder};
use uuid::Uuid;

use super::entities::moves;
use super::quote_state::QuoteState;
use super::quotes::kept_options;
use super::{Access, Error, Write, choices};
use crate::calc::units::Name;

/// One move of a quote.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Move {
    /// The quote.
    pub quote: Uuid,
    /// Version that the quote had from then on.
    pub version: i64,
    /// State that it left.
    pub from: QuoteState,
    /// State that it came to.
    pub to: QuoteState,
    /// When.
    pub at: DateTime<Utc>,
    /// Name of the key that moved it, `command line`, or `customer link`; absent when nobody did: its last day was over.
    pub by: Option<String>,
    /// What whoever moved it had to say.
    pub remark: Option<String>,
    /// The revision that stands in its place, when it was superseded.
    pub superseded_by: Option<Uuid>,
    /// The options that the customer chose, when it was accepted.
    pub options: Vec<Name>,
    /// Name that the customer typed, when he moved it by his link.
    pub signed_name: Option<String>,
}

fn move_of(row: moves::Model) -> Result<Move, Error> {
    let state = |text: &str, column| {
        text.parse().map_err(|cause: super::quotes::NotAQuoteState| Error::BrokenRow {
            table: "moves",
            row: format!("{} {}", row.quote, row.version),
            column,
            reason: cause.to_string(),
        })
    };
    Ok(Move {
        from: state(&row.from_state, "from_state")?,
        to: state(&row.to_state, "to_state")?,
        quote: row.quote,
        version: row.version,
        at: row.at,
        by: row.moved_by,
        remark: row.remark,
        superseded_by: row.superseded_by,
        options: row.options.as_deref().map(choices::options).unwrap_or_default(),
        signed_name: row.signed_name,
    })
}

/// Adds a move.
///
/// # Errors
/// When the database fails.
pub async fn insert(write: &Write, made: Move) -> Result<(), Error> {
    let Move { quote, version, from, to, at, by, remark, superseded_by, options, signed_name } = made;
    let row = moves::ActiveModel {
        quote: Set(quote),
        version: Set(version),
        from_state: Set(from.as_str().to_owned()),
        to_state: Set(to.as_str().to_owned()),
        at: Set(at),
        moved_by: Set(by),
        remark: Set(remark),
        superseded_by: Set(superseded_by),
        options: Set(kept_options(&options)),
        signed_name: Set(signed_name),
    };
    moves::Entity::insert(row).exec_without_returning(&write.0).await?;
    Ok(())
}

/// The moves of a quote in their order.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn of_quote(at: &impl Access, quote: Uuid) -> Result<Vec<Move>, Error> {
    let query = moves::Entity::find().filter(moves::Column::Quote.eq(quote)).order_by_asc(moves::Column::Version);
    query.all(at.connection()).await?.into_iter().map(move_of).collect()
}
