//! The choices of a quote: what the customer may add to it, and each set of that as a whole quote of its own.
//!
//! What two options cost together is not the sum of what they cost apart: they may share a feeder, a pack of terminals
//! or the pull through a tube. So each set is put into the boat spec and goes through the whole chain, and its totals,
//! take-off and buying list are exact.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::chain;
use crate::findings::{Fault, Gap};
use crate::money::Money;
use crate::pricing::{PriceRequest, Priced, Quotation, currency, priced, settlement};
use crate::quote::{ChosenOption, QuoteDocument, QuotedChoice, QuotedOption};
use crate::shop::Shop;
use crate::shop::item::LabourUse;
use crate::spec::fitted::fitted;
use crate::spec::input::{BoatSpecInput, EquipmentInput, ExtraLineInput, OverruleInput};
use crate::take_off::TakeOff;
use crate::units::Name;

/// Most options of a quote: sixteen sets of them.
pub const OPTIONS_MOST: usize = 4;

/// Something that the customer may add: what it puts on the boat beside what the spec does.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OptionInput {
    /// Identifier; whoever accepts the quote names the options by it.
    #[schema(value_type = String, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "radar")]
    pub id: Name,
    /// What it is, as the customer reads it.
    #[schema(min_length = 1, max_length = 100, example = "Radar on the T-top")]
    pub title: String,
    /// What it holds, as the customer reads it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 500, example = "Dome, mount and cable, set up and tried out")]
    pub description: Option<String>,
    /// Options that it cannot go along with: of those only one can be chosen.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>, max_items = 3)]
    pub excludes: Vec<Name>,
    /// Codes of packages.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>, max_items = 20)]
    pub packages: Vec<Name>,
    /// Equipment.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 100)]
    pub equipment: Vec<EquipmentInput>,
    /// Labour beside that of items and packages.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub labour: Vec<LabourUse>,
    /// A person's choices for what it adds.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 100)]
    pub overrules: Vec<OverruleInput>,
    /// Lines that a person writes.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub extra_lines: Vec<ExtraLineInput>,
}

impl OptionInput {
    fn is_empty(&self) -> bool {
        let OptionInput { packages, equipment, labour, overrules: _, extra_lines, .. } = self;
        packages.is_empty() && equipment.is_empty() && labour.is_empty() && extra_lines.is_empty()
    }

    /// How many entries it adds to a list of the spec.
    fn adds(&self, list: &str) -> usize {
        match list {
            "packages" => self.packages.len(),
            "equipment" => self.equipment.len(),
            "labour" => self.labour.len(),
            "overrules" => self.overrules.len(),
            "extra_lines" => self.extra_lines.len(),
            _ => 0,
        }
    }
}

/// One set of options, and the quote with it.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// Its options by identifier, in their order.
    pub options: Vec<Name>,
    /// The quote, priced as a whole.
    pub quotation: Quotation,
}

/// A boat spec with what the customer may add to it.
struct Offer<'a> {
    spec: &'a BoatSpecInput,
    options: &'a [OptionInput],
}

/// Places of the options in a set, rising.
type Set = Vec<usize>;

/// What of the options makes no sense by itself: an identifier twice, one that excludes what is not there, one that adds
/// nothing, or more of them than are possible. Pointers start at the request.
pub fn option_faults(options: &[OptionInput]) -> Vec<Fault> {
    let mut faults = Vec::new();
    if options.len() > OPTIONS_MOST {
        let message = format!("there are {} options: a quote has {OPTIONS_MOST} at most", options.len());
        faults.push(Fault::new("/options", message));
    }
    for (place, option) in options.iter().enumerate() {
        let at = |field: &str| format!("/options/{place}{field}");
        if options[..place].iter().any(|earlier| earlier.id == option.id) {
            let message = format!("there are two options '{}': give one of them another id", option.id);
            faults.push(Fault::new(at("/id"), message));
        }
        if option.is_empty() {
            let message = "this option adds nothing: give it packages, equipment, labour or extra lines";
            faults.push(Fault::new(at(""), message));
        }
        for (nth, other) in option.excludes.iter().enumerate() {
            if *other == option.id || options.iter().all(|known| known.id != *other) {
                let others: Vec<&str> =
                    options.iter().filter(|known| known.id != option.id).map(|known| known.id.as_str()).collect();
                let message = match others.len() {
                    0 => format!("there is no other option '{other}': leave this out"),
                    _ => format!("there is no other option '{other}': name one of {}", others.join(", ")),
                };
                faults.push(Fault::new(at(&format!("/excludes/{nth}")), message));
            }
        }
    }
    faults
}

