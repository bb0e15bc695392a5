//! What quotes hold of the shelf, to be seen and to be dealt with: taken hold of anew when goods have come, let go of, and
//! taken from the shelf.

use std::collections::{BTreeMap, BTreeSet};

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::reserving::OnShelf;
use crate::calc::findings::Fault;
use crate::calc::shelf::Spot;
use crate::service::once::{Made, Once};
use crate::service::quotes::{ATTEMPTS, QuoteState, QuoteSummary, not_found};
use crate::service::{Error, Page, Service, Stored, page};
use crate::store::offcuts::Claim;
use crate::store::reservations::{Reservation, ReservationFilter};
use crate::store::stock::StockKey;
use crate::store::{self, Write};

/// What a quote is to hold of the shelf.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ReserveRequest {
    /// `true`: it lets go of everything that was not picked. `false`, as unless stated: it takes hold of what is there for
    /// it now, in place of what it holds.
    #[serde(default)]
    #[schema(default = false)]
    pub release: bool,
}

/// What was taken from the shelf.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PickRequest {
    /// Which of the quote's reservations, by their identifiers; all that were not picked yet unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_items = 1, max_items = 500)]
    pub reservations: Option<Vec<Uuid>>,
}

fn must_stand(quote: &QuoteSummary) -> Result<(), Error> {
    match quote.state {
        QuoteState::Issued | QuoteState::Accepted => Ok(()),
        state => Err(Error::NotAllowed(format!(
            "the quote '{}' is {state}: only one that is issued or accepted has things on the shelf",
            quote.id
        ))),
    }
}

impl Service {
    /// A quote that no other write moves or changes the reservations of until this one ends.
    async fn alone_with(&self, write: &Write, id: Uuid) -> Result<Stored<QuoteSummary>, Error> {
        store::quotes::hold_alone(write, id).await?.ok_or_else(|| not_found(id))
    }

    /// Has a quote take hold of what is on the shelf for it now, or let go of what it holds, once.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::NotAllowed`] unless it is issued or accepted; [`Error::KeyReused`]; [`Error::Store`].
    pub async fn reserve_quote(
        &self,
        id: Uuid,
        ReserveRequest { release }: ReserveRequest,
        once: Once<'_, Vec<Reservation>>,
    ) -> Result<Made<Vec<Reservation>>, Error> {
        for _ in 0..ATTEMPTS {
            // One whose last day is over is written as lapsed by this, and lets go with it.
            let seen = self.current(id).await?.value;
            must_stand(&seen)?;
            let on_shelf = match release {
                true => OnShelf { release: vec![id], ..OnShelf::default() },
                false => self.reservable(&seen, vec![id]).await?,
            };
            let write = self.store.write().await?;
            let quote = self.alone_with(&write, id).await?;
            must_stand(&quote.value)?;
            // Accepted with options meanwhile, it takes other things.
            if quote.value.accepted_options != seen.accepted_options {
                continue;
            }
            let kept =
                store::reservations::of_quote(&write, id).await?.into_iter().filter(|one| one.picked_at.is_some());
            let holds: Vec<Reservation> = kept.chain(on_shelf.reserve.iter().cloned()).collect();
            let now = self.clock.now();
            if let Some(answer) = once.claim(&write, &holds, now).await? {
                return Ok(Made::Before(answer));
            }
            let now = Stored { updated_at: now, ..quote };
            let Some(events) = self.change_shelf(&write, &on_shelf, &now, false).await? else { continue };
            store::events::append(&write, events).await?;
            write.commit().await?;
            return Ok(Made::Now(holds));
        }
        Err(store::Error::Overtaken.into())
    }

