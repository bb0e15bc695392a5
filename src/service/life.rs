//! The life of a quote after it was made: what can be done with it in which state, and every move that it made.
//!
//! | state | what can be done |
//! | --- | --- |
//! | draft | replace, delete, issue |
//! | issued | accept, decline, withdraw, revise; it lapses when its last day is over |
//! | declined, lapsed, withdrawn | revise |
//! | accepted, superseded | nothing |
//!
//! A quote lapses by the time alone. Whoever reads it after its last day sees it lapsed, whether or not that has been
//! written: what it will be is known by then to the last bit. It is written by whoever moves it next, or by
//! [`Service::lapse_due`], once, however many instances find it due.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::checks::{Checks, none};
use super::choices::{chosen, no_choice};
use super::events::{PartDemand, demand};
use super::once::{Made, Once};
use super::quotes::{ATTEMPTS, QuoteState, QuoteSummary, WORDS, not_found};
use super::{Error, Seen, Service, Stored, stale};
use crate::calc::difference::{Difference, difference};
use crate::calc::units::Name;
use crate::store::quotes::DocumentKind;
use crate::store::{self, Write};

pub use crate::store::moves::Move;

/// Quotes that are found due at once.
const DUE_AT_ONCE: u64 = 100;

/// What can be done with a quote. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Step {
    /// Calculate a draft anew.
    Replace,
    /// Delete a draft.
    Delete,
    /// Send it out as it stands, under a number.
    Issue,
    /// The customer says yes.
    Accept,
    /// The customer says no.
    Decline,
    /// The shop takes it back.
    Withdraw,
    /// Begin a revision of it.
    Revise,
}

impl Step {
    /// As JSON has it.
    pub const fn as_str(self) -> &'static str {
        match self {
            Step::Replace => "replace",
            Step::Delete => "delete",
            Step::Issue => "issue",
            Step::Accept => "accept",
            Step::Decline => "decline",
            Step::Withdraw => "withdraw",
            Step::Revise => "revise",
        }
    }

    const fn done(self) -> &'static str {
        match self {
            Step::Replace => "replaced",
            Step::Delete => "deleted",
            Step::Issue => "issued",
            Step::Accept => "accepted",
            Step::Decline => "declined",
            Step::Withdraw => "withdrawn",
            Step::Revise => "revised",
        }
    }
}

/// What can be done with a quote in a state.
pub const fn allowed(state: QuoteState) -> &'static [Step] {
    match state {
        QuoteState::Draft => &[Step::Replace, Step::Delete, Step::Issue],
        QuoteState::Issued => &[Step::Accept, Step::Decline, Step::Withdraw, Step::Revise],
        QuoteState::Declined | QuoteState::Lapsed | QuoteState::Withdrawn => &[Step::Revise],
        QuoteState::Accepted | QuoteState::Superseded => &[],
    }
}

/// What goes with a move.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MoveRequest {
    /// Why, or what was said; it is kept with the move.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 500, example = "By telephone, Mrs Calder")]
    pub remark: Option<String>,
}

/// What goes with the customer's yes.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AcceptRequest {
    /// What was said; it is kept with the move.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 500, example = "By telephone, Mrs Calder")]
    pub remark: Option<String>,
    /// Identifiers of the options that the customer chose; none unless stated.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>, max_items = 4, example = json!(["radar"]))]
    pub options: Vec<Name>,
}

impl From<MoveRequest> for AcceptRequest {
    fn from(MoveRequest { remark }: MoveRequest) -> Self {
        AcceptRequest { remark, options: Vec::new() }
    }
}

impl MoveRequest {
    pub(super) fn checked(self) -> Result<Option<String>, Error> {
        let mut checks = Checks::default();
        if let Some(remark) = &self.remark {
            checks.text("/remark", remark, 500);
        }
        none(checks.faults())?;
        Ok(self.remark)
    }
}

/// What goes with a move, as it is kept.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Said {
    /// Why, or what was said.
    pub(super) remark: Option<String>,
    /// Name that the customer typed.
    pub(super) signed_name: Option<String>,
    /// Options that he chose.
    pub(super) options: Vec<Name>,
}