impl Offer<'_> {
    /// Every set of options that can be chosen together: the empty one first, then by their number and order.
    fn sets(&self) -> Vec<Set> {
        let count = self.options.len().min(OPTIONS_MOST);
        let of_bits = |bits: u32| (0..count).filter(|place| (bits >> place) & 1 == 1).collect::<Set>();
        let together = |set: &Set| {
            let chosen = || set.iter().map(|&place| &self.options[place]);
            chosen().all(|one| chosen().all(|other| !one.excludes.contains(&other.id)))
        };
        let mut sets: Vec<Set> = (0..1u32 << count).map(of_bits).filter(together).collect();
        sets.sort_by_key(|set| (set.len(), set.clone()));
        sets
    }

    /// The spec with a set of options on the boat.
    fn with(&self, set: &Set) -> BoatSpecInput {
        let mut spec = self.spec.clone();
        for &place in set {
            let OptionInput { packages, equipment, labour, overrules, extra_lines, .. } = self.options[place].clone();
            spec.packages.extend(packages);
            spec.equipment.extend(equipment);
            spec.labour.extend(labour);
            spec.overrules.extend(overrules);
            spec.extra_lines.extend(extra_lines);
        }
        spec
    }

    fn names(&self, set: &Set) -> Vec<Name> {
        set.iter().map(|&place| self.options[place].id.clone()).collect()
    }

    /// A pointer into the spec with a set of options, as one into the request: what an option brought is below it.
    fn placed(&self, pointer: &str, set: &Set) -> String {
        let mut parts = pointer.splitn(4, '/').skip(1);
        let (list, index) = (parts.next().unwrap_or_default(), parts.next().and_then(|index| index.parse().ok()));
        let own = match list {
            "packages" => self.spec.packages.len(),
            "equipment" => self.spec.equipment.len(),
            "labour" => self.spec.labour.len(),
            "overrules" => self.spec.overrules.len(),
            "extra_lines" => self.spec.extra_lines.len(),
            _ => usize::MAX,
        };
        if let Some(mut index) = index.and_then(|index: usize| index.checked_sub(own)) {
            let rest = parts.next().map(|rest| format!("/{rest}")).unwrap_or_default();
            for &place in set {
                match index.checked_sub(self.options[place].adds(list)) {
                    None => return format!("/options/{place}/{list}/{index}{rest}"),
                    Some(further) => index = further,
                }
            }
        }
        format!("/spec{pointer}")
    }
}

/// Faults of all sets, each place once: what is wrong without options is not told again with each of them.
#[derive(Default)]
struct Faults {
    told: BTreeSet<String>,
    faults: Vec<Fault>,
}

impl Faults {
    fn add(&mut self, faults: Vec<Fault>, options: &[Name], place: impl Fn(&str) -> String) {
        let mut new = BTreeSet::new();
        for Fault { pointer, message } in faults {
            let pointer = place(&pointer);
            if self.told.contains(&pointer) {
                continue;
            }
            new.insert(pointer.clone());
            let message = if options.is_empty() || pointer.starts_with("/options/") {
                message
            } else {
                format!("with the option(s) {} chosen: {message}", joined(options))
            };
            self.faults.push(Fault::new(pointer, message));
        }
        self.told.extend(new);
    }
}

/// Names of options as they are written into one text.
pub fn joined(options: &[Name]) -> String {
    options.iter().map(Name::as_str).collect::<Vec<_>>().join(",")
}

/// A set of options, the spec with it, and its take-off.
type TakenOff = (Set, BoatSpecInput, TakeOff);

fn take_offs(offer: &Offer<'_>, shop: &Shop) -> Result<Vec<TakenOff>, Vec<Fault>> {
    let mut faults = Faults::default();
    faults.add(option_faults(offer.options), &[], str::to_owned);
    let mut taken_off = Vec::new();
    for set in offer.sets() {
        let spec = offer.with(&set);
        match chain::take_off(&spec, shop) {
            Ok(take_off) => taken_off.push((set, spec, take_off)),
            Err(more) => faults.add(more, &offer.names(&set), |pointer| offer.placed(pointer, &set)),
        }
    }
    if faults.faults.is_empty() { Ok(taken_off) } else { Err(faults.faults) }
}

/// Every fault of a spec and of what may be added to it, each with a JSON pointer into the request.
pub fn spec_faults(spec: &BoatSpecInput, options: &[OptionInput], shop: &Shop) -> Vec<Fault> {
    take_offs(&Offer { spec, options }, shop).err().unwrap_or_default()
}

