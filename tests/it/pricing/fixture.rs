//! A small invented shop and take-offs to price with it.

use std::sync::Arc;

use chrono::NaiveDate;
use rigbill::calc::basis::{Basis, BasisRef};
use rigbill::calc::pricing::PriceRequest;
use rigbill::calc::requirements::{Need, Piece, Requirement, length_quantity};
use rigbill::calc::shop::Shop;
use rigbill::calc::shop::catalogue::Catalogue;
use rigbill::calc::shop::item::{Attributes, BuyingUnit, Item, Price, PriceKind, SellingUnit};
use rigbill::calc::shop::settings::Settings;
use rigbill::calc::spec::input::{JobType, NegativeColour, Propulsion};
use rigbill::calc::take_off::{BoatSummary, CopperSummary, Labour, TakeOff, WorkPlan};
use rigbill::calc::units::{Length, LengthUnit, LengthValue, WireSize};
use rust_decimal::Decimal;

/// Day on which the tests price.
pub fn day() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 11, 25).unwrap()
}

/// A decimal from its digits.
pub fn decimal(text: &str) -> Decimal {
    text.parse().unwrap()
}

/// A length in inches.
pub fn inches(value: f64) -> LengthValue {
    LengthValue { value, unit: LengthUnit::In }
}

/// A price of the year.
pub fn price(kind: PriceKind, minimum_quantity: &str, amount: &str) -> Price {
    Price {
        kind,
        valid_from: NaiveDate::from_ymd_opt(2026, 1, 1).unwrap(),
        minimum_quantity: decimal(minimum_quantity),
        amount: decimal(amount),
    }
}

/// An item sold by the piece, `buying_quantity` to the pack.
pub fn item(sku: &str, category: &str, attributes: Attributes, buying_quantity: &str, cost: &str) -> Item {
    Item {
        sku: sku.into(),
        description: format!("Description of {sku}"),
        category: category.into(),
        attributes,
        selling_unit: SellingUnit::Each,
        buying_unit: BuyingUnit::Pack,
        buying_quantity: decimal(buying_quantity),
        minimum_order: 1,
        order_multiple: 1,
        tax_class: None,
        lead_time_days: 0,
        special_order: false,
        labour: None,
        prices: vec![price(PriceKind::Cost, "1", cost)],
        supplier: Some("Secret supplier".to_owned()),
        retired: false,
    }
}

/// A spool of wire, sold by the foot.
pub fn spool(sku: &str, size: &str, colour: &str, insulation_c: u16, feet: &str, cost: &str) -> Item {
    let attributes =
        Attributes::Wire { size: size.parse().unwrap(), colour: colour.to_owned(), insulation_c, tinned: true };
    Item {
        selling_unit: SellingUnit::Foot,
        buying_unit: BuyingUnit::Spool,
        ..item(sku, "wire", attributes, feet, cost)
    }
}

/// A shop with these items and settings.
pub fn shop_with(items: Vec<Item>, settings: Settings) -> Shop {
    Shop {
        catalogue: Arc::new(Catalogue::new(items)),
        packages: Arc::default(),
        labour_operations: Arc::default(),
        settings: Arc::new(settings),
    }
}

/// A shop with these items and a new shop's settings.
pub fn shop(items: Vec<Item>) -> Shop {
    shop_with(items, Settings::starting())
}

/// A requirement of so many pieces.
pub fn pieces(need: Need, quantity: &str) -> Requirement {
    Requirement {
        key: need.key().into(),
        need,
        quantity: decimal(quantity),
        unit: SellingUnit::Each,
        used_by: Vec::new(),
        customer_supplied: Decimal::ZERO,
        pieces: Vec::new(),
    }
}

/// A requirement of one particular item.
pub fn named(sku: &str, quantity: &str) -> Requirement {
    pieces(Need::Item { sku: sku.into() }, quantity)
}

/// A requirement of wire in pieces of so many feet.
pub fn wire(size: &str, colour: &'static str, insulation_c_min: u16, feet: &[f64]) -> Requirement {
    let need = Need::Wire { size: size.parse::<WireSize>().unwrap(), colour, insulation_c_min };
    let pieces: Vec<Piece> = feet
        .iter()
        .enumerate()
        .map(|(n, &feet)| Piece { label: format!("C{:02}+", n + 1).into(), cut: Length::feet(feet) })
        .collect();
    let (quantity, unit) = length_quantity(pieces.iter().map(|piece| piece.cut).sum(), LengthUnit::Ft);
    Requirement {
        key: need.key().into(),
        need,
        quantity,
        unit,
        used_by: Vec::new(),
        customer_supplied: Decimal::ZERO,
        pieces,
    }
}

/// A take-off with these requirements and likely hours.
pub fn take_off(requirements: Vec<Requirement>, likely_h: f64) -> TakeOff {
    TakeOff {
        banks: Vec::new(),
        alternator: None,
        panels: Vec::new(),
        network: None,
        supplied_cables: Vec::new(),
        boat: BoatSummary {
            name: "Kittiwake".to_owned(),
            job_type: JobType::FirstRig,
            propulsion: Propulsion::Outboard,
            negative_colour: NegativeColour::Black,
            hull: None,
            measured_percent: 100.0,
        },
        circuits: Vec::new(),
        feeders: Vec::new(),
        always_on: Vec::new(),
        cut_list: Vec::new(),
        cables: Vec::new(),
        copper: CopperSummary {
            least_cmil_ft: 0.0,
            proved: true,
            even_split_cmil_ft: None,
            saving_percent: None,
            basis: None,
        },
        wire: Vec::new(),
        runs: Vec::new(),
        dashes: Vec::new(),
        plumbing: None,
        along: None,
        requirements,
        labour: Labour {
            operations: Vec::new(),
            by_system: Vec::new(),
            work_days: 0,
            work_days_basis: BasisRef(0),
            low_h: likely_h,
            likely_h,
            high_h: likely_h,
            mean_h: likely_h,
            four_in_five_h: likely_h,
            basis: BasisRef(0),
        },
        work_plan: WorkPlan { hours_a_day: 8.0, kept_apart: "", days: Vec::new() },
        overrules: Vec::new(),
        gaps: Vec::new(),
        warnings: Vec::new(),
        questions: Vec::new(),
        answers: Vec::new(),
        assumptions: Vec::new(),
        cautions: Vec::new(),
        basis: Basis::default(),
    }
}

/// A request without customer or discount.
pub fn request() -> PriceRequest {
    PriceRequest {
        customer: None,
        day: day(),
        discount: None,
        tax_exemption: None,
        settlements: Vec::new(),
        price_level: None,
        freight: None,
        catalogue_version: 7,
    }
}

/// A fixed stream of pseudo-random numbers (splitmix64, from memory).
pub struct Stream(pub u64);

impl Stream {
    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// The next number between 0 and 1, neither included.
    pub fn share(&mut self) -> f64 {
        ((self.bits() >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    /// The next whole number from 0 to below a bound.
    pub fn below(&mut self, bound: u64) -> u64 {
        self.bits() % bound
    }
}