impl Said {
    /// What whoever uses a key had to say.
    pub(super) fn remark(remark: Option<String>) -> Self {
        Said { remark, ..Said::default() }
    }
}

/// Whether an issued quote's last day is over.
fn is_over(quote: &Stored<QuoteSummary>, now: DateTime<Utc>) -> bool {
    quote.value.state == QuoteState::Issued && quote.value.lapses_at.is_some_and(|lapses_at| lapses_at <= now)
}

/// A quote as it is at a time: one whose last day is over has lapsed at the end of that day, and nobody did it.
pub(super) fn as_of(quote: Stored<QuoteSummary>, now: DateTime<Utc>) -> Stored<QuoteSummary> {
    match quote.value.lapses_at {
        Some(lapses_at) if is_over(&quote, now) => {
            let value = QuoteSummary { state: QuoteState::Lapsed, ..quote.value };
            Stored { value, version: quote.version + 1, updated_at: lapses_at, changed_by: None }
        }
        _ => quote,
    }
}

pub(super) fn wrong_move(id: Uuid, met: &str, allowed: &[Step]) -> Error {
    let words: Vec<&str> = allowed.iter().map(|step| step.as_str()).collect();
    let now = if words.is_empty() {
        "nothing more can be done with it: make a new quote".to_owned()
    } else {
        format!("what can be done now: {}", words.join(", "))
    };
    Error::WrongMove { told: format!("the quote '{id}' {met}; {now}"), allowed: allowed.to_vec() }
}

/// Refuses what cannot be done in the state that a quote is in, and a version that the caller did not see.
pub(super) fn permitted(quote: &Stored<QuoteSummary>, seen: &Seen, step: Step) -> Result<(), Error> {
    let (id, state) = (quote.value.id, quote.value.state);
    stale(WORDS, &id.to_string(), quote.version, seen)?;
    let allowed = allowed(state);
    if allowed.contains(&step) {
        return Ok(());
    }
    Err(wrong_move(id, &format!("is {state} and cannot be {}", step.done()), allowed))
}

/// Writes that a quote moved on from a state, with its move. `false` when it was no longer there.
pub(super) async fn advance(
    write: &Write,
    quote: &Stored<QuoteSummary>,
    from: QuoteState,
    said: Said,
    superseded_by: Option<Uuid>,
) -> Result<bool, Error> {
    if !store::quotes::advance(write, quote, from).await? {
        return Ok(false);
    }
    keep_move(write, quote, from, said, superseded_by).await?;
    Ok(true)
}

/// Writes the move that brought a quote to where it is.
pub(super) async fn keep_move(
    write: &Write,
    quote: &Stored<QuoteSummary>,
    from: QuoteState,
    said: Said,
    superseded_by: Option<Uuid>,
) -> Result<(), Error> {
    // What was chosen stands with the quote.
    let Said { remark, signed_name, options: _ } = said;
    let made = Move {
        quote: quote.value.id,
        version: quote.version,
        from,
        to: quote.value.state,
        at: quote.updated_at,
        by: quote.changed_by.clone(),
        remark,
        superseded_by,
        options: quote.value.accepted_options.clone(),
        signed_name,
    };
    Ok(store::moves::insert(write, made).await?)
}

impl Service {
    /// A quote as it stands in the database, in which it is written by now when it has lapsed.
    pub(super) async fn current(&self, id: Uuid) -> Result<Stored<QuoteSummary>, Error> {
        let read = async || store::quotes::read(&self.store, id).await?.ok_or_else(|| not_found(id));
        let found = read().await?;
        if !is_over(&found, self.clock.now()) {
            return Ok(found);
        }
        self.lapse(&found).await?;
        read().await
    }

