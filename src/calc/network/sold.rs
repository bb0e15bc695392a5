//! Which sold lengths a way of network cable is made of.

use super::way::exact;
use crate::shop::settings::NetworkTerms;
use crate::units::Length;

/// One cable: what it must reach, and the length that the limits are reckoned with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Piece {
    /// Least length.
    pub least: Length,
    /// Greatest length: the kept one that reaches.
    pub planned: Length,
}

/// The cables of a span, screwed end to end: the fewest, and so as many of the longest kept length as it takes, then the
/// shortest that reaches the rest.
pub fn span(needed: Length, terms: &NetworkTerms) -> Vec<Piece> {
    let longest = terms.cable_lengths.iter().map(|kept| exact(*kept)).max().unwrap_or_default();
    let mut pieces = Vec::new();
    let mut left = needed;
    // Settings keep lengths above zero; where they do not, the way is one piece of its own length.
    while longest > Length::ZERO && left > longest {
        pieces.push(Piece { least: longest, planned: longest });
        left = left - longest;
    }
    pieces.push(single(left, terms, None).unwrap_or(Piece { least: left, planned: left }));
    pieces
}

/// The shortest kept cable that reaches, no longer than `most`; `None` where there is none.
pub fn single(needed: Length, terms: &NetworkTerms, most: Option<Length>) -> Option<Piece> {
    let kept = terms.cable_lengths.iter().map(|kept| exact(*kept));
    let planned = kept.filter(|kept| *kept >= needed && most.is_none_or(|most| *kept <= most)).min()?;
    Some(Piece { least: needed, planned })
}
