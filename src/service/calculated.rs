//! A quote as it was calculated, before anything of it is written.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::access::Role;
use super::checks::{Checks, none};
use super::quote_request::{QuoteRequest, calculate};
use super::quotes::{QuoteState, QuoteSummary, broken, kept, written};
use super::{Error, Service, Stored};
use crate::calc::choices::{Choice, joined};
use crate::calc::findings::Gap;
use crate::calc::money::{AmountTooLarge, Money};
use crate::calc::pricing::{Discount, DiscountInput, taken_off};
use crate::calc::quote::QuoteDocument;
use crate::calc::shop::settings::{PriceLevel, Terms};
use crate::store::quotes::{DocumentKind, NewDocument};

/// Everything of a draft that is written, but for its identity.
pub(super) struct Calculated {
    pub(super) catalogue_version: i64,
    pub(super) time_zone: String,
    pub(super) terms: Terms,
    /// Whether the price level that was asked for is one that only an owner gives.
    owners_level: bool,
    /// Every set of options that can be chosen together, the empty one first.
    pub(super) choices: Vec<Choice>,
    pub(super) request: Vec<u8>,
    /// The documents of the empty one: of a draft no others are kept.
    pub(super) kept: [NewDocument; 2],
}

/// When something was written, and in whose name.
#[derive(Clone)]
pub(super) struct Written {
    pub(super) at: DateTime<Utc>,
    pub(super) by: Option<String>,
}

/// What of a quote outlasts every calculation.
pub(super) struct Identity {
    pub(super) id: Uuid,
    pub(super) number: Option<String>,
    pub(super) revision: u32,
    pub(super) revises: Option<Uuid>,
    pub(super) made: Written,
}

impl Identity {
    /// Of a quote that is made now.
    pub(super) fn new(id: Uuid, made: Written) -> Self {
        Identity { id, number: None, revision: 1, revises: None, made }
    }

    /// Of a quote that is there.
    pub(super) fn of(quote: QuoteSummary) -> Self {
        let QuoteSummary { id, number, revision, revises, created_at, created_by, .. } = quote;
        Identity { id, number, revision, revises, made: Written { at: created_at, by: created_by } }
    }
}

impl Calculated {
    /// The document without any option.
    pub(super) fn document(&self) -> &QuoteDocument {
        &self.choices[0].quotation.document
    }

    /// Gaps that stand in any choice, each once.
    pub(super) fn gaps(&self) -> Vec<Gap> {
        let mut all: Vec<Gap> = Vec::new();
        for gap in self.choices.iter().flat_map(|choice| &choice.quotation.document.gaps) {
            if all.iter().all(|known| known.what != gap.what) {
                all.push(gap.clone());
            }
        }
        all
    }

    /// Whether the items of any choice earn less than the shop's floor.
    pub(super) fn below_the_floor(&self) -> bool {
        let least = self.choices.iter().filter_map(|choice| choice.quotation.costing.margin_percent).min();
        self.terms.margin_floor_percent.zip(least).is_some_and(|(floor, margin)| margin < floor)
    }

    /// Refuses a price level that only an owner gives, and a discount beyond what the shop lets anyone else give, with
    /// whichever options; an extra line that takes something off is one too, what a price level takes off is none. A level
    /// and a discount in percent that an owner gave may be kept by whoever changes the rest.
    pub(super) fn within_limit(
        &self,
        role: Role,
        asked: &QuoteRequest,
        before: Option<&QuoteRequest>,
    ) -> Result<(), Error> {
        if role == Role::Owner {
            return Ok(());
        }
        let mut checks = Checks::default();
        let keeps_level = before.is_some_and(|before| asked.price_level == before.price_level);
        checks.must(!self.owners_level || keeps_level, "/price_level", || {
            format!("a key of the role {role} may not give this price level: use another, or have an owner give it")
        });
        let kept = before.is_some_and(|before| {
            asked.discount == before.discount && matches!(asked.discount, Some(DiscountInput::Percent { .. }))
        });
        for Choice { options, quotation } in &self.choices {
            let QuoteDocument { totals, lines, .. } = &quotation.document;
            let discount = if kept { 0 } else { totals.discount.minor() };
            let currency = totals.lines_net.currency();
            let off_lines =
                taken_off(lines).map_err(|AmountTooLarge| broken("quotes", "net", "the lines are too large"))?;
            let limit = self.terms.discount_limit_percent;
            // What the limit itself comes to, rounded like any other discount, of the lines that add something.
            let adding = Money::from_minor(totals.lines_net.minor().saturating_add(off_lines), currency);
            let most = Discount::Percent(limit).of(adding).map_or(0, Money::minor);
            let given = discount.saturating_add(off_lines);
            let place = match (off_lines > 0, options.is_empty()) {
                (true, true) => "/spec/extra_lines",
                (true, false) => "/options",
                (false, _) => "/discount",
            };
            checks.must(given <= most, place, || {
                let with = if options.is_empty() { String::new() } else { format!(" with {}", joined(options)) };
                format!(
                    "{} off{with} is more than the {limit} percent of the lines that a key of the role {role} may give, \
                     lines that take something off counted in: lower it, or have an owner give it",
                    Money::from_minor(given, currency)
                )
            });
            // What is too much without options is not told again with each of them.
            none(std::mem::take(&mut checks).faults())?;
        }
        none(checks.faults())
    }

    /// The envelope of a draft at a version that is written `now`.
    pub(super) fn quote(&self, identity: Identity, version: i64, now: Written) -> Stored<QuoteSummary> {
        let QuoteDocument { take_off, totals, customer, priced_on, valid_until, .. } = self.document();
        let [document, costing] = &self.kept;
        let Identity { id, number, revision, revises, made } = identity;
        let value = QuoteSummary {
            id,
            state: QuoteState::Draft,
            number,
            revision,
            revises,
            name: take_off.boat.name.clone(),
            customer: customer.clone(),
            currency: totals.currency.clone(),
            net: totals.net,
            tax: totals.tax,
            total: totals.total,
            incomplete: totals.incomplete,
            document_hash: document.document.hash.clone(),
            costing_hash: costing.document.hash.clone(),
            catalogue_version: self.catalogue_version,
            priced_on: *priced_on,
            valid_until: *valid_until,
            lapses_at: None,
            accepted_options: Vec::new(),
            created_at: made.at,
            created_by: made.by,
        };
        Stored { value, version, updated_at: now.at, changed_by: now.by }
    }
}

impl Service {
    /// Calculates a request with the shop as it stands.
    pub(super) async fn calculated(&self, request: &QuoteRequest) -> Result<Calculated, Error> {
        let (catalogue_version, shop) = self.shop().await?;
        let day = match request.priced_on {
            Some(day) => day,
            None => self.today(&shop.settings.time_zone)?,
        };
        let choices = calculate(request, day, catalogue_version, &shop).map_err(Error::Faults)?;
        let without = &choices[0].quotation;
        let kept = [
            kept(DocumentKind::Quote, without.document.schema_version, written(&without.document)?),
            kept(DocumentKind::Costing, without.costing.schema_version, written(&without.costing)?),
        ];
        let (time_zone, terms) = (shop.settings.time_zone.clone(), shop.settings.terms.clone());
        let asked = |level: &PriceLevel| Some(&level.code) == request.price_level.as_ref();
        let owners_level = shop.settings.price_levels.iter().any(|level| asked(level) && level.owner_only);
        let request = written(request)?;
        Ok(Calculated { catalogue_version, time_zone, terms, owners_level, choices, request, kept })
    }
}
