//! What a job may take of the shelf: from the rows kept here, or from the shop's inventory system; less what other quotes
//! hold. A quote that was accepted may take what it holds and nothing else.

use std::collections::{BTreeMap, BTreeSet};

use rust_decimal::Decimal;
use uuid::Uuid;

use crate::calc::findings::Warning;
use crate::calc::purchase_list::{Job, StockSource, StockSourceState, of_interest};
use crate::calc::requirements::Frozen;
use crate::calc::shelf::{Loose, Offcut, Shelf, Spot};
use crate::calc::shop::Shop;
use crate::calc::spec::fitted::fitted;
use crate::calc::units::{Length, LengthUnit, Name};
use crate::service::life::unreadable;
use crate::service::quotes::{QuoteRequest, SettlementInput};
use crate::service::{Error, Service};
use crate::store;
use crate::store::quotes::DocumentKind;
use crate::store::reservations::Reservation;

/// A job as a quote froze it, with the shop as it stands for that boat.
pub(super) struct FrozenJob {
    pub(super) name: String,
    pub(super) job: Job,
    pub(super) shop: Shop,
}

/// What may be taken, and where that was read.
pub(super) struct ReadShelf {
    pub(super) shelf: Shelf,
    pub(super) source: StockSource,
    pub(super) warnings: Vec<Warning>,
}

impl ReadShelf {
    /// What a quote holds or was given, and nothing else.
    pub(super) fn of_reservations(reserved: &[Reservation], unit: LengthUnit) -> Self {
        let mut loose: BTreeMap<(Name, Spot), Decimal> = BTreeMap::new();
        let mut offcuts = Vec::new();
        for one in reserved {
            let (sku, at) = (one.sku.clone(), one.at.clone());
            match one.offcut.clone() {
                Some((id, length)) => offcuts.push(Offcut { id, sku, at, length, unit }),
                None => *loose.entry((sku, at)).or_default() += one.quantity,
            }
        }
        let counted = |((sku, at), quantity)| Loose { sku, at, quantity, on_hand: quantity };
        let said = "the quote takes what it has reserved, and nothing else".to_owned();
        let source = StockSource { state: StockSourceState::KeptHere, said: Some(said) };
        let shelf = Shelf { loose: loose.into_iter().map(counted).collect(), offcuts, held: true };
        ReadShelf { shelf, source, warnings: Vec::new() }
    }
}

impl Service {
    /// What a quote asks for with the options that are named, as its document froze it.
    pub(super) async fn frozen_job(&self, id: Uuid, options: &[Name]) -> Result<FrozenJob, Error> {
        let document = self.choice_document(id, options, DocumentKind::Quote).await?;
        let QuoteRequest { spec, settlements, options: offered, .. } = self.quote_request(id).await?.value;
        let (_, shop) = self.shop().await?;
        let shop = fitted(&shop, &spec.boat).into_owned();
        let Frozen { name, requirements } = Frozen::read(&document.bytes).map_err(|cause| unreadable(id, &cause))?;
        let by_hand = settlements.iter().filter_map(|settlement| match settlement {
            SettlementInput::Line { gap, .. } => Some(gap.clone()),
            SettlementInput::Exclusion { .. } => None,
        });
        let by_hand: BTreeSet<Name> = by_hand.filter(|gap| requirements.iter().any(|one| one.key == *gap)).collect();
        let mut overrules = spec.overrules;
        let chosen = offered.into_iter().filter(|option| options.contains(&option.id));
        overrules.extend(chosen.flat_map(|option| option.overrules));
        Ok(FrozenJob { name, job: Job { requirements, overrules, by_hand }, shop })
    }

