//! Issuing a quote, and beginning a revision of one that was issued.
//!
//! What is issued is what was seen. A draft is calculated once more with the shop as it stands, and frozen only when
//! that promises the same: otherwise whoever issues is told what moved. The number is taken in the write itself, so that
//! none is ever missing or there twice; only then is it put behind the documents, which are written down by then. With
//! the quote the documents of all its choices are frozen, so that any of them can be accepted as it was seen.

use chrono::Datelike;
use serde_json::Value;
use uuid::Uuid;

use super::access::Role;
use super::calculated::{Calculated, Identity};
use super::life::{MoveRequest, Said, Step, advance, keep_move, permitted, unreadable, wrong_move};
use super::links::{Fresh, Issued};
use super::numbering::{Waiting, numbered_copy};
use super::once::{Made, Once};
use super::quotes::{ATTEMPTS, QuoteRequest, QuoteState, QuoteSummary, broken, not_found, request_of};
use super::{Error, Seen, Service, Stored};
use crate::calc::difference::{difference, same_promise};
use crate::calc::findings::Fault;
use crate::calc::quote::IssueFacts;
use crate::clock::end_of_day;
use crate::store;
use crate::store::choices;
use crate::store::quotes::NewDocument;

/// How often issuing is begun anew when the shop or the draft moved meanwhile: unlike a draft, which can be calculated
/// again, what is issued must be priced by the shop as it stands then, also while another system changes item after item.
const ISSUE_ATTEMPTS: u32 = 50;

/// Most faults that a refusal tells in its sentence.
const TOLD_MAX: usize = 5;

/// The counter of a year's numbers.
fn counter(year: i32) -> String {
    format!("quote_number/{year}")
}

/// A draft that is ready to be issued, but for its number.
struct Ready {
    draft: Stored<QuoteSummary>,
    /// The quote that it revises.
    forerunner: Option<Stored<QuoteSummary>>,
    calculated: Calculated,
    /// The documents of each of its choices.
    waiting: Vec<Waiting>,
    lapses_at: chrono::DateTime<chrono::Utc>,
}

/// What is written when a quote is issued.
struct Numbered {
    quote: Stored<QuoteSummary>,
    /// Those of the quote without options, then those of the choices.
    documents: Vec<NewDocument>,
    choices: Vec<choices::Choice>,
    /// Hash of what the customer reads, without options.
    copy_hash: String,
}

pub(super) fn no_longer(id: Uuid, faults: &[Fault]) -> Error {
    let mut told: Vec<String> =
        faults.iter().take(TOLD_MAX).map(|fault| format!("{}: {}", fault.pointer, fault.message)).collect();
    if let Some(more) = faults.len().checked_sub(TOLD_MAX).filter(|more| *more > 0) {
        told.push(format!("and {more} more"));
    }
    let told = format!(
        "with the shop as it stands now the quote '{id}' cannot be calculated any more ({}): mend its request, replace \
         the draft with it, and issue what then stands",
        told.join("; ")
    );
    Error::Moved { told, difference: None }
}

/// Refuses to issue what is no longer what was seen.
pub(super) fn unmoved(id: Uuid, seen: &[u8], calculated: &Calculated) -> Result<(), Error> {
    let seen: Value = serde_json::from_slice(seen).map_err(|cause| unreadable(id, &cause))?;
    let [now, _] = &calculated.kept;
    let now: Value = serde_json::from_slice(&now.document.bytes).map_err(|cause| unreadable(id, &cause))?;
    if same_promise(&seen, &now) {
        return Ok(());
    }
    let moved = difference(&seen, &now).map_err(|cause| unreadable(id, &cause))?;
    let what = if moved.total.before != moved.total.after || moved.currency_before != moved.currency {
        let (total, before) = (&moved.total, &moved.currency_before);
        format!("its price moved from {} {before} to {} {}", total.before, total.after, moved.currency)
    } else if moved.lines.is_empty() {
        format!("its price stands, but not all of what it promises ({})", moved.parts_changed.join(", "))
    } else {
        "its total stands, but not all of its lines".to_owned()
    };
    let told = format!(
        "since the quote '{id}' was calculated {what}: replace the draft with its own request, look it over, and issue \
         what then stands"
    );
    Err(Error::Moved { told, difference: Some(Box::new(moved)) })
}

