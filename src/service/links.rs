//! The link of a quote's customer: an address that opens the quote without a key, to read it and to answer it once.
//!
//! A quote has one link at most. It is made when the quote is issued, and can be revoked, or replaced by another, which
//! ends the one before. Its secret is in the answer that makes it, and nowhere else. What it shows was made from the
//! frozen document and is kept itself: the customer reads the same for as long as the link is open, whatever a later
//! edition of the program would write.

use chrono::{DateTime, Duration, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use subtle::Choice;
use utoipa::ToSchema;
use uuid::Uuid;

use super::access::Principal;
use super::checks::Checks;
use super::choices::chosen;
use super::keys::{Secret, hash_of_random};
use super::life::{Said, Step, allowed, as_of, wrong_move};
use super::once::{Made, Once};
use super::quotes::{ATTEMPTS, QuoteState, QuoteSummary, WORDS, broken, kept, not_found, written};
use super::{Error, Seen, Service, Stored, stale};
use crate::calc::customer::{CustomerDocument, Offer, SCHEMA_VERSION, customer_document};
use crate::calc::findings::Fault;
use crate::calc::units::Name;
use crate::clock::day_of;
use crate::store;
use crate::store::keys::SecretHash;
use crate::store::links::LinkRow;
use crate::store::quotes::{DocumentKind, NewDocument};

/// How long a link can be opened after the quote's last day, so that who accepted it can read what he agreed to.
const OUTLIVES: Duration = Duration::days(90);
/// Longest name that a customer types, characters.
pub const NAME_LENGTH_MAX: usize = 120;
/// Longest reason for declining, characters.
pub const REASON_LENGTH_MAX: usize = 500;

/// Whether a customer can open a quote. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LinkState {
    /// It has no link.
    None,
    /// He can.
    Open,
    /// Its time is over.
    Expired,
    /// The shop ended it.
    Revoked,
}

/// The customer's link of a quote: everything but its secret.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct QuoteLink {
    /// Whether the customer can open it.
    pub state: LinkState,
    /// Identifier: it stands in the address before the secret. Absent without a link, as are the others.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<Uuid>,
    /// When it was made.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub made_at: Option<DateTime<Utc>>,
    /// Name of the key that made it, or `command line`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub made_by: Option<String>,
    /// When it ends by itself: 90 days after the quote's last day, or after it was made if that is later.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expires_at: Option<DateTime<Utc>>,
    /// When it was revoked; absent while it is not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub revoked_at: Option<DateTime<Utc>>,
}

/// What is asked for with a new link.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LinkRequest {}

/// A link that was made just now, with its secret.
#[derive(Clone, Debug)]
pub struct NewLink {
    /// The link.
    pub link: QuoteLink,
    /// Its identifier.
    pub id: Uuid,
    /// Its secret: to be shown once, and never kept or logged.
    pub secret: Secret,
}

/// A quote that was issued just now, with its customer's link.
#[derive(Clone, Debug)]
pub struct Issued {
    /// The quote.
    pub quote: Stored<QuoteSummary>,
    /// The link.
    pub link: NewLink,
}

/// An issued quote as its customer finds it.
#[derive(Clone, Debug, PartialEq)]
pub struct Opened {
    /// The link that opened it.
    pub link: Uuid,
    /// The quote.
    pub quote: Uuid,
    /// Its version.
    pub version: i64,
    /// Where it is in its life.
    pub state: QuoteState,
    /// What the customer reads: with the options that he named, or accepted.
    pub document: CustomerDocument,
    /// What he may add to the quote as it stands without options.
    pub offers: Vec<Offer>,
    /// Identifiers of the options that are in the document.
    pub chosen: Vec<Name>,
    /// How it was answered, when it was.
    pub answered: Option<Answered>,
}

/// How a quote was answered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answered {
    /// Day on which it was, where the shop is.
    pub on: NaiveDate,
    /// Name that the customer typed; absent where the shop noted the answer.
    pub by: Option<String>,
}

/// What a customer says to a quote.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum CustomerAnswer {
    /// Yes.
    Accept {
        /// His name, as he typed it.
        name: String,
        /// Identifiers of the options that he chose.
        options: Vec<Name>,
    },
    /// No.
    Decline {
        /// Why, if he says so.
        reason: String,
    },
}

