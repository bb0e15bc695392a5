//! What quotes hold of the shelf: taken hold of when a quote is accepted (or issued, as the shop says), let go of when it
//! is declined, lapses, is withdrawn or superseded, each in the write of the move itself, with its event.
//!
//! What is held is decided before the write, from the shelf as it was read, and taken hold of only if it is still free
//! then. Who comes second reads the shelf again, and buys.

use std::collections::{BTreeMap, BTreeSet};

use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::shelf::exact;
use crate::calc::purchase_list::{Procurement, StockSourceState, Take, procure};
use crate::calc::shelf::{Shelf, Spot};
use crate::calc::shop::settings::Reserve;
use crate::calc::units::{Length, Name};
use crate::service::quotes::{QuoteState, QuoteSummary, written};
use crate::service::{Error, Service, Stored};
use crate::store::events::NewEvent;
use crate::store::offcuts::Claim;
use crate::store::reservations::Reservation;
use crate::store::stock::StockKey;
use crate::store::{self, Write};

/// Something that a quote took hold of, let go of, or was given.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct StockEventLine {
    /// The item.
    #[schema(value_type = String)]
    pub sku: Name,
    /// How many selling units.
    #[schema(value_type = String, example = "12")]
    pub quantity: Decimal,
    /// UN/ECE Recommendation 20 code of the unit.
    #[schema(example = "EA")]
    pub unit_code: &'static str,
    /// Room, van or rack.
    pub place: String,
    /// Bin, drawer or peg there.
    pub bin: String,
    /// Which length that was left over, where it is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub offcut: Option<Name>,
    /// How long that is, exactly, in nanometres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_nm: Option<i64>,
}

/// What became of things on the shelf for a quote.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct StockEvent {
    /// The quote.
    pub quote: Uuid,
    /// Its number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub number: Option<String>,
    /// Which revision it is, counted from 1.
    pub revision: u32,
    /// What was reserved, released or picked, in order of item, place and bin.
    pub lines: Vec<StockEventLine>,
}

/// What a move does on the shelf.
#[derive(Debug, Default)]
pub(in crate::service) struct OnShelf {
    /// Quotes that let go of what they hold.
    pub(super) release: Vec<Uuid>,
    /// What is taken hold of.
    pub(super) reserve: Vec<Reservation>,
    /// How much lies in the bins that it is taken from.
    pub(super) on_hand: BTreeMap<StockKey, Decimal>,
}

fn key(sku: &Name, at: &Spot) -> StockKey {
    StockKey { sku: sku.to_string(), at: at.clone() }
}

pub(super) fn event_line(one: &Reservation) -> StockEventLine {
    let Reservation { sku, at: Spot { place, bin }, quantity, unit, offcut, .. } = one.clone();
    let length_nm = offcut.as_ref().map(|(_, length)| exact(*length));
    let offcut = offcut.map(|(id, _)| id);
    StockEventLine { sku, quantity: quantity.normalize(), unit_code: unit.unece_code(), place, bin, offcut, length_nm }
}

/// Whether two sets of reservations hold the same.
fn same(one: &[Reservation], other: &[Reservation]) -> bool {
    let told = |rows: &[Reservation]| rows.iter().map(|row| format!("{:?}", event_line(row))).collect::<BTreeSet<_>>();
    told(one) == told(other)
}

/// What is still to be reserved beside what was picked for the same quote: counted things less those that were picked, and
/// no more lengths of what lengths were picked of, since nobody here knows which pieces these were for.
fn but_for_picked(reserve: Vec<Reservation>, picked: &[Reservation]) -> Vec<Reservation> {
    let mut counted: BTreeMap<&str, Decimal> = BTreeMap::new();
    for one in picked.iter().filter(|one| one.offcut.is_none()) {
        *counted.entry(one.sku.as_str()).or_default() += one.quantity;
    }
    let lengths: BTreeSet<&str> =
        picked.iter().filter(|one| one.offcut.is_some()).map(|one| one.sku.as_str()).collect();
    let mut left = Vec::new();
    for mut one in reserve {
        if one.offcut.is_some() {
            if !lengths.contains(one.sku.as_str()) {
                left.push(one);
            }
            continue;
        }
        if let Some(there) = counted.get_mut(one.sku.as_str()) {
            let less = (*there).min(one.quantity);
            *there -= less;
            one.quantity = (one.quantity - less).normalize();
        }
        if !one.quantity.is_zero() {
            left.push(one);
        }
    }
    left
}