/// Refuses to issue a revision of a quote that can no longer be revised.
fn revisable(draft: Uuid, forerunner: &QuoteSummary) -> Result<(), Error> {
    use QuoteState::{Declined, Issued, Lapsed, Withdrawn};
    match forerunner.state {
        Issued | Declined | Lapsed | Withdrawn => Ok(()),
        state => {
            let met = format!("revises the quote '{}', which is {state} by now, and cannot be issued", forerunner.id);
            Err(wrong_move(draft, &met, &[Step::Replace, Step::Delete]))
        }
    }
}

impl Ready {
    /// The quote as it is issued under a number, with the documents of all its choices.
    fn under(&self, number: String, issued_on: chrono::NaiveDate, service: &Service) -> Result<Numbered, Error> {
        let facts = IssueFacts { number: number.clone(), revision: self.draft.value.revision, issued_on };
        let (mut documents, mut kept) = (Vec::new(), Vec::new());
        for (choice, Waiting { document, costing, copy }) in self.calculated.choices.iter().zip(&self.waiting) {
            let document = document.under(&facts)?;
            let copy = numbered_copy(copy, &facts)?;
            let totals = &choice.quotation.document.totals;
            if !choice.options.is_empty() {
                kept.push(choices::Choice {
                    options: choice.options.clone(),
                    document_hash: document.document.hash.clone(),
                    costing_hash: costing.document.hash.clone(),
                    customer_hash: Some(copy.document.hash.clone()),
                    net: totals.net,
                    tax: totals.tax,
                    total: totals.total.ok_or_else(|| broken("choices", "total_minor", "a gap stands"))?,
                });
            }
            documents.extend([document, costing.clone(), copy]);
        }
        let identity = Identity { number: Some(number), ..Identity::of(self.draft.value.clone()) };
        let version = self.draft.version + 1;
        let quote = self.calculated.quote(identity, version, service.written_by_now()).map(|value| QuoteSummary {
            state: QuoteState::Issued,
            // The first choice is the one without options.
            document_hash: documents[0].document.hash.clone(),
            lapses_at: Some(self.lapses_at),
            ..value
        });
        let copy_hash = documents[2].document.hash.clone();
        Ok(Numbered { quote, documents, choices: kept, copy_hash })
    }
}

impl Service {
    /// Issues a draft, once: gives it a number, freezes its documents, makes its customer's link, and supersedes the quote
    /// that it revises.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Stale`] when it is at no version that was `seen`; [`Error::WrongMove`] when it is no
    /// draft, or when its days are over or the quote that it revises can no longer be revised; [`Error::Moved`] when it
    /// is no longer what it was; [`Error::GapsStand`]; [`Error::Faults`]; [`Error::KeyReused`]; [`Error::Store`].
    pub async fn issue_quote(
        &self,
        id: Uuid,
        request: MoveRequest,
        seen: impl Into<Seen>,
        once: Once<'_, Issued>,
    ) -> Result<Made<Issued>, Error> {
        let (said, seen) = (Said::remark(request.checked()?), seen.into());
        let outcome = self.issue(id, said, &seen, &once).await;
        once.or_before(self, outcome).await
    }

