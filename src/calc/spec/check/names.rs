//! Names of a spec: their places, near misses, and lengths between bounds.

use std::collections::{BTreeMap, BTreeSet};

use crate::findings::Fault;
use crate::units::{Length, LengthValue, Name};

/// Names of one kind and the place of each, in order of name.
pub(super) struct Names<'a> {
    kind: &'static str,
    pub(super) places: BTreeMap<&'a str, usize>,
}

impl<'a> Names<'a> {
    /// Collects names, with a fault for each that stands there twice. Places count in order of name.
    pub(super) fn new(
        kind: &'static str,
        at: &str,
        names: impl Iterator<Item = &'a Name> + Clone,
        faults: &mut Vec<Fault>,
    ) -> Self {
        let mut seen = BTreeSet::new();
        for (i, name) in names.clone().enumerate() {
            if !well_formed(name.as_str()) {
                faults.push(Fault::new(
                    format!("{at}/{i}/id"),
                    format!(
                        "'{name}' cannot be an identifier: write lower-case letters, digits, '-' and '_', \
                         60 at most, beginning with a letter or digit"
                    ),
                ));
            }
            if !seen.insert(name.as_str()) {
                faults.push(Fault::new(
                    format!("{at}/{i}/id"),
                    format!("there are two {kind}s '{name}': give one of them another id"),
                ));
            }
        }
        Names { kind, places: seen.into_iter().enumerate().map(|(place, name)| (name, place)).collect() }
    }

    /// The place of a name, or a fault that suggests the nearest.
    pub(super) fn find(&self, name: &Name, pointer: impl FnOnce() -> String, faults: &mut Vec<Fault>) -> usize {
        if let Some(&place) = self.places.get(name.as_str()) {
            return place;
        }
        let kind = self.kind;
        let mend = match nearest(name.as_str(), self.places.keys().copied()) {
            Some(near) => format!("did you mean '{near}'?"),
            None => {
                let known: Vec<_> = self.places.keys().take(12).copied().collect();
                if known.is_empty() {
                    format!("the spec has no {kind} yet: add it")
                } else {
                    format!("the spec has {}", known.join(", "))
                }
            }
        };
        faults.push(Fault::new(pointer(), format!("there is no {kind} '{name}': {mend}")));
        0
    }
}

pub(super) fn well_formed(id: &str) -> bool {
    let mut chars = id.chars();
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit();
    chars.next().is_some_and(plain) && id.len() <= 60 && chars.all(|c| plain(c) || c == '-' || c == '_')
}

/// The known name that a mistyped one most likely meant.
pub fn nearest<'a>(name: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    known
        .map(|candidate| (strsim::jaro_winkler(name, candidate), candidate))
        .filter(|(likeness, _)| *likeness >= 0.85)
        .max_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.cmp(b.1)))
        .map(|(_, candidate)| candidate)
}

/// A length between bounds in feet, or a fault.
pub(super) fn bounded(
    value: LengthValue,
    what: &str,
    (least_ft, most_ft): (f64, f64),
    pointer: impl FnOnce() -> String,
    faults: &mut Vec<Fault>,
) -> Length {
    match value.length() {
        Some(length) if length.ft() >= least_ft && length.ft() <= most_ft => length,
        _ => {
            let least = Length::feet(least_ft).written(value.unit);
            let most = Length::feet(most_ft).written(value.unit);
            faults.push(Fault::new(
                pointer(),
                format!(
                    "{what} of {value} makes no sense: it must be from {least} to {most}. Check the number and its unit"
                ),
            ));
            Length::ZERO
        }
    }
}