impl Service {
    /// What a move of a quote to a state does on the shelf; `instead_of` is the quote that it takes the place of. Read and
    /// calculated before the write.
    pub(in crate::service) async fn on_shelf(
        &self,
        quote: &Stored<QuoteSummary>,
        to: QuoteState,
        instead_of: Option<Uuid>,
    ) -> Result<OnShelf, Error> {
        let id = quote.value.id;
        match to {
            QuoteState::Accepted => {
                let holds = store::reservations::of_quote(&self.store, id).await?;
                if !holds.is_empty() && quote.value.accepted_options.is_empty() {
                    return Ok(OnShelf::default());
                }
                // What it holds was for the quote without options; and what somebody reserves for it until this is
                // written must not stay beside what it takes now.
                self.to_reserve(&quote.value, vec![id]).await
            }
            QuoteState::Issued => {
                let release: Vec<Uuid> = instead_of.into_iter().collect();
                let (_, shop) = self.shop().await?;
                match shop.settings.stock.reserve {
                    Reserve::AtIssue => self.to_reserve(&quote.value, release).await,
                    Reserve::AtAcceptance => Ok(OnShelf { release, ..OnShelf::default() }),
                }
            }
            _ => Ok(OnShelf { release: vec![id], ..OnShelf::default() }),
        }
    }

    /// What a quote takes hold of, while others let go of what they hold. A document that this edition cannot read takes
    /// nothing: the move itself must not fail for that.
    async fn to_reserve(&self, quote: &QuoteSummary, release: Vec<Uuid>) -> Result<OnShelf, Error> {
        // It keeps what it holds where nobody can say what it could take instead.
        let others = release.iter().copied().filter(|one| *one != quote.id).collect();
        match self.reservable(quote, release.clone()).await {
            Err(Error::Store(cause @ store::Error::BrokenRow { .. })) => {
                tracing::warn!(
                    error = &cause as &dyn std::error::Error,
                    "nothing is reserved for a quote that cannot be read"
                );
                Ok(OnShelf { release: others, ..OnShelf::default() })
            }
            Err(Error::NotAllowed(_)) => Ok(OnShelf { release: others, ..OnShelf::default() }),
            done => done,
        }
    }

    /// The same, with whatever stands in the way.
    pub(super) async fn reservable(&self, quote: &QuoteSummary, release: Vec<Uuid>) -> Result<OnShelf, Error> {
        let id = quote.id;
        let frozen = self.frozen_job(id, &quote.accepted_options).await?;
        let mut but_for = release.clone();
        if !but_for.contains(&id) {
            but_for.push(id);
        }
        let read = self.shelf(&frozen, &but_for).await?;
        if read.source.state == StockSourceState::Failed && release.contains(&id) {
            let said = read.source.said.unwrap_or_default();
            return Err(Error::NotAllowed(format!("the quote '{id}' keeps what it holds ({said}); try again later")));
        }
        let nothing = OnShelf { release, ..OnShelf::default() };
        if read.shelf.is_empty() {
            return Ok(nothing);
        }
        let day = self.today(&frozen.shop.settings.time_zone)?;
        let Procurement { takes, .. } = procure(&frozen.job, &frozen.shop, &read.shelf, day);
        let held = store::reservations::of_quote(&self.store, id).await?;
        let picked: Vec<Reservation> = held.into_iter().filter(|one| one.picked_at.is_some()).collect();
        let reserve = but_for_picked(self.reservations(id, &takes), &picked);
        Ok(OnShelf { reserve, on_hand: on_hand(&read.shelf), ..nothing })
    }

    /// One reservation for each length, and for the counted things of each bin.
    fn reservations(&self, quote: Uuid, takes: &[Take]) -> Vec<Reservation> {
        let mut made: BTreeMap<(StockKey, Option<Name>), Reservation> = BTreeMap::new();
        for take in takes {
            let offcut = take.length.as_ref().and_then(|length| Some((length.offcut.clone()?, length.length)));
            let place = (key(&take.item.sku, &take.at), offcut.as_ref().map(|(id, _)| id.clone()));
            let there = made.entry(place).or_insert_with(|| Reservation {
                id: self.clock.new_id(),
                quote,
                sku: take.item.sku.clone(),
                at: take.at.clone(),
                quantity: Decimal::ZERO,
                unit: take.item.selling_unit,
                offcut,
                reserved_at: self.clock.now(),
                reserved_by: self.principal().name.clone(),
                picked_at: None,
            });
            there.quantity = (there.quantity + take.quantity).normalize();
        }
        made.into_values().collect()
    }