    /// What may be taken for a job: what is there, less what quotes hold that are none of `but_for`.
    pub(super) async fn shelf(&self, frozen: &FrozenJob, but_for: &[Uuid]) -> Result<ReadShelf, Error> {
        let FrozenJob { job, shop, .. } = frozen;
        let names = of_interest(job, shop);
        let skus: BTreeSet<&str> = names.iter().map(Name::as_str).collect();
        let (answered, source) = match &self.inventory {
            None => (None, StockSource { state: StockSourceState::KeptHere, said: None }),
            Some(inventory) => match inventory.ask(&skus).await {
                Ok(answered) => (Some(answered), StockSource { state: StockSourceState::Answered, said: None }),
                Err(said) => {
                    tracing::warn!(said = said.0, "the inventory system did not say what is on the shelf");
                    let said = Some(format!("{}: counted as nothing on hand", said.0));
                    let source = StockSource { state: StockSourceState::Failed, said };
                    return Ok(ReadShelf { shelf: Shelf::default(), source, warnings: Vec::new() });
                }
            },
        };
        let skus: Vec<&str> = skus.into_iter().collect();
        let mut warnings = Vec::new();
        let at = self.store.snapshot().await?;
        let (counts, mut offcuts) = match answered {
            Some(answered) => {
                let ids: Vec<&str> = answered.offcuts.iter().map(|offcut| offcut.id.as_str()).collect();
                let taken: BTreeSet<String> =
                    store::reservations::taken_offcuts(&at, &ids).await?.into_iter().collect();
                let free = answered.offcuts.iter().filter(|offcut| !taken.contains(offcut.id.as_str()));
                (answered.counts.clone(), free.cloned().collect())
            }
            None => {
                let mut counts = Vec::new();
                for count in store::stock::of_items(&at, &skus).await? {
                    let item = shop.catalogue.get(count.sku.as_str());
                    if item.is_some_and(|item| item.selling_unit != count.unit) {
                        let (sku, unit) = (count.sku, count.unit.symbol());
                        let message = format!(
                            "it was counted by {unit} at {}, {}, and is sold otherwise now: count it again",
                            count.place, count.bin
                        );
                        warnings.push(Warning { about: sku, message });
                        continue;
                    }
                    counts.push((count.sku, Spot { place: count.place, bin: count.bin }, count.quantity));
                }
                let free = store::offcuts::free_of_items(&at, &skus).await?.into_iter().map(|row| Offcut {
                    id: row.id.to_string().into(),
                    sku: row.sku,
                    at: Spot { place: row.place, bin: row.bin },
                    length: row.length,
                    unit: row.unit,
                });
                (counts, free.collect::<Vec<_>>())
            }
        };
        let mut held = store::reservations::held(&at, &skus).await?;
        for quote in but_for {
            for own in
                store::reservations::of_quote(&at, *quote).await?.into_iter().filter(|own| own.picked_at.is_none())
            {
                let Reservation { sku, at, quantity, offcut, .. } = own;
                match offcut {
                    Some((id, length)) => offcuts.push(Offcut { id, sku, at, length, unit: shop.settings.length_unit }),
                    None => *held.entry((sku.to_string(), at)).or_default() -= quantity,
                }
            }
        }
        let loose = counts.into_iter().map(|(sku, at, on_hand)| {
            let others = held.get(&(sku.to_string(), at.clone())).copied().unwrap_or_default();
            Loose { quantity: (on_hand - others).max(Decimal::ZERO), sku, at, on_hand }
        });
        let shelf = Shelf { loose: loose.collect(), offcuts, held: false };
        Ok(ReadShelf { shelf, source, warnings })
    }

    /// What quotes hold of bins that have less than that: somebody has to count.
    pub(super) async fn short(&self, reserved: &[Reservation]) -> Result<Vec<Warning>, Error> {
        if self.inventory.is_some() {
            return Ok(Vec::new());
        }
        let skus: BTreeSet<&str> =
            reserved.iter().filter(|one| one.picked_at.is_none()).map(|one| one.sku.as_str()).collect();
        let skus: Vec<&str> = skus.into_iter().collect();
        let at = self.store.snapshot().await?;
        let counts = store::stock::of_items(&at, &skus).await?;
        let held = store::reservations::held(&at, &skus).await?;
        let there: BTreeMap<(String, Spot), Decimal> = counts
            .into_iter()
            .map(|count| ((count.sku.to_string(), Spot { place: count.place, bin: count.bin }), count.quantity))
            .collect();
        let mut warnings = Vec::new();
        for one in reserved.iter().filter(|one| one.picked_at.is_none() && one.offcut.is_none()) {
            let key = (one.sku.to_string(), one.at.clone());
            let (there, held) =
                (there.get(&key).copied().unwrap_or_default(), held.get(&key).copied().unwrap_or_default());
            if held > there {
                let Spot { place, bin } = &one.at;
                let message = format!(
                    "{there} {} lie at {place}, {bin}, and quotes have reserved {held}: count the bin again",
                    one.unit.symbol()
                );
                warnings.push(Warning { about: one.sku.clone(), message });
            }
        }
        Ok(warnings)
    }
}

/// A length as text, for those who tell of it.
pub(super) fn exact(length: Length) -> i64 {
    length.nanometres()
}