    /// Writes that a quote has lapsed. `false` when someone else has moved it.
    async fn lapse(&self, issued: &Stored<QuoteSummary>) -> Result<bool, Error> {
        let lapsed = as_of(issued.clone(), self.clock.now());
        let on_shelf = self.on_shelf(&lapsed, QuoteState::Lapsed, None).await?;
        let write = self.store.write().await?;
        if !advance(&write, &lapsed, QuoteState::Issued, Said::default(), None).await? {
            return Ok(false);
        }
        let of_shelf = self.change_shelf(&write, &on_shelf, &lapsed, true).await?.unwrap_or_default();
        let told = std::iter::once(self.quote_event(&lapsed, None, Vec::new())?).chain(of_shelf);
        store::events::append(&write, told).await?;
        write.commit().await?;
        Ok(true)
    }

    /// Writes of all quotes whose last day is over that they have lapsed. How many those were; what another instance
    /// wrote is not among them.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn lapse_due(&self) -> Result<u64, Error> {
        let mut lapsed = 0;
        loop {
            let due = store::quotes::due(&self.store, self.clock.now(), DUE_AT_ONCE).await?;
            for issued in &due {
                lapsed += u64::from(self.lapse(issued).await?);
            }
            if due.len() < usize::try_from(DUE_AT_ONCE).unwrap_or(usize::MAX) {
                return Ok(lapsed);
            }
        }
    }

    /// Notes that the customer accepted an issued quote with the options that he chose, once. From then on its totals are
    /// those of that choice.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Stale`] when it is at no version that was `seen`; [`Error::WrongMove`] unless it is
    /// issued; [`Error::Faults`], also when it has no such option; [`Error::KeyReused`]; [`Error::Store`].
    pub async fn accept_quote(
        &self,
        id: Uuid,
        request: impl Into<AcceptRequest>,
        seen: impl Into<Seen>,
        once: Once<'_, Stored<QuoteSummary>>,
    ) -> Result<Made<Stored<QuoteSummary>>, Error> {
        let AcceptRequest { remark, options } = request.into();
        let said = Said { options, ..Said::remark(MoveRequest { remark }.checked()?) };
        self.move_on(id, Step::Accept, QuoteState::Accepted, said, seen.into(), once).await
    }

    /// Notes that the customer declined an issued quote, once.
    ///
    /// # Errors
    /// As [`Service::accept_quote`].
    pub async fn decline_quote(
        &self,
        id: Uuid,
        request: MoveRequest,
        seen: impl Into<Seen>,
        once: Once<'_, Stored<QuoteSummary>>,
    ) -> Result<Made<Stored<QuoteSummary>>, Error> {
        let said = Said::remark(request.checked()?);
        self.move_on(id, Step::Decline, QuoteState::Declined, said, seen.into(), once).await
    }

    /// Takes an issued quote back, once.
    ///
    /// # Errors
    /// As [`Service::accept_quote`].
    pub async fn withdraw_quote(
        &self,
        id: Uuid,
        request: MoveRequest,
        seen: impl Into<Seen>,
        once: Once<'_, Stored<QuoteSummary>>,
    ) -> Result<Made<Stored<QuoteSummary>>, Error> {
        let said = Said::remark(request.checked()?);
        self.move_on(id, Step::Withdraw, QuoteState::Withdrawn, said, seen.into(), once).await
    }

    /// Moves a quote on from whatever state it is in, if it can, with what was said; in the name of the principal.
    pub(super) async fn move_on(
        &self,
        id: Uuid,
        step: Step,
        to: QuoteState,
        said: Said,
        seen: Seen,
        once: Once<'_, Stored<QuoteSummary>>,
    ) -> Result<Made<Stored<QuoteSummary>>, Error> {
        let work = async {
            for attempt in 1..=ATTEMPTS {
                let before = self.current(id).await?;
                permitted(&before, &seen, step)?;
                let from = before.value.state;
                let (moved, demand) = match step {
                    Step::Accept => self.with_options(before.value, &said.options).await?,
                    _ => (before.value, Vec::new()),
                };
                let before = Stored { value: moved, ..before };
                let on_shelf = self.on_shelf(&before, to, None).await?;
                let write = self.store.write().await?;
                // The clock is looked at when nothing is left to wait for: a move never stands before the end of the last
                // day and comes after it.
                let after = self.written_now(QuoteSummary { state: to, ..before.value }, before.version + 1);
                if let Some(answer) = once.claim(&write, &after, after.updated_at).await? {
                    return Ok(Made::Before(answer));
                }
                if advance(&write, &after, from, said.clone(), None).await?
                    && let Some(of_shelf) = self.change_shelf(&write, &on_shelf, &after, attempt == ATTEMPTS).await?
                {
                    let told = std::iter::once(self.quote_event(&after, None, demand)?).chain(of_shelf);
                    store::events::append(&write, told).await?;
                    write.commit().await?;
                    return Ok(Made::Now(after));
                }
                // Someone else was first: reading it again tells what they did.
            }
            Err(store::Error::Overtaken.into())
        };
        let outcome = work.await;
        once.or_before(self, outcome).await
    }

    /// A quote as it is with the options that are named, and what it then takes; both were frozen with it.
    async fn with_options(
        &self,
        quote: QuoteSummary,
        named: &[Name],
    ) -> Result<(QuoteSummary, Vec<PartDemand>), Error> {
        let id = quote.id;
        let accepted_options =
            if named.is_empty() { Vec::new() } else { chosen(&self.quote_request(id).await?.value, named)? };
        let costing = self.choice_document(id, &accepted_options, DocumentKind::Costing).await?;
        let demand = demand(id, &costing)?;
        if accepted_options.is_empty() {
            return Ok((quote, demand));
        }
        let choice = store::choices::read(&self.store, id, &accepted_options, quote.net.currency()).await?;
        let store::choices::Choice { net, tax, total, .. } = choice.ok_or_else(|| no_choice(id, &accepted_options))?;
        Ok((QuoteSummary { accepted_options, net, tax, total: Some(total), ..quote }, demand))
    }

    /// All moves of a quote in their order, as they are now, with the quote's version.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn quote_moves(&self, id: Uuid) -> Result<Stored<Vec<Move>>, Error> {
        let at = self.store.snapshot().await?;
        let found = store::quotes::read(&at, id).await?.ok_or_else(|| not_found(id))?;
        let mut moves = store::moves::of_quote(&at, id).await?;
        let now = self.clock.now();
        let over = is_over(&found, now);
        let quote = as_of(found, now);
        if over {
            moves.push(Move {
                quote: id,
                version: quote.version,
                from: QuoteState::Issued,
                to: quote.value.state,
                at: quote.updated_at,
                by: None,
                remark: None,
                superseded_by: None,
                options: Vec::new(),
                signed_name: None,
            });
        }
        Ok(quote.map(|_| moves))
    }

    /// What a quote promises differently from the one that it revises; nothing when it revises none. With the quote and
    /// its version.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn quote_changes(&self, id: Uuid) -> Result<Stored<(QuoteSummary, Option<Difference>)>, Error> {
        let at = self.store.snapshot().await?;
        let found = store::quotes::read(&at, id).await?.ok_or_else(|| not_found(id))?;
        let quote = as_of(found, self.clock.now());
        let changes = match quote.value.revises {
            None => None,
            Some(revised) => {
                let [before, after] = [document(&at, revised).await?, document(&at, id).await?];
                Some(difference(&before, &after).map_err(|cause| unreadable(id, &cause))?)
            }
        };
        Ok(quote.map(|summary| (summary, changes)))
    }
}

/// The document of a quote as a value.
async fn document(at: &impl store::Access, id: Uuid) -> Result<serde_json::Value, Error> {
    let kept = store::quotes::document(at, id, DocumentKind::Quote).await?;
    let kept = kept.ok_or_else(|| not_found(id))?;
    serde_json::from_slice(&kept.bytes).map_err(|cause| unreadable(id, &cause))
}

pub(super) fn unreadable(id: Uuid, cause: &serde_json::Error) -> Error {
    Error::Store(store::Error::BrokenRow {
        table: "documents",
        row: format!("of quote {id}"),
        column: "bytes",
        reason: cause.to_string(),
    })
}