    /// Notes that what a quote holds was taken from the shelf, once: it leaves the counts, and lengths are used up.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::NotAllowed`] unless the quote is accepted, when there is nothing to pick, or when a bin
    /// has less than that; [`Error::Faults`]; [`Error::KeyReused`]; [`Error::Store`].
    pub async fn pick_quote(
        &self,
        id: Uuid,
        PickRequest { reservations }: PickRequest,
        once: Once<'_, Vec<Reservation>>,
    ) -> Result<Made<Vec<Reservation>>, Error> {
        let write = self.store.write().await?;
        let quote = self.alone_with(&write, id).await?;
        let now = self.clock.now();
        let mut rows = store::reservations::of_quote(&write, id).await?;
        let mut faults = Vec::new();
        for (place, wanted) in reservations.iter().flatten().enumerate() {
            if !rows.iter().any(|one| one.id == *wanted && one.picked_at.is_none()) {
                let message = format!("the quote holds nothing by the name '{wanted}' that was not picked yet");
                faults.push(Fault::new(format!("/reservations/{place}"), message));
            }
        }
        let chosen = |one: &Reservation| {
            one.picked_at.is_none() && reservations.as_ref().is_none_or(|some| some.contains(&one.id))
        };
        let picked: Vec<Reservation> = rows.iter().filter(|one| chosen(one)).cloned().collect();
        for one in rows.iter_mut().filter(|one| chosen(one)) {
            one.picked_at = Some(now);
        }
        if let Some(answer) = once.claim(&write, &rows, now).await? {
            return Ok(Made::Before(answer));
        }
        crate::service::checks::none(faults)?;
        if quote.value.state != QuoteState::Accepted {
            let state = quote.value.state;
            return Err(Error::NotAllowed(format!(
                "the quote '{id}' is {state}: only for an accepted one is anything picked"
            )));
        }
        if picked.is_empty() {
            return Err(Error::NotAllowed(format!("the quote '{id}' holds nothing that was not picked yet")));
        }
        self.leave_the_shelf(&write, &picked, now).await?;
        let ids: Vec<Uuid> = picked.iter().map(|one| one.id).collect();
        store::reservations::picked(&write, &ids, now).await?;
        let now = Stored { updated_at: now, ..quote };
        store::events::append(&write, [self.stock_event("stock.picked", &now, &now, &picked)?]).await?;
        write.commit().await?;
        Ok(Made::Now(rows))
    }

    /// Takes what was picked off the counts, in the order in which everyone takes them.
    async fn leave_the_shelf(
        &self,
        write: &Write,
        picked: &[Reservation],
        now: chrono::DateTime<chrono::Utc>,
    ) -> Result<(), Error> {
        let mut bins: BTreeMap<StockKey, Decimal> = BTreeMap::new();
        let mut lengths: BTreeSet<(Uuid, Uuid)> = BTreeSet::new();
        for one in picked {
            match &one.offcut {
                Some((id, _)) => lengths.extend(Uuid::try_parse(id.as_str()).ok().map(|id| (id, one.quote))),
                None => {
                    let key = StockKey { sku: one.sku.to_string(), at: one.at.clone() };
                    *bins.entry(key).or_default() += one.quantity;
                }
            }
        }
        let by = self.principal().name.clone();
        for (bin, quantity) in &bins {
            store::reservations::lower(write, bin, *quantity).await?;
        }
        // Where the inventory system counts, it takes them off itself: the event tells it.
        if self.inventory.is_some() {
            return Ok(());
        }
        for (id, quote) in lengths {
            if !store::offcuts::claim(write, id, quote, Claim::Use, now, &by).await? {
                return Err(Error::NotAllowed(format!("the offcut '{id}' is not on the shelf any more")));
            }
        }
        for (bin, quantity) in &bins {
            if !store::stock::take(write, bin, *quantity, now, &by).await? {
                let StockKey { sku, at: Spot { place, bin } } = bin;
                let told = format!("fewer than {quantity} of {sku} lie at {place}, {bin}: count the bin again");
                return Err(Error::NotAllowed(told));
            }
        }
        Ok(())
    }

    /// What quotes hold or were given, newest first, what is behind `after` (an identifier), at most `limit` of it.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn list_reservations(
        &self,
        filter: &ReservationFilter,
        after: Option<Uuid>,
        limit: u32,
    ) -> Result<Page<Reservation>, Error> {
        let rows = store::reservations::list(&self.store, filter, after, u64::from(limit) + 1).await?;
        Ok(page(rows, limit, |row| row.id.to_string()))
    }
}