    async fn issue(&self, id: Uuid, said: Said, seen: &Seen, once: &Once<'_, Issued>) -> Result<Made<Issued>, Error> {
        for attempt in 1..=ISSUE_ATTEMPTS {
            let Some(ready) = self.ready_to_issue(id, seen).await? else { continue };
            let forerunner = ready.forerunner.as_ref().map(|forerunner| forerunner.value.id);
            let on_shelf = self.on_shelf(&ready.draft, QuoteState::Issued, forerunner).await?;
            let today = self.today(&ready.calculated.time_zone)?;
            let write = self.store.write().await?;
            let number = match &ready.draft.value.number {
                Some(number) => number.clone(),
                None => {
                    let count = store::counters::take(&write, &counter(today.year())).await?;
                    format!("{}-{count:04}", today.year())
                }
            };
            let Numbered { quote: issued, documents, choices, copy_hash } = ready.under(number, today, self)?;
            let Fresh { row: link, told } = self.fresh_link(&issued, &copy_hash)?;
            let made = Issued { quote: issued.clone(), link: told };
            if let Some(answer) = once.claim(&write, &made, issued.updated_at).await? {
                return Ok(Made::Before(answer));
            }
            // From here to the end of the write the shop stands still: what is issued is priced by it as it is.
            if store::shop::hold(&write).await? != ready.calculated.catalogue_version {
                continue;
            }
            if ready.lapses_at <= self.clock.now() {
                continue;
            }
            match store::quotes::replace(&write, &issued, ready.calculated.request, &documents).await {
                Ok(true) => {}
                // Someone else was first: reading it again tells what they did.
                Ok(false) => continue,
                Err(cause) if cause.is_dangling() && attempt < ISSUE_ATTEMPTS => continue,
                Err(cause) => return Err(cause.into()),
            }
            match choices::insert(&write, id, &choices).await {
                Err(cause) if cause.is_dangling() && attempt < ISSUE_ATTEMPTS => continue,
                done => done?,
            }
            store::links::put(&write, &link).await?;
            keep_move(&write, &issued, QuoteState::Draft, said.clone(), None).await?;
            let mut events = vec![self.quote_event(&issued, None, Vec::new())?];
            if let Some(forerunner) = ready.forerunner {
                let from = forerunner.value.state;
                let after = QuoteSummary { state: QuoteState::Superseded, ..forerunner.value };
                let after = Stored { value: after, version: forerunner.version + 1, ..issued.clone() };
                if !advance(&write, &after, from, Said::default(), Some(id)).await? {
                    continue;
                }
                events.push(self.quote_event(&after, Some(id), Vec::new())?);
            }
            // After a few tries it goes without what others took meanwhile.
            let of_shelf = self.change_shelf(&write, &on_shelf, &issued, attempt > ATTEMPTS).await?;
            let Some(of_shelf) = of_shelf else { continue };
            events.extend(of_shelf);
            store::events::append(&write, events).await?;
            write.commit().await?;
            return Ok(Made::Now(made));
        }
        Err(store::Error::Overtaken.into())
    }

    /// A draft that can be issued, calculated once more. `None` when someone else got in between.
    async fn ready_to_issue(&self, id: Uuid, seen: &Seen) -> Result<Option<Ready>, Error> {
        let draft = self.current(id).await?;
        permitted(&draft, seen, Step::Issue)?;
        let forerunner = match draft.value.revises {
            Some(revised) => Some(self.current(revised).await?),
            None => None,
        };
        if let Some(forerunner) = &forerunner {
            revisable(id, &forerunner.value)?;
        }
        let (kept, request) = store::quotes::with_request(&self.store, id).await?.ok_or_else(|| not_found(id))?;
        let document = self.quote_document(id).await?;
        if kept.version != draft.version || document.hash != draft.value.document_hash {
            return Ok(None);
        }
        let calculated = match self.calculated(&request_of(id, &request)?).await {
            Err(Error::Faults(faults)) => return Err(no_longer(id, &faults)),
            other => other?,
        };
        unmoved(id, &document.bytes, &calculated)?;
        let gaps = calculated.gaps();
        if !gaps.is_empty() {
            return Err(Error::GapsStand(gaps));
        }
        let last_day = calculated.document().valid_until;
        let lapses_at = end_of_day(&calculated.time_zone, last_day)
            .ok_or_else(|| broken("quotes", "valid_until", &format!("{last_day} has no end")))?;
        if lapses_at <= self.clock.now() {
            let met = format!("cannot be issued, because its prices hold until {last_day} only, which is over");
            return Err(wrong_move(id, &met, &[Step::Replace, Step::Delete]));
        }
        let priced_on = calculated.document().priced_on;
        if priced_on > self.today(&calculated.time_zone)? {
            let met = format!("cannot be issued, because its prices are those of {priced_on}, which has not come");
            return Err(wrong_move(id, &met, &[Step::Replace, Step::Delete]));
        }
        // Looked at last: what could not be issued anyway tells nobody what it earns.
        if calculated.below_the_floor() && self.principal().role != Role::Owner {
            let met = "earns less than the shop wants to, so that only an owner can issue it";
            return Err(wrong_move(id, met, &[Step::Replace, Step::Delete]));
        }
        let waiting = calculated.choices.iter().map(Waiting::new).collect::<Result<Vec<_>, Error>>()?;
        Ok(Some(Ready { draft, forerunner, calculated, waiting, lapses_at }))
    }