impl CustomerAnswer {
    const fn step(&self) -> (Step, QuoteState) {
        match self {
            CustomerAnswer::Accept { .. } => (Step::Accept, QuoteState::Accepted),
            CustomerAnswer::Decline { .. } => (Step::Decline, QuoteState::Declined),
        }
    }

    /// What is kept of it, spaces and line breaks made even.
    fn said(&self) -> Result<Said, Vec<Fault>> {
        let even = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        let mut checks = Checks::default();
        let mut check = |pointer: &str, text: &str, longest: usize, what: &str| {
            let length = text.chars().count();
            checks.must(length <= longest, pointer, || {
                format!("{what} has {length} characters, and at most {longest} can be kept. Please make it shorter.")
            });
            checks.must(!text.chars().any(char::is_control), pointer, || {
                format!("{what} holds a character that cannot be kept. Please type it anew.")
            });
        };
        let said = match self {
            CustomerAnswer::Accept { name, options } => {
                let name = even(name);
                check("/name", &name, NAME_LENGTH_MAX, "This name");
                checks.must(!name.is_empty(), "/name", || "Please type your name to accept.".to_owned());
                Said { signed_name: Some(name), remark: None, options: options.clone() }
            }
            CustomerAnswer::Decline { reason } => {
                let reason = even(reason);
                check("/reason", &reason, REASON_LENGTH_MAX, "This reason");
                Said::remark(Some(reason).filter(|reason| !reason.is_empty()))
            }
        };
        let faults = checks.faults();
        if faults.is_empty() { Ok(said) } else { Err(faults) }
    }
}

/// Whether a customer can open a link at a time.
fn state_of(row: &LinkRow, now: DateTime<Utc>) -> LinkState {
    match row.revoked_at {
        Some(_) => LinkState::Revoked,
        None if row.expires_at <= now => LinkState::Expired,
        None => LinkState::Open,
    }
}

fn link_of(row: Option<&LinkRow>, now: DateTime<Utc>) -> QuoteLink {
    QuoteLink {
        state: row.map_or(LinkState::None, |row| state_of(row, now)),
        id: row.map(|row| row.id),
        made_at: row.map(|row| row.made_at),
        made_by: row.map(|row| row.made_by.clone()),
        expires_at: row.map(|row| row.expires_at),
        revoked_at: row.and_then(|row| row.revoked_at),
    }
}

/// The customer's document of an issued quote, from its own.
pub(super) fn customer_copy(document: &[u8]) -> Result<NewDocument, Error> {
    let copy = customer_document(document).map_err(|cause| broken("documents", "bytes", &cause.to_string()))?;
    Ok(kept(DocumentKind::Customer, SCHEMA_VERSION, written(&copy)?))
}

/// A link that is about to be kept, with what is told of it once.
pub(super) struct Fresh {
    pub(super) row: LinkRow,
    pub(super) told: NewLink,
}

impl Service {
    /// A new link of an issued quote, which shows a document; to be kept at the time that the quote is written.
    pub(super) fn fresh_link(&self, quote: &Stored<QuoteSummary>, document_hash: &str) -> Result<Fresh, Error> {
        let (secret, hash) = Secret::random()?;
        let now = quote.updated_at;
        let ends = quote.value.lapses_at.unwrap_or(now).max(now).checked_add_signed(OUTLIVES);
        let row = LinkRow {
            quote: quote.value.id,
            id: self.clock.new_id(),
            hash,
            document_hash: document_hash.to_owned(),
            made_at: now,
            made_by: self.principal().name.clone(),
            expires_at: ends.ok_or_else(|| broken("quotes", "lapses_at", "the time has no end"))?,
            revoked_at: None,
        };
        let told = NewLink { link: link_of(Some(&row), now), id: row.id, secret };
        Ok(Fresh { row, told })
    }