/// Calculates a boat with every set of options: take-off and price of each, the one without options first.
///
/// The document of that one also tells what the others come to. The prices of all hold for as long as those of the set
/// that is promised for the fewest days, since any of them may be accepted until then.
///
/// # Errors
/// All faults that show at the same stage, each with a JSON pointer into the request.
pub fn choices(
    spec: &BoatSpecInput,
    options: &[OptionInput],
    request: &PriceRequest,
    shop: &Shop,
) -> Result<Vec<Choice>, Vec<Fault>> {
    let offer = Offer { spec, options };
    let taken_off = take_offs(&offer, shop)?;
    let shop = &*fitted(shop, &spec.boat);
    let currency = currency(&shop.settings).map_err(|fault| vec![fault])?;
    let mut faults = Faults::default();
    let mut all_gaps: Vec<Gap> = Vec::new();
    let mut priced_sets = Vec::new();
    let mut of_prices = Vec::new();
    for (set, spec, take_off) in taken_off {
        let Priced { gaps, outcome } = priced(take_off, &spec.extra_lines, &spec.overrules, request, shop, currency);
        for gap in gaps {
            if all_gaps.iter().all(|known| known.what != gap.what) {
                all_gaps.push(gap);
            }
        }
        match outcome {
            Ok(quotation) => priced_sets.push((set, quotation)),
            Err(more) => of_prices.push((set, more)),
        }
    }
    // A gap may stand in some sets only: a decision about it holds there.
    faults.add(settlement::faults(&request.settlements, &all_gaps), &[], str::to_owned);
    for (set, more) in of_prices {
        faults.add(more, &offer.names(&set), |pointer| beside(pointer).unwrap_or_else(|| offer.placed(pointer, &set)));
    }
    if !faults.faults.is_empty() {
        return Err(faults.faults);
    }
    Ok(told_together(&offer, priced_sets))
}

/// A pointer that starts at the request already: what stands there beside the spec.
fn beside(pointer: &str) -> Option<String> {
    let known = ["/discount", "/settlements", "/price_level", "/freight"];
    known.iter().any(|place| pointer.starts_with(place)).then(|| pointer.to_owned())
}

/// What the documents say of each other.
fn told_together(offer: &Offer<'_>, sets: Vec<(Set, Quotation)>) -> Vec<Choice> {
    let last_day = sets.iter().map(|(_, quotation)| quotation.document.valid_until).min();
    let mut choices: Vec<Choice> = Vec::new();
    for (set, mut quotation) in sets {
        let document = &mut quotation.document;
        document.valid_until = last_day.unwrap_or(document.valid_until);
        let chosen = set.iter().map(|&place| &offer.options[place]);
        document.chosen = chosen.map(|one| ChosenOption { id: one.id.clone(), title: one.title.clone() }).collect();
        choices.push(Choice { options: offer.names(&set), quotation });
    }
    if !offer.options.is_empty() {
        let document = |options: &[Name]| {
            let found = choices.iter().find(|choice| choice.options == options);
            found.map(|choice| &choice.quotation.document)
        };
        let Some(base) = document(&[]) else { return choices };
        let options = offer.options.iter().map(|option| {
            let alone = document(std::slice::from_ref(&option.id));
            quoted_option(option, offer.options, base, alone)
        });
        let options: Vec<QuotedOption> = options.collect();
        let told: Vec<QuotedChoice> = choices.iter().map(|choice| quoted_choice(choice, base)).collect();
        let base = &mut choices[0].quotation.document;
        (base.options, base.choices) = (options, told);
    }
    choices
}

fn quoted_option(
    option: &OptionInput,
    all: &[OptionInput],
    base: &QuoteDocument,
    alone: Option<&QuoteDocument>,
) -> QuotedOption {
    let OptionInput { id, title, description, .. } = option.clone();
    // One that excludes another is excluded by it too.
    let apart = |other: &&OptionInput| other.excludes.contains(&id) || option.excludes.contains(&other.id);
    let excludes = all.iter().filter(apart).map(|other| other.id.clone()).collect();
    let with = alone.filter(|alone| !alone.totals.incomplete && !base.totals.incomplete).map(|alone| &alone.totals);
    let difference = |with: Option<Money>, without: Option<Money>| with?.minus(without?).ok();
    let net_difference = difference(with.map(|totals| totals.net), Some(base.totals.net));
    let total_difference = difference(with.and_then(|totals| totals.total), base.totals.total);
    QuotedOption { id, title, description, excludes, net_difference, total_difference }
}

fn quoted_choice(choice: &Choice, base: &QuoteDocument) -> QuotedChoice {
    let QuoteDocument { totals, deposit, gaps, lead_time_days, .. } = &choice.quotation.document;
    QuotedChoice {
        options: choice.options.clone(),
        net: totals.net,
        tax: totals.tax,
        total: totals.total,
        deposit: deposit.as_ref().map(|deposit| deposit.total),
        incomplete: totals.incomplete,
        gaps: gaps.iter().filter(|gap| !base.gaps.contains(gap)).cloned().collect(),
        lead_time_days: *lead_time_days,
    }
}
