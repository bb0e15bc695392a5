//! Requirements as a quote's document froze them: read back from its JSON. The pieces of wire and cable are those of its
//! cut list, as long as they are printed there.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use rust_decimal::Decimal;
use serde::{Deserialize, Deserializer, de};

use super::{Need, Piece, Requirement, Substitution};
use crate::rules::functions::known_colour;
use crate::rules::jackets;
use crate::shop::item::SellingUnit;
use crate::units::{LengthValue, Name, WireSize};

/// What a quote's document says of the job.
#[derive(Clone, Debug, PartialEq)]
pub struct Frozen {
    /// Name of the boat or job.
    pub name: String,
    /// What it needs, as it was frozen, with larger wire where it was taken; what was left out aside.
    pub requirements: Vec<Requirement>,
}

#[derive(Deserialize)]
struct Document {
    take_off: TakenOff,
    #[serde(default)]
    exclusions: Vec<Excluded>,
    #[serde(default)]
    substitutions: Vec<Substitution>,
}

#[derive(Deserialize)]
struct Excluded {
    gap: Name,
}

#[derive(Deserialize)]
struct TakenOff {
    boat: Boat,
    requirements: Vec<Needed>,
    #[serde(default)]
    cut_list: Vec<Conductor>,
    #[serde(default)]
    cables: Vec<Cable>,
    #[serde(default)]
    plumbing: Pieces,
    #[serde(default)]
    along: Pieces,
}

#[derive(Deserialize)]
struct Boat {
    name: String,
}

#[derive(Deserialize)]
struct Needed {
    key: Name,
    need: Need,
    quantity: Decimal,
    unit: SellingUnit,
    #[serde(default)]
    used_by: Vec<Name>,
    #[serde(default)]
    customer_supplied: Decimal,
}

#[derive(Deserialize)]
struct Conductor {
    label: Name,
    colour: String,
    #[serde(default)]
    cable: Option<Name>,
    gauge: WireSize,
    insulation_c: u16,
    cut_length: LengthValue,
}

#[derive(Deserialize)]
struct Cable {
    label: Name,
    colours: Vec<String>,
    gauge: WireSize,
    insulation_c: u16,
    cut_length: LengthValue,
}

/// A piece of hose, loom or line as it is printed.
#[derive(Deserialize)]
struct Cut {
    label: Name,
    requirement: Name,
    cut_length: LengthValue,
}

/// The pieces of a part of the take-off that has some.
#[derive(Default, Deserialize)]
struct Pieces {
    #[serde(default, alias = "hoses")]
    pieces: Vec<Cut>,
}

/// What tells the pieces of one requirement from those of another: conductors by their colours, size, insulation, and
/// whatever else is cut by the requirement's key.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
enum Made {
    Conductors(Vec<String>, WireSize, u16),
    Of(Name),
}

fn made_of(need: &Need, key: &Name) -> Option<Made> {
    Some(match need {
        Need::Wire { size, colour, insulation_c_min } => {
            Made::Conductors(vec![(*colour).to_owned()], *size, *insulation_c_min)
        }
        Need::Cable { size, colours, insulation_c_min, .. } => {
            let colours = colours.iter().map(|colour| (*colour).to_owned());
            Made::Conductors(colours.collect(), *size, *insulation_c_min)
        }
        need if need.by_length() => Made::Of(key.clone()),
        _ => return None,
    })
}

impl Frozen {
    /// Reads the document of a quote.
    ///
    /// # Errors
    /// When it is none, or names what this edition does not know.
    pub fn read(document: &[u8]) -> serde_json::Result<Self> {
        let Document { take_off, exclusions, substitutions } = serde_json::from_slice(document)?;
        let TakenOff { boat, requirements, cut_list, cables, plumbing, along } = take_off;
        let mut pieces: BTreeMap<Made, Vec<Piece>> = BTreeMap::new();
        let mut add = |made: Made, label: Name, length: LengthValue| {
            let cut = length.length().ok_or_else(|| de::Error::custom(format!("{label} is {length} long")))?;
            pieces.entry(made).or_default().push(Piece { label, cut });
            Ok::<_, serde_json::Error>(())
        };
        for Conductor { label, colour, cable, gauge, insulation_c, cut_length } in cut_list {
            if cable.is_none() {
                add(Made::Conductors(vec![colour], gauge, insulation_c), label, cut_length)?;
            }
        }
        for Cable { label, colours, gauge, insulation_c, cut_length } in cables {
            add(Made::Conductors(colours, gauge, insulation_c), label, cut_length)?;
        }
        for Cut { label, requirement, cut_length } in plumbing.pieces.into_iter().chain(along.pieces) {
            add(Made::Of(requirement), label, cut_length)?;
        }
        let left_out: BTreeSet<Name> = exclusions.into_iter().map(|excluded| excluded.gap).collect();
        let requirement = |Needed { key, need, quantity, unit, used_by, customer_supplied }: Needed| {
            let pieces = made_of(&need, &key).and_then(|made| pieces.remove(&made)).unwrap_or_default();
            Requirement { key, need, quantity, unit, used_by, customer_supplied, pieces }
        };
        let mut requirements: Vec<Requirement> = requirements.into_iter().map(requirement).collect();
        for substitution in &substitutions {
            requirements = substitution.made(requirements);
        }
        requirements.retain(|requirement| !left_out.contains(&requirement.key));
        Ok(Frozen { name: boat.name, requirements })
    }
}

/// An insulation colour that is known.
pub(super) fn colour<'de, D: Deserializer<'de>>(from: D) -> Result<&'static str, D::Error> {
    let text = Cow::<str>::deserialize(from)?;
    known_colour(&text).ok_or_else(|| de::Error::custom(format!("'{text}' is no insulation colour")))
}

/// The colours inside a cable that is known.
pub(super) fn colours<'de, D: Deserializer<'de>>(from: D) -> Result<&'static [&'static str], D::Error> {
    let met = Vec::<String>::deserialize(from)?;
    let known = met.last().and_then(|negative| jackets::colours(met.len(), negative));
    known
        .filter(|known| known.iter().zip(&met).all(|(one, other)| one == other))
        .ok_or_else(|| de::Error::custom(format!("'{}' are the colours of no cable", met.join(" + "))))
}