    /// Does on the shelf what a move does there, within the write of the move, and says what is to be told of it. `None`
    /// when something was taken by others meanwhile: the shelf is to be read again, unless this is the `last` try, which
    /// goes without.
    pub(in crate::service) async fn change_shelf(
        &self,
        write: &Write,
        on_shelf: &OnShelf,
        quote: &Stored<QuoteSummary>,
        last: bool,
    ) -> Result<Option<Vec<NewEvent>>, Error> {
        let OnShelf { release, reserve, on_hand } = on_shelf;
        let mut released = Vec::new();
        for id in release {
            let held = store::reservations::of_quote(write, *id).await?;
            released.extend(held.into_iter().filter(|one| one.picked_at.is_none()));
        }
        let mut reserved = reserve.clone();
        if released.is_empty() && reserved.is_empty() {
            return Ok(Some(Vec::new()));
        }
        // All who write here take the bins in one order, so that nobody waits for someone who waits for him.
        let mut changes: BTreeMap<StockKey, [Decimal; 2]> = BTreeMap::new();
        for (rows, place) in [(&released, 0), (&reserved, 1)] {
            for one in rows.iter().filter(|one| one.offcut.is_none()) {
                changes.entry(key(&one.sku, &one.at)).or_default()[place] += one.quantity;
            }
        }
        for (bin, [let_go, wanted]) in &changes {
            let more = *wanted - *let_go;
            if more > Decimal::ZERO {
                let there = on_hand.get(bin).copied().unwrap_or_default();
                if store::reservations::raise(write, bin, more, there).await? {
                    // The bin is held now. What left it since it was read has left the count.
                    if self.inventory.is_some() || store::reservations::lies_there(write, bin).await? {
                        continue;
                    }
                    store::reservations::lower(write, bin, more).await?;
                }
                if !last {
                    return Ok(None);
                }
                reserved.retain(|one| one.offcut.is_some() || key(&one.sku, &one.at) != *bin);
                store::reservations::lower(write, bin, *let_go).await?;
            } else if more < Decimal::ZERO {
                store::reservations::lower(write, bin, -more).await?;
            }
        }
        for id in release {
            store::reservations::delete(write, *id).await?;
        }
        if !self.claim_offcuts(write, &released, &mut reserved, quote, last).await? {
            return Ok(None);
        }
        for one in reserved.clone() {
            if store::reservations::insert(write, &one).await? {
                continue;
            }
            if !last {
                return Ok(None);
            }
            reserved.retain(|other| other.id != one.id);
        }
        let mut events = Vec::new();
        if released.iter().all(|one| one.quote == quote.value.id) && same(&released, &reserved) {
            return Ok(Some(events));
        }
        for id in release {
            let rows: Vec<Reservation> = released.iter().filter(|one| one.quote == *id).cloned().collect();
            if !rows.is_empty() {
                let of = store::quotes::read(write, *id).await?.unwrap_or_else(|| quote.clone());
                events.push(self.stock_event("stock.released", &of, quote, &rows)?);
            }
        }
        if !reserved.is_empty() {
            events.push(self.stock_event("stock.reserved", quote, quote, &reserved)?);
        }
        Ok(Some(events))
    }

    /// Lets go of lengths and takes hold of others, in order of identifier. `false` when one was taken by others.
    async fn claim_offcuts(
        &self,
        write: &Write,
        released: &[Reservation],
        reserved: &mut Vec<Reservation>,
        quote: &Stored<QuoteSummary>,
        last: bool,
    ) -> Result<bool, Error> {
        // What the inventory system has no row here.
        if self.inventory.is_some() {
            return Ok(true);
        }
        let by = self.principal().name.clone();
        let mut claims: BTreeMap<Uuid, [Option<Uuid>; 2]> = BTreeMap::new();
        let mut lengths: BTreeMap<Uuid, Length> = BTreeMap::new();
        for (rows, place) in [(released, 0), (&reserved[..], 1)] {
            for one in rows {
                let id = one.offcut.as_ref().and_then(|(id, _)| Uuid::try_parse(id.as_str()).ok());
                if let Some(id) = id {
                    claims.entry(id).or_default()[place] = Some(one.quote);
                    lengths.extend(one.offcut.iter().map(|(_, length)| (id, *length)));
                }
            }
        }
        for (id, [let_go, wanted]) in claims {
            if let Some(of) = let_go {
                store::offcuts::claim(write, id, of, Claim::Release, quote.updated_at, &by).await?;
            }
            let Some(of) = wanted else { continue };
            let as_read = Claim::Reserve(lengths[&id]);
            if store::offcuts::claim(write, id, of, as_read, quote.updated_at, &by).await? {
                continue;
            }
            if !last {
                return Ok(false);
            }
            let text = id.to_string();
            reserved.retain(|one| one.offcut.as_ref().is_none_or(|(id, _)| id.as_str() != text));
        }
        Ok(true)
    }

    /// Of things on the shelf that something became of for a quote, when another one (or itself) moved.
    pub(super) fn stock_event(
        &self,
        kind: &'static str,
        of: &Stored<QuoteSummary>,
        moved: &Stored<QuoteSummary>,
        rows: &[Reservation],
    ) -> Result<NewEvent, Error> {
        let QuoteSummary { id, number, revision, .. } = of.value.clone();
        let mut lines: Vec<StockEventLine> = rows.iter().map(event_line).collect();
        lines.sort_by(|a, b| (&a.sku, &a.place, &a.bin, &a.offcut).cmp(&(&b.sku, &b.place, &b.bin, &b.offcut)));
        let payload = written(&StockEvent { quote: id, number, revision, lines })?;
        Ok(NewEvent { id: self.clock.new_id(), kind, subject: id.to_string(), at: moved.updated_at, payload })
    }
}

fn on_hand(shelf: &Shelf) -> BTreeMap<StockKey, Decimal> {
    shelf.loose.iter().map(|loose| (key(&loose.sku, &loose.at), loose.on_hand)).collect()
}
