//! Why a figure is so: the rule that gave it, the inputs of that rule, and where the rule comes from.
//!
//! A figure carries a [`BasisRef`], the place of its [`Derivation`] in the document's list. A derivation names its
//! rule; the document carries each [`Rule`] that was used once. Equal derivations are stored once too.

use std::borrow::Cow;
use std::hash::{Hash, Hasher};

use rust_decimal::Decimal;
use rustc_hash::{FxHashMap, FxHasher};
use serde::ser::SerializeMap;
use serde::{Deserialize, Serialize, Serializer};
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{AdditionalProperties, ObjectBuilder, OneOfBuilder, Schema, Type};
use utoipa::{PartialSchema, ToSchema};

/// How far a rule can be trusted: where it was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Read in the published source that is named.
    Published,
    /// A published rule whose text was not at hand: the value was recalled, and should be checked.
    FromMemory,
    /// Trade habit without a published source.
    CommonPractice,
    /// The shop's own setting or table.
    ShopSetting,
    /// A person's choice in place of the computed one.
    Overrule,
}

/// One rule of the rule table, as a document carries it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, ToSchema)]
pub struct Rule {
    /// Identifier of the rule; derivations refer to it.
    pub id: &'static str,
    /// What the rule says, in a sentence.
    pub says: &'static str,
    /// The formula that gives the result from the named inputs.
    pub formula: &'static str,
    /// Where the rule was read.
    pub source: &'static str,
    /// How far it can be trusted.
    pub standing: Standing,
}

/// The place of a figure's derivation in the document's `basis.derivations`, counted from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
#[schema(value_type = u32)]
pub struct BasisRef(pub u32);

/// An input or a result: a physical figure, an exact decimal where money is concerned, or a word.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Value {
    /// A physical figure in the unit that its name ends with.
    Number(f64),
    /// An exact decimal, written as a string.
    Exact(Decimal),
    /// A word, such as a colour or a function.
    Text(&'static str),
}

impl From<f64> for Value {
    fn from(number: f64) -> Self {
        Value::Number(number)
    }
}

impl From<Decimal> for Value {
    fn from(exact: Decimal) -> Self {
        Value::Exact(exact)
    }
}

impl From<&'static str> for Value {
    fn from(text: &'static str) -> Self {
        Value::Text(text)
    }
}

impl Serialize for Value {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Value::Number(number) => serializer.serialize_f64(*number),
            Value::Exact(exact) => serializer.collect_str(exact),
            Value::Text(text) => serializer.serialize_str(text),
        }
    }
}

fn value_schema() -> RefOr<Schema> {
    OneOfBuilder::new()
        .item(ObjectBuilder::new().schema_type(Type::Number))
        .item(ObjectBuilder::new().schema_type(Type::String))
        .description(Some("A number in the unit its name ends with, an exact decimal as a string, or a word."))
        .into()
}

impl PartialSchema for Value {
    fn schema() -> RefOr<Schema> {
        value_schema()
    }
}

impl ToSchema for Value {
    fn name() -> Cow<'static, str> {
        "BasisValue".into()
    }
}

/// The named inputs of a derivation; a name ends with its unit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Inputs(Vec<(&'static str, Value)>);

impl Inputs {
    /// Whether these are the same. Names are constants and mostly at the same address, so that they need not be read.
    fn are(&self, others: &[(&'static str, Value)]) -> bool {
        let same = |a: &'static str, b: &'static str| std::ptr::eq(a, b) || a == b;
        let pairs = self.0.iter().zip(others);
        self.0.len() == others.len() && pairs.into_iter().all(|(a, b)| a.1 == b.1 && same(a.0, b.0))
    }

    /// The inputs in the order they were given.
    pub fn iter(&self) -> impl Iterator<Item = (&'static str, Value)> {
        self.0.iter().copied()
    }
}

impl Serialize for Inputs {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.0.len()))?;
        for (name, value) in &self.0 {
            map.serialize_entry(name, value)?;
        }
        map.end()
    }
}

