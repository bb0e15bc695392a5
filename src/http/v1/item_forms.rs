//! An item as it is answered: whole, to those who keep the catalogue, and to those who sell and fit it without its
//! cost, its supplier and how it is bought. The second form is made from what it may show, and not from the first.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use super::items::PATH;
use crate::calc::shop::item::{Attributes, Item, LabourUse, Price, PriceKind, SellingUnit};
use crate::calc::units::Name;
use crate::http::access;
use crate::http::paging::page_of;
use crate::service::Stored;
use crate::service::access::Role;

/// What a customer is asked for one selling unit, from a day on; a later row of the same quantity takes over from its
/// day on.
#[derive(Serialize, ToSchema)]
pub struct ListPrice {
    /// First day on which the price holds, in the shop's time zone.
    #[schema(example = "2026-01-01")]
    valid_from: NaiveDate,
    /// Least number of selling units at which it holds.
    #[schema(value_type = String, example = "1")]
    minimum_quantity: Decimal,
    /// The price, in the shop's currency.
    #[schema(value_type = String, example = "31.00")]
    amount: Decimal,
}

/// One row of the catalogue as those read it who sell and fit it.
#[derive(Serialize, ToSchema)]
pub struct ItemForSale {
    /// The shop's own identifier of the item.
    #[schema(value_type = String, example = "W16-BRN-100")]
    sku: Name,
    /// What it is, as a customer reads it.
    description: String,
    /// Price category.
    #[schema(value_type = String, example = "wire")]
    category: Name,
    /// What the thing is.
    attributes: Attributes,
    /// The unit a customer is charged in.
    selling_unit: SellingUnit,
    /// Tax class. Absent, that of the category.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    tax_class: Option<Name>,
    /// Days from order to shelf; 0 for what is kept.
    lead_time_days: u16,
    /// Whether it is ordered for one customer and cannot go back.
    special_order: bool,
    /// Labour operations that come with one of it. Absent, what usually fits a device of its function.
    #[serde(skip_serializing_if = "Option::is_none")]
    labour: Option<Vec<LabourUse>>,
    /// List prices over time; empty when the shop makes its price otherwise.
    list_prices: Vec<ListPrice>,
    /// Whether it has left the catalogue: it can be read but no longer quoted.
    retired: bool,
}

impl From<Item> for ItemForSale {
    fn from(item: Item) -> Self {
        let Item {
            sku,
            description,
            category,
            attributes,
            selling_unit,
            buying_unit: _,
            buying_quantity: _,
            minimum_order: _,
            order_multiple: _,
            tax_class,
            lead_time_days,
            special_order,
            labour,
            prices,
            supplier: _,
            retired,
        } = item;
        let list = prices.into_iter().filter(|price| price.kind == PriceKind::List);
        let list_prices = list
            .map(|Price { kind: _, valid_from, minimum_quantity, amount }| ListPrice {
                valid_from,
                minimum_quantity,
                amount,
            })
            .collect();
        ItemForSale {
            sku,
            description,
            category,
            attributes,
            selling_unit,
            tax_class,
            lead_time_days,
            special_order,
            labour,
            list_prices,
            retired,
        }
    }
}

page_of!(ItemPage, ItemRow, item: Item);
page_of!(ItemForSalePage, ItemForSaleRow, item: ItemForSale);

/// An item in the form that the asking role reads.
#[derive(Serialize, ToSchema)]
#[serde(untagged)]
pub enum ItemByRole {
    Whole(Item),
    ForSale(ItemForSale),
}

impl ItemByRole {
    /// The form for a role.
    pub fn new(stored: Stored<Item>, role: Role) -> Stored<Self> {
        let whole = access::sees_cost(role);
        stored.map(|item| if whole { ItemByRole::Whole(item) } else { ItemByRole::ForSale(item.into()) })
    }
}

/// A page of the list of items in the form that the asking role reads.
#[derive(Serialize, ToSchema)]
#[serde(untagged)]
pub enum ItemPageByRole {
    Whole(ItemPage),
    ForSale(ItemForSalePage),
}

impl ItemPageByRole {
    /// The form for a role.
    pub fn new(rows: Vec<Stored<Item>>, next: Option<String>, role: Role) -> Self {
        if access::sees_cost(role) {
            let row = |stored: Stored<Item>| {
                let sku = stored.value.sku.clone();
                ItemRow::new(PATH, sku.as_str(), stored)
            };
            ItemPageByRole::Whole(ItemPage { rows: rows.into_iter().map(row).collect(), next })
        } else {
            let row = |stored: Stored<Item>| {
                let sku = stored.value.sku.clone();
                ItemForSaleRow::new(PATH, sku.as_str(), stored.map(ItemForSale::from))
            };
            ItemPageByRole::ForSale(ItemForSalePage { rows: rows.into_iter().map(row).collect(), next })
        }
    }
}
