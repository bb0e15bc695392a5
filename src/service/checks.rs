//! The checks that all of the shop's own documents share. Each bound stands in the description too; these hold for
//! those who come by another door (an import, the demo shop).

use rust_decimal::Decimal;

use super::Error;
use crate::calc::findings::Fault;
use crate::calc::shop::item::LabourUse;
use crate::calc::units::LengthValue;
use crate::store::scaled::to_millionths;

/// Most that an amount or a quantity may come to: nine digits before the point.
const LARGEST: Decimal = Decimal::from_parts(1_000_000_000, 0, 0, false, 0);

/// Collects faults.
#[derive(Debug, Default)]
pub struct Checks {
    faults: Vec<Fault>,
}

impl Checks {
    /// Everything that was found, in order of place.
    pub fn faults(mut self) -> Vec<Fault> {
        self.faults.sort();
        self.faults
    }

    /// Notes a fault unless something holds.
    pub fn must(&mut self, holds: bool, pointer: impl Into<String>, message: impl FnOnce() -> String) {
        if !holds {
            self.faults.push(Fault::new(pointer, message()));
        }
    }

    /// A text of 1 to `longest` characters, none of them a control character.
    pub fn text(&mut self, pointer: impl Into<String>, text: &str, longest: usize) {
        let pointer = pointer.into();
        let length = text.chars().count();
        self.must((1..=longest).contains(&length), pointer.clone(), || {
            format!("this text has {length} characters: expected 1 to {longest}")
        });
        self.must(!text.chars().any(char::is_control), pointer, || {
            "this text holds a line break, a tab or another control character: take it out".to_owned()
        });
    }

    /// A code: 1 to 60 characters from a set, with a letter or digit in front.
    pub fn code(&mut self, pointer: &str, code: &str, also: &str, upper_case: bool) {
        let plain = |c: char| c.is_ascii_digit() || c.is_ascii_lowercase() || (upper_case && c.is_ascii_uppercase());
        let first = code.chars().next().is_some_and(plain);
        let fits = first && code.len() <= 60 && code.chars().all(|c| plain(c) || also.contains(c));
        self.must(fits, pointer, || {
            let letters = if upper_case { "letters" } else { "lower-case letters" };
            let signs = also.chars().map(String::from).collect::<Vec<_>>().join(" ");
            format!(
                "'{code}' cannot be a code: expected 1 to 60 {letters}, digits and {signs}, with a letter or digit in \
                 front"
            )
        });
    }

    /// A finite number within bounds, both included.
    pub fn number(&mut self, pointer: impl Into<String>, number: f64, least: f64, most: f64) {
        self.must((least..=most).contains(&number), pointer, || {
            format!("{number} is out of range: expected {least} to {most}")
        });
    }

    /// A whole number within bounds, both included.
    pub fn whole(&mut self, pointer: impl Into<String>, number: u64, least: u64, most: u64) {
        self.must((least..=most).contains(&number), pointer, || {
            format!("{number} is out of range: expected {least} to {most}")
        });
    }

    /// A decimal above zero, or from zero up where `zero` is allowed, below a thousand million, with at most
    /// `places` decimal places.
    pub fn decimal(&mut self, pointer: impl Into<String>, value: Decimal, zero: bool, places: u32) {
        let large_enough = if zero { value >= Decimal::ZERO } else { value > Decimal::ZERO };
        let kept = to_millionths(value).is_some() && value.normalize().scale() <= places;
        self.must(large_enough && value < LARGEST && kept, pointer, || {
            let least = if zero { "0 or more" } else { "more than 0" };
            format!("{value} cannot be kept: expected {least}, below 1000000000, with at most {places} decimal places")
        });
    }

    /// A percentage from zero up, with at most four decimal places.
    pub fn percent(&mut self, pointer: impl Into<String>, value: Decimal, most: Decimal) {
        let fits = value >= Decimal::ZERO && value <= most && value.normalize().scale() <= 4;
        self.must(fits, pointer, || {
            format!("{value} is out of range: expected 0 to {most} percent with at most four decimal places")
        });
    }

    /// A length from zero up, or above zero, up to a kilometre.
    pub fn length(&mut self, pointer: impl Into<String>, length: LengthValue, zero: bool) {
        let nanometres = length.length().map(|length| length.nanometres());
        self.must(nanometres.is_some_and(|nm| zero || nm > 0), pointer, || {
            let least = if zero { "0 or more" } else { "more than 0" };
            format!("{length} is no length that can be: expected {least}, and no more than a kilometre")
        });
    }

    /// A list of no more than so many.
    pub fn count(&mut self, pointer: impl Into<String>, count: usize, least: usize, most: usize) {
        self.must((least..=most).contains(&count), pointer, || {
            format!("there are {count} of these: expected {least} to {most}")
        });
    }

    /// Labour that comes with something: each operation once, in a quantity above zero.
    pub fn labour(&mut self, pointer: &str, uses: &[LabourUse], most: usize) {
        self.count(pointer, uses.len(), 0, most);
        for (place, used) in uses.iter().enumerate() {
            let at = format!("{pointer}/{place}");
            self.code(&format!("{at}/operation"), used.operation.as_str(), "_", false);
            self.decimal(format!("{at}/quantity"), used.quantity, false, 3);
            self.must(used.quantity < Decimal::from(1_000_000), format!("{at}/quantity"), || {
                format!("{} is too many: expected fewer than a million", used.quantity)
            });
        }
        self.once(pointer, "operation", uses.iter().map(|used| used.operation.as_str()));
    }

    /// No key twice.
    pub fn once<'a>(&mut self, pointer: &str, member: &str, keys: impl Iterator<Item = &'a str>) {
        let mut seen = std::collections::BTreeMap::new();
        for (place, key) in keys.enumerate() {
            if let Some(first) = seen.insert(key, place) {
                let at = if member.is_empty() {
                    format!("{pointer}/{place}")
                } else {
                    format!("{pointer}/{place}/{member}")
                };
                let message = format!("'{key}' stands at place {first} of the list already: take one of the two out");
                self.faults.push(Fault::new(at, message));
            }
        }
    }
}

/// The faults as an error, if there are any.
pub fn none(faults: Vec<Fault>) -> Result<(), Error> {
    if faults.is_empty() { Ok(()) } else { Err(Error::Faults(faults)) }
}