impl PartialSchema for Inputs {
    fn schema() -> RefOr<Schema> {
        ObjectBuilder::new()
            .schema_type(Type::Object)
            .additional_properties(Some(AdditionalProperties::RefOr(value_schema())))
            .description(Some("The inputs of the rule by name; each name ends with its unit."))
            .into()
    }
}

impl ToSchema for Inputs {
    fn name() -> Cow<'static, str> {
        "BasisInputs".into()
    }
}

/// One application of a rule: its inputs and what it gave, unrounded.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Derivation {
    /// The rule that was applied: an `id` of `basis.rules`.
    pub rule: &'static str,
    /// The inputs of the rule by name.
    pub inputs: Inputs,
    /// What the rule gave, unrounded.
    pub result: Value,
}

/// The rules and derivations behind a document's figures.
#[derive(Clone, Debug, Default, PartialEq, Serialize, ToSchema)]
pub struct Basis {
    /// Each rule that some derivation used, once, by id.
    pub rules: Vec<Rule>,
    /// The derivations; figures refer to them by their place, counted from 0.
    pub derivations: Vec<Derivation>,
}

/// Collects derivations while the chain runs, each distinct one once.
#[derive(Debug, Default)]
pub struct Ledger {
    derivations: Vec<Derivation>,
    /// Place of the first derivation by a hash of rule and inputs; a clash of hashes is told by comparing.
    places: FxHashMap<u64, u32>,
    /// For each derivation the next one of the same hash, if there is one.
    next: Vec<Option<u32>>,
    /// The rules that were used, as they came.
    rules: Vec<&'static Rule>,
}

impl Ledger {
    /// A ledger with room for about so many derivations.
    pub fn with_room(derivations: usize) -> Self {
        let places = FxHashMap::with_capacity_and_hasher(derivations, Default::default());
        let (derivations, next) = (Vec::with_capacity(derivations), Vec::with_capacity(derivations));
        Ledger { derivations, places, next, rules: Vec::with_capacity(32) }
    }

    /// Notes that `rule` gave `result` from `inputs`, and returns where that stands.
    pub fn note(
        &mut self,
        rule: &'static Rule,
        inputs: &[(&'static str, Value)],
        result: impl Into<Value>,
    ) -> BasisRef {
        let result = result.into();
        let mut hasher = FxHasher::default();
        rule.id.as_ptr().hash(&mut hasher);
        for (_, value) in inputs {
            match value {
                Value::Number(number) => number.to_bits().hash(&mut hasher),
                Value::Exact(exact) => exact.hash(&mut hasher),
                Value::Text(text) => text.hash(&mut hasher),
            }
        }
        let new = u32::try_from(self.derivations.len()).expect("fewer than 2^32 figures");
        let mut at = *self.places.entry(hasher.finish()).or_insert(new);
        while at != new {
            let derivation = &self.derivations[at as usize];
            if derivation.rule == rule.id && derivation.inputs.are(inputs) {
                debug_assert_eq!(derivation.result, result, "{}: equal inputs give one result", rule.id);
                return BasisRef(at);
            }
            at = *self.next[at as usize].get_or_insert(new);
        }
        self.derivations.push(Derivation { rule: rule.id, inputs: Inputs(inputs.to_vec()), result });
        self.next.push(None);
        // A rule is a constant, so the same one has the same address; where it has two, the id tells below.
        if !self.rules.iter().any(|known| std::ptr::eq(*known, rule)) {
            self.rules.push(rule);
        }
        BasisRef(new)
    }

    /// The derivation that a reference points to.
    pub fn get(&self, place: BasisRef) -> &Derivation {
        &self.derivations[place.0 as usize]
    }

    /// Closes the ledger; `rule_of` looks a rule up by its id.
    pub fn into_basis(self, rule_of: impl Fn(&str) -> Rule) -> Basis {
        let mut ids: Vec<&'static str> = self.rules.iter().map(|rule| rule.id).collect();
        ids.sort_unstable();
        ids.dedup();
        Basis { rules: ids.into_iter().map(rule_of).collect(), derivations: self.derivations }
    }
}