    /// Begins a revision of an issued quote, once: a draft of its own, with the same number and the next revision.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Stale`] when the quote is at no version that was `seen`; [`Error::WrongMove`] when it
    /// cannot be revised, or has a revision already; [`Error::Faults`] with all faults; [`Error::KeyReused`];
    /// [`Error::Store`].
    pub async fn revise_quote(
        &self,
        id: Uuid,
        request: QuoteRequest,
        seen: impl Into<Seen>,
        once: Once<'_, Stored<QuoteSummary>>,
    ) -> Result<Made<Stored<QuoteSummary>>, Error> {
        let seen = seen.into();
        let outcome = self.revise(id, &request, &seen, &once).await;
        once.or_before(self, outcome).await
    }

    async fn revise(
        &self,
        id: Uuid,
        request: &QuoteRequest,
        seen: &Seen,
        once: &Once<'_, Stored<QuoteSummary>>,
    ) -> Result<Made<Stored<QuoteSummary>>, Error> {
        let new_id = self.clock.new_id();
        for attempt in 1..=ATTEMPTS {
            let revised = self.current(id).await?;
            permitted(&revised, seen, Step::Revise)?;
            if let Some(other) = store::quotes::revision_of(&self.store, id).await? {
                let other = other.value.id;
                let met = format!("is being revised already by the draft '{other}': go on with that, or delete it");
                let allowed = super::life::allowed(revised.value.state);
                let allowed: Vec<Step> = allowed.iter().copied().filter(|step| *step != Step::Revise).collect();
                return Err(wrong_move(id, &met, &allowed));
            }
            let calculated = self.calculated(request).await?;
            calculated.within_limit(self.principal().role, request, self.request_before(id).await?.as_ref())?;
            let now = self.written_by_now();
            let QuoteSummary { number, revision, .. } = revised.value;
            let identity =
                Identity { id: new_id, number, revision: revision + 1, revises: Some(id), made: now.clone() };
            let draft = calculated.quote(identity, 1, now.clone());
            let write = self.store.write().await?;
            if let Some(answer) = once.claim(&write, &draft, now.at).await? {
                return Ok(Made::Before(answer));
            }
            if attempt == 1 && store::shop::version(&write).await? != calculated.catalogue_version {
                continue;
            }
            let still = store::quotes::hold(&write, id).await?.ok_or_else(|| not_found(id))?;
            if still.version != revised.version {
                continue;
            }
            match store::quotes::insert(&write, &draft, calculated.request, &calculated.kept).await {
                Err(cause) if (cause.is_dangling() || cause.is_taken()) && attempt < ATTEMPTS => continue,
                done => done?,
            }
            write.commit().await?;
            return Ok(Made::Now(draft));
        }
        Err(store::Error::Overtaken.into())
    }
}
