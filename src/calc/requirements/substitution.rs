//! A requirement that is met in another way than it was reckoned: wire one size larger, with what goes on its ends.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{Need, Requirement, length_quantity};
use crate::shop::item::SellingUnit;
use crate::units::{LengthUnit, Name};

/// So many more of one thing, or fewer where the number is negative.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PartChange {
    /// The thing.
    pub need: Need,
    /// How many more.
    pub more: i64,
}

/// Wire that is cut one size larger than it was reckoned, since everything together costs less to buy then. What was
/// reckoned stands: current, drop and protection have the smaller size, and a larger one keeps every limit of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Substitution {
    /// The requirement as it was reckoned.
    #[schema(value_type = String, example = "wire/16 AWG/brown/105 C")]
    pub requirement: Name,
    /// What is used in its place.
    pub need: Need,
    /// What that changes at the ends.
    pub parts: Vec<PartChange>,
    /// Labels of the conductors, as on the cut list.
    #[schema(value_type = Vec<String>, example = json!(["C01+", "C04+"]))]
    pub conductors: Vec<Name>,
    /// The same in words, for those who cut and crimp.
    pub message: String,
}

impl Substitution {
    /// The requirements of a job with this one made, in order of key. What is not there stays so.
    pub fn made(&self, mut requirements: Vec<Requirement>) -> Vec<Requirement> {
        let Some(place) = requirements.iter().position(|requirement| requirement.key == self.requirement) else {
            return requirements;
        };
        let Requirement { quantity, unit, used_by, pieces, .. } = requirements.remove(place);
        let key = Name::from(self.need.key());
        match requirements.iter_mut().find(|requirement| requirement.key == key) {
            Some(there) => {
                let known = there.pieces.is_empty() == pieces.is_empty();
                there.pieces.extend(pieces);
                there.quantity += quantity;
                if known && !there.pieces.is_empty() {
                    let per = if unit == SellingUnit::Metre { LengthUnit::M } else { LengthUnit::Ft };
                    there.quantity = length_quantity(there.pieces.iter().map(|piece| piece.cut).sum(), per).0;
                }
                add_users(&mut there.used_by, &used_by);
            }
            None => requirements.push(Requirement {
                key,
                need: self.need.clone(),
                quantity,
                unit,
                used_by: used_by.clone(),
                customer_supplied: Decimal::ZERO,
                pieces,
            }),
        }
        for PartChange { need, more } in &self.parts {
            let key = Name::from(need.key());
            match requirements.iter_mut().find(|requirement| requirement.key == key) {
                Some(there) => {
                    there.quantity += Decimal::from(*more);
                    if *more > 0 {
                        add_users(&mut there.used_by, &used_by);
                    }
                }
                None if *more > 0 => requirements.push(Requirement {
                    key,
                    need: need.clone(),
                    quantity: Decimal::from(*more),
                    unit: SellingUnit::Each,
                    used_by: used_by.clone(),
                    customer_supplied: Decimal::ZERO,
                    pieces: Vec::new(),
                }),
                None => {}
            }
        }
        requirements.retain(|requirement| requirement.quantity > Decimal::ZERO);
        requirements.sort_by(|a, b| a.key.cmp(&b.key));
        requirements
    }
}

fn add_users(users: &mut Vec<Name>, more: &[Name]) {
    for user in more {
        if !users.contains(user) {
            users.push(user.clone());
        }
    }
}