    /// The customer's link of a quote, with the quote's version.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn quote_link(&self, id: Uuid) -> Result<Stored<QuoteLink>, Error> {
        let at = self.store.snapshot().await?;
        let quote = store::quotes::read(&at, id).await?.ok_or_else(|| not_found(id))?;
        let row = store::links::of_quote(&at, id).await?;
        let now = self.clock.now();
        Ok(as_of(quote, now).map(|_| link_of(row.as_ref(), now)))
    }

    /// Gives a quote that was issued a new link, once; one that it had ends. With the quote's version, which it changes.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Stale`] when the quote is at no version that was `seen`; [`Error::WrongMove`] for a
    /// draft, and for a quote that another has superseded; [`Error::KeyReused`]; [`Error::ShownOnce`];
    /// [`Error::Randomness`]; [`Error::Store`].
    pub async fn make_link(
        &self,
        id: Uuid,
        _: LinkRequest,
        seen: impl Into<Seen>,
        once: Once<'_, Stored<NewLink>>,
    ) -> Result<Made<Stored<NewLink>>, Error> {
        let seen = seen.into();
        let work = async {
            for _ in 0..ATTEMPTS {
                let before = self.current(id).await?;
                stale(WORDS, &id.to_string(), before.version, &seen)?;
                let state = before.value.state;
                if matches!(state, QuoteState::Draft | QuoteState::Superseded) {
                    let met = format!("is {state} and has nothing to show to a customer");
                    return Err(wrong_move(id, &met, allowed(state)));
                }
                let document = match store::quotes::document(&self.store, id, DocumentKind::Customer).await? {
                    Some(kept) => NewDocument {
                        kind: DocumentKind::Customer,
                        schema_version: SCHEMA_VERSION,
                        engine_edition: crate::calc::quote::ENGINE_EDITION,
                        document: kept,
                    },
                    // It was issued before there were links.
                    None => customer_copy(&self.quote_document(id).await?.bytes)?,
                };
                let write = self.store.write().await?;
                let after = self.written_now(before.value.clone(), before.version + 1);
                let Fresh { row, told } = self.fresh_link(&after, &document.document.hash)?;
                let at = after.updated_at;
                let made = after.clone().map(|_| told);
                if let Some(answer) = once.claim(&write, &made, at).await? {
                    return Ok(Made::Before(answer));
                }
                // Someone else may have been first: reading it again tells what they did.
                if store::quotes::advance(&write, &after, state).await? {
                    store::quotes::keep(&write, &[document]).await?;
                    store::links::put(&write, &row).await?;
                    write.commit().await?;
                    return Ok(Made::Now(made));
                }
            }
            Err(store::Error::Overtaken.into())
        };
        let outcome = work.await;
        once.or_before(self, outcome).await
    }

    /// Ends the link of a quote: nobody can open it any more. One that has ended stays as it is. With the quote's version,
    /// which it changes.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::NotAllowed`] for a quote without a link; [`Error::Stale`]; [`Error::Store`].
    pub async fn revoke_link(&self, id: Uuid, seen: impl Into<Seen>) -> Result<Stored<QuoteLink>, Error> {
        let seen = seen.into();
        for _ in 0..ATTEMPTS {
            let before = self.current(id).await?;
            stale(WORDS, &id.to_string(), before.version, &seen)?;
            let row = store::links::of_quote(&self.store, id).await?;
            let row =
                row.ok_or_else(|| Error::NotAllowed(format!("the quote '{id}' has no link that could be revoked")))?;
            if row.revoked_at.is_some() {
                return Ok(before.map(|_| link_of(Some(&row), self.clock.now())));
            }
            let write = self.store.write().await?;
            let state = before.value.state;
            let after = self.written_now(before.value, before.version + 1);
            if store::quotes::advance(&write, &after, state).await? {
                let at = after.updated_at;
                store::links::revoke(&write, id, at).await?;
                write.commit().await?;
                let row = LinkRow { revoked_at: Some(at), ..row };
                return Ok(after.map(|_| link_of(Some(&row), at)));
            }
        }
        Err(store::Error::Overtaken.into())
    }

    /// What a link opens: the quote with the options that are named, while it can be answered. `None` for a link that is
    /// unknown, revoked or over, and for a secret that is wrong: which of these is not told.
    ///
    /// # Errors
    /// [`Error::Faults`] for options that cannot be chosen, with pointers below `/options`; [`Error::Store`].
    pub async fn open_link(&self, link: Uuid, secret: &str, named: &[Name]) -> Result<Option<Opened>, Error> {
        let at = self.store.snapshot().await?;
        let now = self.clock.now();
        let row = store::links::read(&at, link).await?;
        // A link that nobody has is compared too, and so is a secret of no possible form.
        let nobody = SecretHash::new([0; 32]);
        let (hash, formed) = hash_of_random(secret).map_or((nobody, 0), |hash| (hash, 1));
        let right = row.as_ref().map_or(nobody, |row| row.hash).same(&hash) & Choice::from(formed);
        let opened = row.filter(|row| bool::from(right) && state_of(row, now) == LinkState::Open);
        let Some(row) = opened else { return Ok(None) };
        let id = row.quote;
        let quote = store::quotes::read(&at, id).await?.ok_or_else(|| not_found(id))?;
        let quote = as_of(quote, now);
        let state = quote.value.state;
        let answers = matches!(state, QuoteState::Accepted | QuoteState::Declined);
        let moves = if answers { store::moves::of_quote(&at, id).await? } else { Vec::new() };
        drop(at);
        // What is read from here on was frozen when the quote was issued.
        let chosen = match state {
            QuoteState::Accepted => quote.value.accepted_options.clone(),
            QuoteState::Issued if !named.is_empty() => chosen(&self.quote_request(id).await?.value, named)?,
            _ => Vec::new(),
        };
        let plain = self.customer_document(id, &[]).await?;
        let offers = plain.options.clone();
        let document = if chosen.is_empty() { plain } else { self.customer_document(id, &chosen).await? };
        let mut answered = None;
        if answers {
            let (_, shop) = self.shop().await?;
            answered = moves.into_iter().rev().find(|made| made.to == state).and_then(|made| {
                Some(Answered { on: day_of(&shop.settings.time_zone, made.at)?, by: made.signed_name })
            });
        }
        Ok(Some(Opened { link, quote: id, version: quote.version, state, document, offers, chosen, answered }))
    }

    /// What the customer reads of an issued quote with some of its options.
    async fn customer_document(&self, id: Uuid, options: &[Name]) -> Result<CustomerDocument, Error> {
        let kind = DocumentKind::Customer;
        let kept = if options.is_empty() {
            store::quotes::document(&self.store, id, kind).await?
        } else {
            store::choices::document(&self.store, id, options, kind).await?
        };
        let kept = match kept {
            Some(kept) => kept,
            // It was issued before there were links.
            None => customer_copy(&self.choice_document(id, options, DocumentKind::Quote).await?.bytes)?.document,
        };
        serde_json::from_slice(&kept.bytes).map_err(|cause| super::life::unreadable(id, &cause))
    }

    /// Does what a customer answers by his link, once, and tells how the quote then stands. `None` as
    /// [`Service::open_link`] has it.
    ///
    /// # Errors
    /// [`Error::WrongMove`] when it was answered before, has lapsed or was taken back; [`Error::Faults`] with pointers to
    /// `/name`, `/reason` and below `/options`; [`Error::Store`].
    pub async fn answer_link(
        &self,
        link: Uuid,
        secret: &str,
        answer: &CustomerAnswer,
    ) -> Result<Option<Opened>, Error> {
        let (step, to) = answer.step();
        let customer = self.by(Principal::customer(link));
        for _ in 0..ATTEMPTS {
            let Some(opened) = self.open_link(link, secret, &[]).await? else { return Ok(None) };
            // Whoever comes too late is told so, whatever he typed.
            let said = match answer.said() {
                Err(faults) if opened.state == QuoteState::Issued => return Err(Error::Faults(faults)),
                other => other.unwrap_or_default(),
            };
            // Every change of the link is a new version of the quote: what was opened is still open when it is written.
            match customer.move_on(opened.quote, step, to, said, opened.version.into(), Once::unclaimed()).await {
                Err(Error::Stale { .. }) => {}
                Err(other) => return Err(other),
                Ok(_) => return self.open_link(link, secret, &[]).await,
            }
        }
        Err(store::Error::Overtaken.into())
    }
}
